// Holds files open as a spreadsheet program does, until its standard input ends: nobody may write, rename or remove them.
#include <stdio.h>
#include <windows.h>

int wmain(int count, wchar_t **names) {
  for (int at = 1; at < count; at++) {
    HANDLE file = CreateFileW(names[at], GENERIC_READ, FILE_SHARE_READ, NULL, OPEN_EXISTING, 0, NULL);
    if (file == INVALID_HANDLE_VALUE) return 1;
  }
  puts("held");
  fflush(stdout);
  while (getchar() != EOF) {}
  return 0;
}
