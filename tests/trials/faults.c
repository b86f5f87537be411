/* Calls of the C library that fail, to see what a program makes of it:

       cc -shared -fPIC -o faults.so faults.c -ldl
       FAULT_KIND=enospc-write FAULT_AT=7 FAULT_UNDER=/folder LD_PRELOAD=./faults.so PROGRAM ...

   Only regular files under FAULT_UNDER are concerned. FAULT_AT is the call that fails, counted from 1; 0 is every call, which only the
   kinds `short-*` and `eintr-*` survive (every second call is interrupted). FAULT_COUNT names a file that gets the number of calls. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/uio.h>
#include <unistd.h>

static unsigned long calls;

static int under(const char *path) {
    const char *folder = getenv("FAULT_UNDER");
    return folder != NULL && strncmp(path, folder, strlen(folder)) == 0;
}

static int is_ours(int file) {
    struct stat state;
    char link[64], path[4096];
    if (fstat(file, &state) != 0 || !S_ISREG(state.st_mode)) return 0;
    snprintf(link, sizeof link, "/proc/self/fd/%d", file);
    ssize_t length = readlink(link, path, sizeof path - 1);
    if (length < 0) return 0;
    path[length] = 0;
    return under(path);
}

/* Whether this call is one of the kind's, and the one that fails. */
static int fails(const char *kind) {
    const char *wanted = getenv("FAULT_KIND"), *at = getenv("FAULT_AT");
    if (wanted == NULL || strcmp(wanted, kind) != 0) return 0;
    unsigned long own = __atomic_add_fetch(&calls, 1, __ATOMIC_SEQ_CST);
    unsigned long place = at == NULL ? 0 : strtoul(at, NULL, 10);
    if (place != 0) return own == place;
    return strncmp(kind, "eintr", 5) != 0 || own % 2 == 1;
}

__attribute__((destructor)) static void tell(void) {
    const char *path = getenv("FAULT_COUNT");
    if (path == NULL) return;
    unsetenv("FAULT_KIND");
    FILE *out = fopen(path, "w");
    if (out == NULL) return;
    fprintf(out, "%lu\n", calls);
    fclose(out);
}

#define REAL(result, name, ...) \
    static result (*real)(__VA_ARGS__); \
    if (real == NULL) real = (result(*)(__VA_ARGS__))dlsym(RTLD_NEXT, name)

static size_t reading(int file, size_t size, int *fault) {
    *fault = 0;
    if (!is_ours(file)) return size;
    if (fails("eintr-read")) *fault = EINTR;
    if (fails("eio-read")) *fault = EIO;
    return size > 1 && fails("short-read") ? 1 + size / 7 % 13 : size;
}

static size_t writing(int file, size_t size, int *fault) {
    *fault = 0;
    if (!is_ours(file)) return size;
    if (fails("eintr-write")) *fault = EINTR;
    if (fails("eio-write")) *fault = EIO;
    if (fails("enospc-write")) *fault = ENOSPC;
    return size > 1 && fails("short-write") ? 1 + size / 2 : size;
}

#define GIVE_UP(fault) if (fault) { errno = fault; return -1; }

ssize_t read(int file, void *to, size_t size) {
    REAL(ssize_t, "read", int, void *, size_t);
    int fault;
    size = reading(file, size, &fault);
    GIVE_UP(fault)
    return real(file, to, size);
}

ssize_t pread64(int file, void *to, size_t size, off_t at) {
    REAL(ssize_t, "pread64", int, void *, size_t, off_t);
    int fault;
    size = reading(file, size, &fault);
    GIVE_UP(fault)
    return real(file, to, size, at);
}

ssize_t write(int file, const void *from, size_t size) {
    REAL(ssize_t, "write", int, const void *, size_t);
    int fault;
    size = writing(file, size, &fault);
    GIVE_UP(fault)
    return real(file, from, size);
}

ssize_t writev(int file, const struct iovec *parts, int count) {
    REAL(ssize_t, "writev", int, const struct iovec *, int);
    if (count < 1 || !is_ours(file)) return real(file, parts, count);
    return write(file, parts[0].iov_base, parts[0].iov_len);
}

/* Copies within the kernel are not there: the program reads and writes, or fails. */
ssize_t copy_file_range(int from, off_t *from_at, int to, off_t *to_at, size_t size, unsigned flags) {
    (void)from, (void)from_at, (void)to, (void)to_at, (void)size, (void)flags;
    errno = ENOSYS;
    return -1;
}

ssize_t sendfile64(int to, int from, off_t *at, size_t size) {
    (void)to, (void)from, (void)at, (void)size;
    errno = ENOSYS;
    return -1;
}

#define ONE_FILE(name, kind) \
    int name(int file) { \
        REAL(int, #name, int); \
        int fault = is_ours(file) && fails(kind) ? EIO : 0; \
        GIVE_UP(fault) \
        return real(file); \
    }
ONE_FILE(fsync, "fsync")
ONE_FILE(fdatasync, "fsync")

int rename(const char *from, const char *to) {
    REAL(int, "rename", const char *, const char *);
    int fault = under(to) && fails("rename") ? EACCES : 0;
    GIVE_UP(fault)
    return real(from, to);
}

int open64(const char *path, int flags, ...) {
    REAL(int, "open64", const char *, int, ...);
    va_list more;
    va_start(more, flags);
    unsigned mode = va_arg(more, unsigned);
    va_end(more);
    int writes = (flags & 3) != 0;
    int fault = writes && under(path) && fails("create") ? EMFILE : 0;
    GIVE_UP(fault)
    return real(path, flags, mode);
}

int mkdir(const char *path, mode_t mode) {
    REAL(int, "mkdir", const char *, mode_t);
    int fault = under(path) && fails("mkdir") ? ENOSPC : 0;
    GIVE_UP(fault)
    return real(path, mode);
}
