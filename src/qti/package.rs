//! Zipped content packages, from anywhere.
//!
//! Nothing is ever written to a disk, and only files that the manifest lists as items, or that an item names, are unpacked,
//! each as a stream within caps. What a package has that no honest one has is told entry by entry where the rest can still
//! be read, and refused as a whole where it cannot.

use super::directory::{self, Listed};
use super::manifest::{self, Manifest};
use super::paths;
use crate::limits::Limits;
use crate::xml::XmlProblem;
use flate2::{Crc, read::DeflateDecoder};
use rustc_hash::FxHashMap;
use std::io::{self, BufReader, Read, Seek, SeekFrom};

/// Bytes that can be read from any place.
pub trait Bytes: Read + Seek + Send {}

impl<T: Read + Seek + Send> Bytes for T {}

/// Opens the package once more.
type Again = Box<dyn Fn() -> io::Result<Box<dyn Bytes>> + Send>;

/// Why a package is not read at all.
#[derive(Debug, thiserror::Error)]
pub enum PackageError {
    /// The disk refuses.
    #[error(transparent)]
    Io(#[from] io::Error),
    /// It is no zip file, or one that ends early.
    #[error("it is no whole zip file: {0}")]
    Zip(&'static str),
    /// It lists more entries than it counts.
    #[error("its directory lists more entries than the {0} that it counts")]
    Count(u64),
    /// Entries share bytes of the file.
    #[error("the entries {0} and {1} overlap in the file, as they do in no honest package")]
    Overlap(String, String),
    /// A cap was met.
    #[error("it passes the limit `{0}` of {1}")]
    Limit(&'static str, u64),
    /// There is no manifest.
    #[error("it has no imsmanifest.xml at its top{0}")]
    NoManifest(String),
    /// The manifest cannot be read.
    #[error("its imsmanifest.xml cannot be read: {0}")]
    Manifest(String),
}

/// What is wrong with an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EntryFault {
    /// Its name.
    pub name: String,
    /// What is wrong.
    pub message: String,
}

/// Where an entry lies in the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    header: u64,
    packed: u64,
    size: u64,
    deflated: bool,
    checksum: u32,
}

/// An item of the package, or a file of items.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Resource {
    /// The file; the name as the manifest writes it where it leads nowhere.
    pub file: Result<String, String>,
    /// The drawings among its files and those of the resources that it depends on.
    pub companions: Vec<String>,
}

/// A package.
pub struct Package {
    again: Again,
    entries: FxHashMap<String, Result<Entry, &'static str>>,
    manifest: Manifest,
    /// Entries that are no part of an honest package.
    pub faults: Vec<EntryFault>,
    /// Bytes that may still be unpacked.
    left: u64,
}

/// Bytes that may be unpacked a second time: a companion of many items is read for each of them. A thousand items of one
/// companion of 100 kB take a fifth of it; a hostile package is read for a minute instead of for hours.
const AGAIN: u64 = 512 << 20;

/// The name of the manifest.
pub(super) const MANIFEST: &str = "imsmanifest.xml";

impl Package {
    /// Opens a package and reads its directory and manifest.
    ///
    /// # Errors
    /// It is not read at all.
    pub fn open(again: Again, limits: &Limits) -> Result<Self, PackageError> {
        let package = Self::of_any(again, limits)?;
        if package.has_manifest() { package.with_manifest(limits) } else { Err(package.no_manifest()) }
    }

    /// Whether it has a manifest, and is a content package.
    #[must_use]
    pub fn has_manifest(&self) -> bool {
        self.entries.contains_key(MANIFEST)
    }

    /// What to say where a content package was expected.
    #[must_use]
    pub fn no_manifest(&self) -> PackageError {
        PackageError::NoManifest(self.elsewhere())
    }

    /// Whether a manifest lies further down: the folder of a content package was zipped.
    #[must_use]
    pub fn has_manifest_below(&self) -> bool {
        self.entries.keys().any(|name| name.ends_with("/imsmanifest.xml"))
    }

    /// Reads the manifest of a content package.
    ///
    /// # Errors
    /// It cannot be read.
    pub fn with_manifest(mut self, limits: &Limits) -> Result<Self, PackageError> {
        let source = self.read(MANIFEST).map_err(PackageError::Manifest)?;
        self.manifest = Manifest::read(BufReader::new(source), limits)
            .map_err(|problem: XmlProblem| PackageError::Manifest(problem.to_string()))?;
        Ok(self)
    }

