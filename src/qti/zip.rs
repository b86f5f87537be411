//! Writing a zip file: the same bytes for the same content, on any day (PKWARE, APPNOTE.TXT 6.3, sections 4.3.7 to 4.3.16).

use flate2::write::DeflateEncoder;
use flate2::{Compression, Crc};
use std::io::{self, Write};

/// Writes entries one after the other.
pub struct ZipWriter<W: Write> {
    out: W,
    written: u64,
    directory: Vec<u8>,
    count: u16,
}

/// The day from which such files count: 1 January 1980. A file that names the hour at which it was made is never twice the same.
const DAY: u16 = 1 << 5 | 1;
/// Names are UTF-8.
const UTF8: u16 = 1 << 11;
/// A plain file that its owner may write and all may read.
const MODE: u32 = 0o100_644 << 16;
/// Versions: 2.0 is needed; made by Unix.
const NEEDED: u16 = 20;
const MADE_BY: u16 = 0x0300 + NEEDED;

impl<W: Write> ZipWriter<W> {
    /// Begins a file.
    pub fn new(out: W) -> Self {
        Self { out, written: 0, directory: Vec::new(), count: 0 }
    }

    /// Writes an entry.
    ///
    /// # Errors
    /// Writing fails, or the file cannot hold any more.
    pub fn entry(&mut self, name: &str, bytes: &[u8]) -> io::Result<()> {
        self.written_entry(name, bytes, false)
    }

    /// Writes an entry as it is, not packed.
    ///
    /// # Errors
    /// Writing fails, or the file cannot hold any more.
    pub fn stored(&mut self, name: &str, bytes: &[u8]) -> io::Result<()> {
        self.written_entry(name, bytes, true)
    }

    fn written_entry(&mut self, name: &str, bytes: &[u8], as_it_is: bool) -> io::Result<()> {
        let full = || io::Error::other("the package would hold more than a zip file can: split the bank");
        let narrow = |value: u64| u32::try_from(value).map_err(|_| full());
        self.count = self.count.checked_add(1).filter(|count| *count < u16::MAX).ok_or_else(full)?;
        let mut encoder = DeflateEncoder::new(Vec::new(), Compression::new(9));
        encoder.write_all(bytes)?;
        let deflated = encoder.finish()?;
        let (method, packed) =
            if deflated.len() < bytes.len() && !as_it_is { (8_u16, &deflated[..]) } else { (0, bytes) };
        let mut crc = Crc::new();
        crc.update(bytes);
        let length = u16::try_from(name.len()).map_err(|_| full())?;
        let mut shared = Vec::with_capacity(30);
        for half in [NEEDED, UTF8, method, 0, DAY] {
            shared.extend(half.to_le_bytes());
        }
        for whole in [crc.sum(), narrow(packed.len() as u64)?, narrow(bytes.len() as u64)?] {
            shared.extend(whole.to_le_bytes());
        }
        shared.extend(length.to_le_bytes());
        shared.extend([0, 0]);
        let offset = narrow(self.written)?;
        self.put(b"PK\x03\x04")?;
        self.put(&shared)?;
        self.put(name.as_bytes())?;
        self.put(packed)?;
        self.directory.extend(b"PK\x01\x02");
        self.directory.extend(MADE_BY.to_le_bytes());
        self.directory.extend(&shared);
        // No comment, the first disk, no inner attributes.
        self.directory.extend([0; 6]);
        self.directory.extend(MODE.to_le_bytes());
        self.directory.extend(offset.to_le_bytes());
        self.directory.extend(name.as_bytes());
        Ok(())
    }

    fn put(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.written += bytes.len() as u64;
        self.out.write_all(bytes)
    }

    /// Writes the directory.
    ///
    /// # Errors
    /// Writing fails, or the file is longer than a zip file can be.
    pub fn finish(mut self) -> io::Result<W> {
        let full = |_| io::Error::other("the package would be longer than a zip file can be: split the bank");
        let start = u32::try_from(self.written).map_err(full)?;
        let length = u32::try_from(self.directory.len()).map_err(full)?;
        let directory = std::mem::take(&mut self.directory);
        self.put(&directory)?;
        let mut end = Vec::from(*b"PK\x05\x06\0\0\0\0");
        for _ in 0..2 {
            end.extend(self.count.to_le_bytes());
        }
        end.extend(length.to_le_bytes());
        end.extend(start.to_le_bytes());
        end.extend([0, 0]);
        self.put(&end)?;
        self.out.flush()?;
        Ok(self.out)
    }
}
