//! Files that appear whole or not at all.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// A file that is written under a temporary name beside its own and gets its own when it is whole.
#[derive(Debug)]
pub struct WholeFile {
    path: PathBuf,
    temporary: PathBuf,
    writer: Option<BufWriter<File>>,
}

impl WholeFile {
    /// Begins a file.
    ///
    /// # Errors
    /// The temporary file cannot be created.
    pub fn create(path: &Path) -> io::Result<Self> {
        let mut name = path.file_name().unwrap_or_default().to_os_string();
        name.push(format!(".{}.tmp", std::process::id()));
        let temporary = path.with_file_name(name);
        let writer = Some(BufWriter::with_capacity(1 << 16, File::create(&temporary)?));
        Ok(Self { path: path.to_owned(), temporary, writer })
    }

    /// A file that is finished already, to stand where a finished one was.
    #[must_use]
    pub fn closed() -> Self {
        Self { path: PathBuf::new(), temporary: PathBuf::new(), writer: None }
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
            file.sync_all()?;
            fs::rename(&self.temporary, &self.path)?;
        }
        Ok(())
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
            let _ = fs::remove_file(&self.temporary);
        }
    }
}