    /// Opens a zip file of any kind and reads its directory.
    ///
    /// # Errors
    /// It is not read at all.
    pub fn of_any(again: Again, limits: &Limits) -> Result<Self, PackageError> {
        let mut package = Self {
            entries: FxHashMap::default(),
            manifest: Manifest::default(),
            faults: Vec::new(),
            left: limits.zip_total_bytes,
            again,
        };
        package.read_directory(limits)?;
        Ok(package)
    }

    /// What opens the file once more.
    #[must_use]
    pub fn into_again(self) -> Box<dyn Fn() -> io::Result<Box<dyn Bytes>> + Send> {
        self.again
    }

    /// The items and files of items, in the order of the manifest.
    pub fn resources(&self) -> impl Iterator<Item = Resource> {
        self.manifest.resources.iter().filter(|listed| listed.is_item()).map(|listed| self.resource(listed))
    }

    fn resource(&self, listed: &manifest::Listed) -> Resource {
        let href = if listed.href.is_empty() { None } else { paths::resolve(&listed.base, &listed.href) };
        let file = match (href, listed.files.first()) {
            (Some((file, _)), _) => Ok(file),
            (None, Some(first)) if listed.href.is_empty() => Ok(first.clone()),
            _ => Err(listed.href.clone()),
        };
        Resource { file, companions: self.manifest.companions(listed) }
    }

    /// The names of the files, in order, each with its size unpacked; those that are not read have none.
    #[must_use]
    pub fn names(&self) -> Vec<(&str, Option<u64>)> {
        let size = |entry: &Result<Entry, &'static str>| entry.as_ref().ok().map(|entry| entry.size);
        let mut names: Vec<_> = self.entries.iter().map(|(name, entry)| (name.as_str(), size(entry))).collect();
        names.sort_unstable();
        names
    }

    /// Whether the package has a file of this name that can be read.
    #[must_use]
    pub fn has(&self, name: &str) -> bool {
        self.entries.get(name).is_some_and(Result::is_ok)
    }

    /// Unpacks a file as a stream.
    ///
    /// # Errors
    /// There is none, or it is not read, as a sentence.
    pub fn read(&mut self, name: &str) -> Result<Unpacked, String> {
        let entry = match self.entries.get(name) {
            None => return Err(format!("the package has no file '{name}'")),
            Some(Err(why)) => return Err(format!("the entry '{name}' is not read: {why}")),
            Some(Ok(entry)) => entry.clone(),
        };
        if entry.size > self.left {
            return Err(
                "companions of many items have been read again and again: give each item one of its own".to_owned()
            );
        }
        self.left -= entry.size;
        self.unpack(&entry).map_err(|error| format!("the entry '{name}' cannot be read: {error}"))
    }

    fn unpack(&self, entry: &Entry) -> io::Result<Unpacked> {
        let mut file = (self.again)()?;
        file.seek(SeekFrom::Start(entry.header))?;
        let mut header = [0; 30];
        file.read_exact(&mut header)?;
        if !header.starts_with(b"PK\x03\x04") {
            return Err(io::Error::other("its header is not where the directory says"));
        }
        let length = |at: usize| i64::from(u16::from_le_bytes([header[at], header[at + 1]]));
        file.seek(SeekFrom::Current(length(26) + length(28)))?;
        let packed = BufReader::new(file.take(entry.packed));
        let source: Box<dyn Read + Send> =
            if entry.deflated { Box::new(DeflateDecoder::new(packed)) } else { Box::new(packed) };
        Ok(Unpacked { source, crc: Crc::new(), checksum: entry.checksum, left: entry.size })
    }

    fn read_directory(&mut self, limits: &Limits) -> Result<(), PackageError> {
        let mut file = (self.again)()?;
        let length = file.seek(SeekFrom::End(0))?;
        let mut places: Vec<(u64, u64, String)> = Vec::new();
        let mut counted = 0;
        let fits = |count| {
            counted = count;
            count <= limits.zip_entries as u64
        };
        let took = directory::read(file, fits, |entry| self.take(&entry, length, limits, &mut places));
        took.map_err(|problem| match problem {
            directory::Problem::Io(error) => PackageError::Io(error),
            directory::Problem::Broken(what) => PackageError::Zip(what),
            directory::Problem::More(count) => PackageError::Count(count),
        })?;
        if counted > limits.zip_entries as u64 {
            return Err(PackageError::Limit("zip-entries", limits.zip_entries as u64));
        }
        places.sort();
        if let Some([first, second]) = places.windows(2).find(|pair| pair[0].1 > pair[1].0) {
            return Err(PackageError::Overlap(first.2.clone(), second.2.clone()));
        }
        let sizes = self.entries.values().flatten().map(|entry| entry.size);
        let total = sizes.fold(0, u64::saturating_add);
        if total > limits.zip_total_bytes {
            return Err(PackageError::Limit("zip-total-bytes", limits.zip_total_bytes));
        }
        self.left = limits.zip_total_bytes.min(total.saturating_add(AGAIN));
        Ok(())
    }

