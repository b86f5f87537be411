//! Files that appear whole or not at all.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::thread::{Builder, JoinHandle};

/// A file that is written under a temporary name beside its own and gets its own when it is whole.
///
/// A link stays one: the file that it leads to is replaced. What stands for no file, a device or a pipe, is written as it is.
/// A file that is replaced hands down who may read it.
#[derive(Debug)]
pub struct WholeFile {
    path: PathBuf,
    /// Where it is written until it is whole; `None` where it is written in its place.
    temporary: Option<PathBuf>,
    writer: Option<BufWriter<File>>,
    behind: Behind,
}

/// Brings to the disk what is written while more is written, so that little is left to wait for at the end.
#[derive(Debug, Default)]
struct Behind {
    /// Bytes since it began last.
    written: usize,
    running: Option<JoinHandle<io::Result<()>>>,
}

/// Bytes that are worth a visit to the disk.
const STRETCH: usize = 8 << 20;

impl Behind {
    /// Notes that bytes were written.
    fn follow(&mut self, bytes: usize, file: &File) -> io::Result<()> {
        self.written += bytes;
        if self.written < STRETCH || self.running.as_ref().is_some_and(|running| !running.is_finished()) {
            return Ok(());
        }
        self.written = 0;
        self.wait()?;
        // Where neither another handle nor a thread is to be had, all of it waits for the end.
        let Ok(file) = file.try_clone() else { return Ok(()) };
        self.running = Builder::new().name("disk".to_owned()).spawn(move || file.sync_data()).ok();
        Ok(())
    }

    /// Waits until it has come to an end. The disk tells of a failure once only, so that it must not be lost.
    fn wait(&mut self) -> io::Result<()> {
        let Some(running) = self.running.take() else { return Ok(()) };
        running.join().unwrap_or_else(|_| Err(io::Error::other("the disk could not be waited for")))
    }
}

impl WholeFile {
    /// Begins a file.
    ///
    /// # Errors
    /// The temporary file cannot be created, or a link leads nowhere.
    pub fn create(path: &Path) -> io::Result<Self> {
        let is_link = fs::symlink_metadata(path).is_ok_and(|own| own.is_symlink());
        let path = if is_link { fs::canonicalize(path)? } else { path.to_owned() };
        let before = fs::metadata(&path).ok();
        let stands_for_no_file = before.as_ref().is_some_and(|own| !own.is_file() && !own.is_dir());
        let (file, temporary) = if stands_for_no_file {
            (OpenOptions::new().write(true).open(&path)?, None)
        } else {
            let mut name = path.file_name().unwrap_or_default().to_os_string();
            name.push(format!(".{}.tmp", std::process::id()));
            let temporary = path.with_file_name(name);
            (create_new(&temporary)?, Some(temporary))
        };
        let permissions = before.filter(fs::Metadata::is_file).map(|own| own.permissions());
        let whole =
            Self { path, temporary, writer: Some(BufWriter::with_capacity(1 << 16, file)), behind: Behind::default() };
        if let (Some(permissions), Some(writer)) = (permissions, &whole.writer) {
            writer.get_ref().set_permissions(permissions)?;
        }
        Ok(whole)
    }

    /// Standard output as such a file: it is written as it is.
    ///
    /// # Errors
    /// The system gives no handle of it.
    pub fn standard_output() -> io::Result<Self> {
        #[cfg(unix)]
        let file = File::from(std::os::fd::AsFd::as_fd(&io::stdout()).try_clone_to_owned()?);
        #[cfg(windows)]
        let file = File::from(std::os::windows::io::AsHandle::as_handle(&io::stdout()).try_clone_to_owned()?);
        let writer = Some(BufWriter::with_capacity(1 << 16, file));
        Ok(Self { path: PathBuf::from("-"), temporary: None, writer, behind: Behind::default() })
    }

    /// The path that the file will have.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Makes the file whole: flushed, on the disk, under its own name.
    ///
    /// # Errors
    /// The disk refuses; the file under the final name is as it was.
    pub fn finish(&mut self) -> io::Result<()> {
        if let Some(writer) = self.writer.take() {
            let file = writer.into_inner().map_err(io::IntoInnerError::into_error)?;
            if let Some(temporary) = &self.temporary {
                self.behind.wait()?;
                file.sync_all()?;
                fs::rename(temporary, &self.path)?;
            }
        }
        Ok(())
    }
}

/// Creates a file that is not there. What has its name is left over from a process of the same number, or somebody else's link:
/// it is removed, never written through.
fn create_new(path: &Path) -> io::Result<File> {
    let create = || OpenOptions::new().write(true).create_new(true).open(path);
    match create() {
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
            fs::remove_file(path)?;
            create()
        }
        other => other,
    }
}

impl Write for WholeFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match &mut self.writer {
            Some(writer) => {
                let written = writer.write(bytes)?;
                if self.temporary.is_some() {
                    self.behind.follow(written, writer.get_ref())?;
                }
                Ok(written)
            }
            None if bytes.is_empty() => Ok(0),
            None => Err(io::Error::other("the file is finished")),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        self.writer.as_mut().map_or(Ok(()), Write::flush)
    }
}

impl Drop for WholeFile {
    fn drop(&mut self) {
        if self.writer.take().is_some() {
            // Best effort: a leftover temporary file is no report.
            let _ = self.temporary.as_ref().map(fs::remove_file);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{STRETCH, WholeFile};
    use std::fs;
    use std::io::Write;

    /// So large that it is brought to the disk several times while it is written; nothing is lost, and nothing appears before the end.
    #[test]
    fn a_large_file_is_whole() -> std::io::Result<()> {
        let folder = std::env::temp_dir().join(format!("keyassay-large-{}", std::process::id()));
        fs::create_dir_all(&folder)?;
        let path = folder.join("large");
        let mut file = WholeFile::create(&path)?;
        let line = |number: usize| format!("{number:07}\n").repeat(512);
        let lines = 3 * STRETCH / line(0).len();
        (0..lines).try_for_each(|number| file.write_all(line(number).as_bytes()))?;
        assert!(!path.exists());
        file.finish()?;
        let whole: String = (0..lines).map(line).collect();
        assert!(fs::read_to_string(&path)? == whole);
        assert_eq!(fs::read_dir(&folder)?.count(), 1);
        fs::remove_dir_all(&folder)
    }
}
