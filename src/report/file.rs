//! Files that appear whole or not at all.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

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
        let whole = Self { path, temporary, writer: Some(BufWriter::with_capacity(1 << 16, file)) };
        if let (Some(permissions), Some(writer)) = (permissions, &whole.writer) {
            writer.get_ref().set_permissions(permissions)?;
        }
        Ok(whole)
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
            Some(writer) => writer.write(bytes),
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
