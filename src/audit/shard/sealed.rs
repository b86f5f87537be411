//! The lines of a partial audit, each sealed with a digest of all that was said up to it.
//!
//! A line is a JSON array of two: the digest, and what it says. The digest is taken over the digest of the line before and
//! the bytes of this line, so that a changed character, a lost line and lines in another order are all noticed where they
//! stand. It guards against damage on disks and networks, not against people.

use super::Line;
use crate::source::Marker;
use std::io::{self, Write};

/// Characters of a digest as it is written.
const DIGITS: usize = 32;

/// The digest of the lines so far.
#[derive(Debug, Default)]
pub(super) struct Seal(String);

/// Why a line is not believed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Broken {
    /// It has no digest, as lines had in earlier versions.
    Unsealed,
    /// Its digest is not that of what it says behind what was said before.
    Damaged,
}

impl Seal {
    /// The digest of a line behind the lines so far.
    fn of(&self, said: &[u8]) -> String {
        let mut marker = Marker::default();
        marker.take(self.0.as_bytes());
        marker.take(said);
        marker.mark().to_string()
    }

    /// Opens a sealed line: gives the JSON text of what it says.
    pub(super) fn open<'l>(&mut self, line: &'l str) -> Result<&'l str, Broken> {
        if line.starts_with("{\"manifest\"") {
            return Err(Broken::Unsealed);
        }
        let body = line.strip_prefix("[\"").and_then(|rest| rest.strip_suffix(']'));
        let (digest, rest) = body.and_then(|body| body.split_at_checked(DIGITS)).ok_or(Broken::Damaged)?;
        let said = rest.strip_prefix("\",").ok_or(Broken::Damaged)?;
        let own = self.of(said.as_bytes());
        if own != digest {
            return Err(Broken::Damaged);
        }
        self.0 = own;
        Ok(said)
    }
}

/// Writes sealed lines.
pub(super) struct SealedLines<'o> {
    out: &'o mut (dyn Write + Send),
    seal: Seal,
    said: Vec<u8>,
}

impl<'o> SealedLines<'o> {
    /// Begins a partial audit.
    pub(super) fn new(out: &'o mut (dyn Write + Send)) -> Self {
        Self { out, seal: Seal::default(), said: Vec::new() }
    }

    /// Writes one line.
    pub(super) fn write(&mut self, line: &Line) -> io::Result<()> {
        self.said.clear();
        serde_json::to_writer(&mut self.said, line)?;
        self.seal.0 = self.seal.of(&self.said);
        write!(self.out, "[\"{}\",", self.seal.0)?;
        self.out.write_all(&self.said)?;
        self.out.write_all(b"]\n")
    }
}
