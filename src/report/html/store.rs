//! Parts of pages that wait on the disk until the totals are known.

use std::fs::{self, File};
use std::io::{self, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// A temporary file. It has no name where the system lets it go on without one, so that a killed run leaves nothing.
#[derive(Debug)]
pub(super) struct Store {
    file: BufWriter<File>,
    path: PathBuf,
    end: u64,
}

/// A part of the store.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stretch {
    start: u64,
    length: u64,
}

impl Store {
    pub(super) fn create(folder: &Path) -> io::Result<Self> {
        let path = folder.join(format!("audit.html.parts.{}.tmp", std::process::id()));
        let file = File::options().read(true).write(true).create(true).truncate(true).open(&path)?;
        // Elsewhere than on Unix this fails, and the file goes when the store does.
        let _ = fs::remove_file(&path);
        Ok(Self { file: BufWriter::with_capacity(1 << 16, file), path, end: 0 })
    }

    /// Adds text.
    pub(super) fn append(&mut self, text: &str) -> io::Result<Stretch> {
        self.file.write_all(text.as_bytes())?;
        let stretch = Stretch { start: self.end, length: text.len() as u64 };
        self.end += stretch.length;
        Ok(stretch)
    }

    /// Reads a part. Nothing can be added afterwards.
    pub(super) fn read(&mut self, stretch: Stretch) -> io::Result<String> {
        let mut bytes = Vec::new();
        self.copy(stretch, &mut bytes)?;
        String::from_utf8(bytes).map_err(io::Error::other)
    }

    /// Copies a part. Nothing can be added afterwards.
    pub(super) fn copy(&mut self, stretch: Stretch, out: &mut impl Write) -> io::Result<()> {
        self.file.flush()?;
        let file = self.file.get_mut();
        file.seek(SeekFrom::Start(stretch.start))?;
        io::copy(&mut file.take(stretch.length), out)?;
        Ok(())
    }
}

impl Drop for Store {
    fn drop(&mut self) {
        let _ = fs::remove_file(&self.path);
    }
}