    /// Takes an entry of the directory under its name, or with what is wrong with it.
    fn take(&mut self, entry: &Listed, length: u64, limits: &Limits, places: &mut Vec<(u64, u64, String)>) {
        let (shown, checked) = name(entry);
        let own_bytes = 30 + entry.name.len() as u64;
        let end = entry.header.saturating_add(own_bytes).saturating_add(entry.packed);
        if end <= length {
            places.push((entry.header, end, shown.clone()));
        }
        let name = checked.as_ref().map_or_else(|_| shown.clone(), Clone::clone);
        if name.is_empty() || name.starts_with("__MACOSX/") || name == "__MACOSX" {
            return;
        }
        let fault = match checked {
            Err(why) => Some(why),
            Ok(_) if end > length => Some("it is longer than the package"),
            Ok(_) => fault(entry, limits),
        };
        // A folder holds nothing itself.
        if entry.name.ends_with(b"/") && fault.is_none() {
            return;
        }
        let fault = if self.entries.contains_key(&name) { Some("two entries have this name") } else { fault };
        if let Some(why) = fault {
            self.faults.push(EntryFault { name: shown, message: format!("the entry is not read: {why}") });
        }
        let (header, packed, size, checksum) = (entry.header, entry.packed, entry.size, entry.checksum);
        let own = Entry { header, packed, size, deflated: entry.method != STORED, checksum };
        self.entries.insert(name, fault.map_or(Ok(own), Err));
    }

    /// Where a manifest lies that is not at the top, as the end of a sentence.
    fn elsewhere(&self) -> String {
        let found = self
            .entries
            .keys()
            .filter(|name| !paths::folder(name).is_empty() && name.ends_with("/imsmanifest.xml"))
            .min();
        found.map_or_else(
            || ": it is no content package".to_owned(),
            |name| format!(", but '{name}': zip what is in the folder, not the folder"),
        )
    }
}

/// Methods of packing (4.4.5).
const STORED: u16 = 0;
const DEFLATED: u16 = 8;

/// An entry's name as it is shown, and as it is looked up or why it is refused. The mark of UTF-8 is often forgotten; what is
/// UTF-8 by its bytes is hardly ever anything else.
fn name(entry: &Listed) -> (String, Result<String, &'static str>) {
    let marked = entry.flags >> 11 & 1 == 1;
    let name = match std::str::from_utf8(&entry.name) {
        Ok(name) => name.to_owned(),
        Err(_) if marked => {
            let shown = String::from_utf8_lossy(&entry.name).into_owned();
            return (shown, Err("its name is marked as UTF-8 and is none"));
        }
        Err(_) => directory::from_code_page(&entry.name),
    };
    let checked = paths::checked(&name);
    (name, checked)
}

/// What is wrong with an entry whose name is right.
fn fault(entry: &Listed, limits: &Limits) -> Option<&'static str> {
    // Of the kinds of a Unix file only plain ones and folders are files of a package.
    let kind = entry.mode & 0o170_000;
    if !matches!(kind, 0 | 0o100_000 | 0o040_000) {
        Some("it is a link or a device")
    } else if entry.flags & 1 == 1 {
        Some("it is encrypted; save the package without a password")
    } else if !matches!(entry.method, STORED | DEFLATED) {
        Some("it is packed by another method than deflate")
    } else if entry.size > limits.zip_entry_bytes {
        Some("it passes the limit `zip-entry-bytes`")
    } else if entry.size > entry.packed.saturating_mul(limits.zip_ratio) {
        Some("it passes the limit `zip-ratio`")
    } else {
        None
    }
}

/// A file as it is unpacked: no longer than it says, and what it says.
pub struct Unpacked {
    source: Box<dyn Read + Send>,
    crc: Crc,
    checksum: u32,
    left: u64,
}

impl Read for Unpacked {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        if buffer.is_empty() {
            return Ok(0);
        }
        let count = self.source.read(buffer)?;
        let wrong = |what: &str| Err(io::Error::new(io::ErrorKind::InvalidData, what.to_owned()));
        if count == 0 {
            return match (self.left, self.crc.sum() == self.checksum) {
                (0, true) => Ok(0),
                (0, false) => wrong("its bytes are not what its checksum says"),
                _ => wrong("it is shorter than its header says"),
            };
        }
        if count as u64 > self.left {
            return wrong("it is longer than its header says");
        }
        self.left -= count as u64;
        self.crc.update(buffer.get(..count).unwrap_or_default());
        Ok(count)
    }
}
