//! Writing a zip file: the same bytes for the same content, on any day (PKWARE, APPNOTE.TXT 6.3, sections 4.3.7 to 4.3.16).

use flate2::write::DeflateEncoder;
use flate2::{Compression, Crc};
use std::io::{self, Write};

/// Writes entries one after the other.
pub struct ZipWriter<W: Write> {
    out: Counted<W>,
    directory: Vec<u8>,
    count: u16,
}

/// An entry that is written piece by piece: no more than a piece of it is held in memory.
pub struct ZipEntry<W: Write> {
    encoder: DeflateEncoder<Counted<W>>,
    crc: Crc,
    name: String,
    offset: u64,
    /// What is written of the file otherwise.
    directory: Vec<u8>,
    count: u16,
}

/// An output that knows how much it was given.
struct Counted<W> {
    out: W,
    written: u64,
}

impl<W: Write> Write for Counted<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.out.write(bytes)?;
        self.written += written as u64;
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// The day from which such files count: 1 January 1980. A file that names the hour at which it was made is never twice the same.
const DAY: u16 = 1 << 5 | 1;
/// Names are UTF-8.
const UTF8: u16 = 1 << 11;
/// Sum and sizes stand behind the entry.
const BEHIND: u16 = 1 << 3;
/// Packed by deflate.
const DEFLATED: u16 = 8;
/// A plain file that its owner may write and all may read.
const MODE: u32 = 0o100_644 << 16;
/// Versions: 2.0 is needed; made by Unix.
const NEEDED: u16 = 20;
const MADE_BY: u16 = 0x0300 + NEEDED;

impl<W: Write> ZipWriter<W> {
    /// Begins a file.
    pub fn new(out: W) -> Self {
        Self { out: Counted { out, written: 0 }, directory: Vec::new(), count: 0 }
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

    /// Begins an entry that is written piece by piece.
    ///
    /// # Errors
    /// Writing fails, or the file cannot hold any more.
    pub fn begin(mut self, name: &str) -> io::Result<ZipEntry<W>> {
        self.count = more(self.count)?;
        let offset = self.out.written;
        let head = Head { flags: UTF8 | BEHIND, method: DEFLATED, crc: 0, packed: 0, length: 0 };
        self.local(&head, name)?;
        let Self { out, directory, count } = self;
        let encoder = DeflateEncoder::new(out, Compression::new(6));
        Ok(ZipEntry { encoder, crc: Crc::new(), name: name.to_owned(), offset, directory, count })
    }

    fn written_entry(&mut self, name: &str, bytes: &[u8], as_it_is: bool) -> io::Result<()> {
        self.count = more(self.count)?;
        let mut encoder = DeflateEncoder::new(Vec::new(), Compression::new(9));
        encoder.write_all(bytes)?;
        let deflated = encoder.finish()?;
        let (method, packed) =
            if deflated.len() < bytes.len() && !as_it_is { (DEFLATED, &deflated[..]) } else { (0, bytes) };
        let mut crc = Crc::new();
        crc.update(bytes);
        let (length, offset) = (narrow(bytes.len() as u64)?, self.out.written);
        let head = Head { flags: UTF8, method, crc: crc.sum(), packed: narrow(packed.len() as u64)?, length };
        self.local(&head, name)?;
        self.out.write_all(packed)?;
        head.list(&mut self.directory, name, offset)
    }

    /// Writes what stands before an entry.
    fn local(&mut self, head: &Head, name: &str) -> io::Result<()> {
        self.out.write_all(b"PK\x03\x04")?;
        self.out.write_all(&head.bytes(name)?)?;
        self.out.write_all(name.as_bytes())
    }

    /// Writes the directory.
    ///
    /// # Errors
    /// Writing fails, or the file is longer than a zip file can be.
    pub fn finish(mut self) -> io::Result<W> {
        let start = narrow(self.out.written)?;
        let length = narrow(self.directory.len() as u64)?;
        self.out.write_all(&self.directory)?;
        let mut end = Vec::from(*b"PK\x05\x06\0\0\0\0");
        for _ in 0..2 {
            end.extend(self.count.to_le_bytes());
        }
        end.extend(length.to_le_bytes());
        end.extend(start.to_le_bytes());
        end.extend([0, 0]);
        self.out.write_all(&end)?;
        self.out.flush()?;
        Ok(self.out.out)
    }
}

impl<W: Write> Write for ZipEntry<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.encoder.write(bytes)?;
        self.crc.update(bytes.get(..written).unwrap_or_default());
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.encoder.flush()
    }
}

impl<W: Write> ZipEntry<W> {
    /// Bytes that were written into it, before packing.
    #[must_use]
    pub fn length(&self) -> u64 {
        self.encoder.total_in()
    }

    /// Ends the entry.
    ///
    /// # Errors
    /// Writing fails, or the file cannot hold as much.
    pub fn end(mut self) -> io::Result<ZipWriter<W>> {
        self.encoder.try_finish()?;
        let (packed, length) = (narrow(self.encoder.total_out())?, narrow(self.encoder.total_in())?);
        let head = Head { flags: UTF8 | BEHIND, method: DEFLATED, crc: self.crc.sum(), packed, length };
        let mut out = self.encoder.finish()?;
        out.write_all(b"PK\x07\x08")?;
        for whole in [head.crc, packed, length] {
            out.write_all(&whole.to_le_bytes())?;
        }
        head.list(&mut self.directory, &self.name, self.offset)?;
        Ok(ZipWriter { out, directory: self.directory, count: self.count })
    }
}

/// What a file says of an entry, before it and in its directory.
struct Head {
    flags: u16,
    method: u16,
    crc: u32,
    packed: u32,
    length: u32,
}

impl Head {
    fn bytes(&self, name: &str) -> io::Result<Vec<u8>> {
        let mut bytes = Vec::with_capacity(26);
        for half in [NEEDED, self.flags, self.method, 0, DAY] {
            bytes.extend(half.to_le_bytes());
        }
        for whole in [self.crc, self.packed, self.length] {
            bytes.extend(whole.to_le_bytes());
        }
        bytes.extend(u16::try_from(name.len()).map_err(|_| full())?.to_le_bytes());
        bytes.extend([0, 0]);
        Ok(bytes)
    }

    /// Adds the entry to the directory.
    fn list(&self, directory: &mut Vec<u8>, name: &str, offset: u64) -> io::Result<()> {
        directory.extend(b"PK\x01\x02");
        directory.extend(MADE_BY.to_le_bytes());
        directory.extend(self.bytes(name)?);
        // No comment, the first disk, no inner attributes.
        directory.extend([0; 6]);
        directory.extend(MODE.to_le_bytes());
        directory.extend(narrow(offset)?.to_le_bytes());
        directory.extend(name.as_bytes());
        Ok(())
    }
}

fn full() -> io::Error {
    io::Error::other("the file would hold more than a zip file can: split the bank")
}

fn narrow(value: u64) -> io::Result<u32> {
    u32::try_from(value).map_err(|_| full())
}

/// One entry more.
fn more(count: u16) -> io::Result<u16> {
    count.checked_add(1).filter(|count| *count < u16::MAX).ok_or_else(full)
}
