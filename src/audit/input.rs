//! One file of a bank, or what stands for one: how it is opened.

use super::Spool;
use crate::bank::given::Given;
use crate::bank::{self, Format, OpenError, Settings as BankSettings, Source};
use crate::source::{Encoding, Mark, Marker};
use std::io::{self, Read};
use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

/// One file of a bank: its name in reports and how to open it.
pub struct Input {
    /// The name in reports.
    pub name: String,
    /// Its format.
    pub format: Format,
    /// Its encoding, where that is not the one of the settings.
    pub encoding: Option<Encoding>,
    /// Opens it.
    pub content: Content,
}

/// Where the bytes of an input come from.
pub enum Content {
    /// A file.
    Path(PathBuf),
    /// Standard input.
    Stdin(Spool),
    /// Built into the program.
    BuiltIn(&'static [u8]),
    /// Held in memory.
    Held(Arc<[u8]>),
    /// Rows that a program gives.
    Given(Arc<dyn Given>),
}

impl Input {
    pub(super) fn open(
        &self,
        settings: &Arc<BankSettings>,
        marker: Option<&Shared>,
        read: Option<&Arc<AtomicU64>>,
    ) -> Result<Source, OpenError> {
        let mut reader: Box<dyn Read + Send> = match &self.content {
            Content::Path(path) => Box::new(std::fs::File::open(path)?),
            Content::Stdin(spool) => spool.open(io::stdin())?,
            Content::BuiltIn(bytes) => Box::new(*bytes),
            Content::Held(bytes) => Box::new(io::Cursor::new(Arc::clone(bytes))),
            Content::Given(given) => return Ok(bank::open_given(given.begin()?, settings)),
        };
        if let Some(read) = read {
            reader = Box::new(Counted { reader, read: Arc::clone(read) });
        }
        if let Some(marker) = marker {
            reader = Box::new(Marked { reader, marker: Arc::clone(marker) });
        }
        let own = self.encoding.filter(|own| settings.encoding != Some(*own));
        let own = own.map(|own| Arc::new(BankSettings { encoding: Some(own), ..BankSettings::clone(settings) }));
        bank::open_again(&self.name, self.format, reader, self.again(), own.as_ref().unwrap_or(settings))
    }

    /// The mark of the whole file: a document that refers ahead, or one with an end that cannot be read, was not read through
    /// at one go.
    pub(super) fn whole_mark(&self, read: Mark) -> Mark {
        match &self.content {
            Content::Path(path)
                if std::fs::metadata(path).is_ok_and(|file| file.is_file() && file.len() != read.bytes()) =>
            {
                let mut marker = Marker::default();
                let whole = std::fs::File::open(path).and_then(|mut file| io::copy(&mut file, &mut marker));
                whole.map_or(read, |_| marker.mark())
            }
            Content::BuiltIn(bytes) => Mark::of(bytes),
            Content::Held(bytes) => Mark::of(bytes),
            _ => read,
        }
    }

    /// What the system says of the file: its length and when it was last written.
    pub(super) fn state(&self) -> Option<(u64, std::time::SystemTime)> {
        match &self.content {
            Content::Path(path) => std::fs::metadata(path)
                .ok()
                .filter(std::fs::Metadata::is_file)
                .and_then(|file| Some((file.len(), file.modified().ok()?))),
            Content::Stdin(_) | Content::BuiltIn(_) | Content::Held(_) | Content::Given(_) => None,
        }
    }

    /// Whether the input can be audited once more.
    pub(super) fn stays(&self) -> bool {
        match &self.content {
            Content::Path(path) => path.is_file(),
            Content::Stdin(spool) => spool.is_whole(),
            Content::BuiltIn(_) | Content::Held(_) => true,
            Content::Given(given) => given.stays(),
        }
    }

    /// Opens the input once more, where it can be.
    pub(super) fn again(&self) -> Option<bank::Again> {
        match &self.content {
            // A pipe can be read once.
            Content::Path(path) if path.is_file() => {
                let path = path.clone();
                Some(Box::new(move || Ok(Box::new(std::fs::File::open(&path)?) as _)))
            }
            Content::BuiltIn(bytes) => {
                let bytes = *bytes;
                Some(Box::new(move || Ok(Box::new(io::Cursor::new(bytes)) as _)))
            }
            Content::Held(bytes) => {
                let bytes = Arc::clone(bytes);
                Some(Box::new(move || Ok(Box::new(io::Cursor::new(Arc::clone(&bytes))) as _)))
            }
            Content::Path(_) | Content::Stdin(_) | Content::Given(_) => None,
        }
    }
}

/// What the mark of a file is taken by, while it is read.
pub(super) type Shared = Arc<Mutex<Marker>>;

/// Counts what is read.
struct Counted<R> {
    reader: R,
    read: Arc<AtomicU64>,
}

impl<R: Read> Read for Counted<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.reader.read(buffer)?;
        self.read.fetch_add(count as u64, Ordering::Relaxed);
        Ok(count)
    }
}

/// Takes the mark of what is read.
struct Marked<R> {
    reader: R,
    marker: Shared,
}

impl<R: Read> Read for Marked<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.reader.read(buffer)?;
        // A lock can only be poisoned by a panic, and there is none.
        if let Ok(mut marker) = self.marker.lock() {
            marker.take(buffer.get(..count).unwrap_or_default());
        }
        Ok(count)
    }
}
