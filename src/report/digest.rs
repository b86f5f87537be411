//! The digest of an `audit.json`: taken over what the file says, not over how it is laid out, so that a tool may indent it.
//!
//! A finding counts as its JSON without spaces and with its keys in alphabetical order, each on a line, in the order of the
//! file; everything else but the digest itself follows as one object of the same kind. It guards against damage, not against people.

use crate::source::Marker;
use serde::Serialize;
use serde_json::{Map, Value};
use std::io;

/// The key under which the digest stands.
pub const KEY: &str = "digest";

/// Takes what an `audit.json` says.
#[derive(Debug, Default)]
pub struct Content {
    marker: Marker,
    line: Vec<u8>,
}

impl Content {
    /// Takes the next finding, whose keys are in alphabetical order, and gives it as JSON.
    ///
    /// # Errors
    /// None in practice: it is written into memory.
    pub fn finding(&mut self, finding: &impl Serialize) -> io::Result<&[u8]> {
        self.take(finding)?;
        Ok(self.line.strip_suffix(b"\n").unwrap_or(&self.line))
    }

    /// Takes all other members, and gives the digest.
    ///
    /// # Errors
    /// None in practice: they are written into memory.
    pub fn digest(mut self, mut others: Map<String, Value>) -> io::Result<String> {
        others.remove(KEY);
        self.take(&Value::Object(others))?;
        Ok(self.marker.mark().to_string())
    }

    fn take(&mut self, value: &impl Serialize) -> io::Result<()> {
        self.line.clear();
        serde_json::to_writer(&mut self.line, value)?;
        self.line.push(b'\n');
        self.marker.take(&self.line);
        Ok(())
    }
}
