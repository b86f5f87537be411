//! QTI: documents of items, and packages of such documents with their companions.
//!
//! A package is read in the order of its manifest, an item at a time. What an item of a package shows, and what belongs to it by
//! the manifest, is read with it; items that stand alone show what stands in themselves.

use super::chunk::Chunk;
use super::item::{BadRecord, Record};
use super::qti_item::{Builder, Outcome};
use super::source::{Again, OpenError, Settings, decoded};
use crate::limits::TOLD;
use crate::qti::{self, Package, PackageError, Reader, Resource, Root, folder};
use crate::source::Span;
use crate::xml::{Position, XmlProblem};
use rustc_hash::FxHashSet;
use std::io::{self, BufReader, Cursor, Read};
use std::sync::Arc;

/// Records with the text in which their places are found, and the file where that is not the bank itself.
pub(super) type Given = (Chunk, Vec<Record>, Option<Arc<str>>);

/// A document or a package of items.
pub(super) struct QtiSource {
    name: String,
    settings: Arc<Settings>,
    input: Input,
    /// What was read ahead.
    ahead: Option<Given>,
    /// Items without chemistry.
    not_ours: u64,
}

#[allow(clippy::large_enum_variant, reason = "there is one for each file that is open")]
enum Input {
    Document(Reader<BufReader<Box<dyn Read + Send>>>),
    Package(OpenPackage),
}

/// What comes next.
#[allow(clippy::large_enum_variant, reason = "one at a time")]
enum NextItem {
    Given(Given),
    /// An item that has no chemistry.
    NotOurs,
    End,
}

/// A package that is being read.
struct OpenPackage {
    package: Package,
    resources: std::vec::IntoIter<Resource>,
    document: Option<Document>,
    /// Entries that are not read, still to be told.
    faults: std::vec::IntoIter<(String, String)>,
}

/// A document of a package.
struct Document {
    reader: Reader<BufReader<Box<dyn Read + Send>>>,
    /// Its path in the package.
    path: String,
    companions: Vec<String>,
    /// Whether an item was found in it.
    any: bool,
}

impl QtiSource {
    /// Opens a document of items.
    pub(super) fn document(
        name: &str,
        input: Box<dyn Read + Send>,
        settings: &Arc<Settings>,
    ) -> Result<Self, OpenError> {
        let reader = Reader::new(BufReader::with_capacity(1 << 16, input), &settings.limits);
        let mut source = Self {
            name: name.to_owned(),
            settings: Arc::clone(settings),
            input: Input::Document(reader),
            ahead: None,
            not_ours: 0,
        };
        source.ahead = source.next_given()?;
        if source.ahead.is_none() && source.not_ours == 0 {
            return Err(OpenError::NoItems("it is QTI without items".to_owned()));
        }
        Ok(source)
    }

    /// Opens a content package that has a manifest.
    pub(super) fn package(name: &str, package: Package, settings: &Arc<Settings>) -> Result<Self, OpenError> {
        let package = package.with_manifest(&settings.limits).map_err(no_bank)?;
        let resources: Vec<Resource> = package.resources().collect();
        if resources.is_empty() && package.faults.is_empty() {
            return Err(OpenError::NoItems("its manifest lists no QTI items".to_owned()));
        }
        let listed: FxHashSet<&str> = resources.iter().filter_map(|own| own.file.as_deref().ok()).collect();
        let input = Input::Package(OpenPackage {
            faults: told(&package, |name| listed.contains(name)).into_iter(),
            package,
            resources: resources.into_iter(),
            document: None,
        });
        Ok(Self { name: name.to_owned(), settings: Arc::clone(settings), input, ahead: None, not_ours: 0 })
    }

    /// Items without chemistry, so far.
    pub(super) fn not_ours(&self) -> u64 {
        self.not_ours
    }

    /// The next item that is one of ours.
    pub(super) fn next_given(&mut self) -> io::Result<Option<Given>> {
        if let Some(ahead) = self.ahead.take() {
            return Ok(Some(ahead));
        }
        loop {
            let found = match &mut self.input {
                Input::Document(reader) => match reader.next() {
                    Some(record) => given(record, None, &self.name, &self.name, &self.settings)?,
                    None => NextItem::End,
                },
                Input::Package(package) => package.next(&self.name, &self.settings)?,
            };
            match found {
                NextItem::Given(given) => return Ok(Some(given)),
                NextItem::NotOurs => self.not_ours += 1,
                NextItem::End => return Ok(None),
            }
        }
    }
}

/// Opens a zip file of any kind. Where it cannot be opened `again`, it is held in memory.
pub(super) fn opened(
    reader: Box<dyn Read + Send>,
    again: Option<Again>,
    settings: &Settings,
) -> Result<Package, OpenError> {
    let again = match again {
        Some(again) => again,
        None => held(reader, settings.limits.zip_entry_bytes)?,
    };
    Package::of_any(again, &settings.limits).map_err(no_bank)
}

/// Why a zip file is not read.
pub(super) fn no_bank(error: PackageError) -> OpenError {
    match error {
        PackageError::Io(error) => OpenError::Io(error),
        other => OpenError::NoBank(other.to_string()),
    }
}

/// Holds a stream in memory, so that it can be read from any place.
pub(super) fn held(reader: Box<dyn Read + Send>, cap: u64) -> Result<Again, OpenError> {
    let mut bytes = Vec::new();
    reader.take(cap + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > cap {
        let what =
            format!("a zip file from standard input is held in memory and passes the limit `zip-entry-bytes` of {cap}");
        return Err(OpenError::NoBank(what));
    }
    let bytes: Arc<[u8]> = bytes.into();
    Ok(Box::new(move || Ok(Box::new(Cursor::new(Arc::clone(&bytes))) as _)))
}

/// The entries of a package that are not read and that no item is told of, the first of many.
pub(super) fn told(package: &Package, is_told: impl Fn(&str) -> bool) -> Vec<(String, String)> {
    let faults: Vec<_> = package.faults.iter().filter(|fault| !is_told(&fault.name)).collect();
    let mut told: Vec<(String, String)> =
        faults.iter().take(TOLD).map(|fault| (fault.name.clone(), fault.message.clone())).collect();
    if faults.len() > TOLD {
        told.push(("more entries".to_owned(), format!("{} more entries are not read", faults.len() - TOLD)));
    }
    told
}

impl OpenPackage {
    /// The next item, or what is wrong.
    fn next(&mut self, name: &str, settings: &Arc<Settings>) -> io::Result<NextItem> {
        if let Some((entry, message)) = self.faults.next() {
            return Ok(NextItem::Given(bad_entry(entry, message)));
        }
        loop {
            let Some(document) = &mut self.document else {
                let Some(resource) = self.resources.next() else { return Ok(NextItem::End) };
                match self.open(resource, settings) {
                    Ok(document) => self.document = Some(document),
                    Err((entry, message)) => return Ok(NextItem::Given(bad(Some(entry), message, None))),
                }
                continue;
            };
            let file = format!("{name}/{}", document.path);
            let Some(record) = document.reader.next() else {
                let empty = !document.any;
                self.document = None;
                if empty {
                    let message = "the manifest calls the file an item, and there is none in it".to_owned();
                    return Ok(NextItem::Given(bad(None, message, Some(Arc::from(file)))));
                }
                continue;
            };
            document.any = true;
            let place =
                Place { package: &mut self.package, folder: folder(&document.path), companions: &document.companions };
            return given(record, Some(place), name, &file, settings);
        }
    }

    /// Opens the document of a resource, or says under which name what is wrong.
    fn open(&mut self, resource: Resource, settings: &Arc<Settings>) -> Result<Document, (String, String)> {
        let path = match resource.file {
            Ok(path) => path,
            Err(href) => {
                let message = format!("the manifest names '{href}', which is no file of the package");
                return Err((if href.is_empty() { "resource".to_owned() } else { href }, message));
            }
        };
        let unpacked = self.package.read(&path).map_err(|message| (path.clone(), message))?;
        let text = decoded(Box::new(unpacked), settings).map_err(|error| (path.clone(), error.to_string()))?;
        let reader = Reader::new(BufReader::with_capacity(1 << 14, text.0), &settings.limits);
        Ok(Document { reader, path, companions: resource.companions, any: false })
    }
}

/// Where the companions of an item lie.
pub(super) struct Place<'a> {
    pub(super) package: &'a mut Package,
    /// The folder of the item.
    pub(super) folder: &'a str,
    /// The drawings that belong to it by the manifest.
    pub(super) companions: &'a [String],
}

/// A bad record that stands at the beginning of a file.
fn bad(id: Option<String>, message: String, file: Option<Arc<str>>) -> Given {
    given_bad(BadRecord { is_item: true, id, message, span: Span::default() }, file)
}

/// What is wrong with an entry of a package that is no item.
pub(super) fn bad_entry(name: String, message: String) -> Given {
    given_bad(BadRecord { is_item: false, id: Some(name), message, span: Span::default() }, None)
}

fn given_bad(bad: BadRecord, file: Option<Arc<str>>) -> Given {
    let content = Err(bad);
    (Chunk { first_line: 1, ..Chunk::default() }, vec![Record { line: 1, content }], file)
}

/// The record of an item.
fn given(
    record: qti::Record,
    place: Option<Place<'_>>,
    package: &str,
    file: &str,
    settings: &Arc<Settings>,
) -> io::Result<NextItem> {
    let Position { line, column, offset } = record.place;
    let line = u32::try_from(line).unwrap_or(u32::MAX);
    let name = place.is_some().then(|| Arc::from(file));
    let chunk = Chunk {
        text: record.text.to_string(),
        first_line: line,
        first_column: u32::try_from(column - 1).unwrap_or(u32::MAX),
        offset,
        ..Chunk::default()
    };
    let question = match record.content {
        Ok(question) => question,
        Err(XmlProblem::Source(message)) if place.is_none() => return Err(io::Error::other(message)),
        Err(problem) => {
            let content =
                Err(BadRecord { is_item: true, id: None, message: problem.to_string(), span: Span::default() });
            return Ok(NextItem::Given((chunk, vec![Record { line, content }], name)));
        }
    };
    let builder = Builder::new(&question, chunk, place, package, settings);
    Ok(match builder.build(|| format!("{file}:{line}")) {
        (_, Outcome::NotOurs) => NextItem::NotOurs,
        (chunk, Outcome::Item(item)) => NextItem::Given((chunk, vec![Record { line, content: Ok(*item) }], name)),
        (chunk, Outcome::Bad(bad)) => NextItem::Given((chunk, vec![Record { line, content: Err(bad) }], name)),
    })
}

/// Bytes in which the root of a document must begin.
const BEGINNING: u64 = 1 << 16;

/// Whether a document is QTI, and the whole of it again.
pub(super) fn is_qti(
    mut reader: Box<dyn Read + Send>,
    settings: &Settings,
) -> io::Result<(bool, Box<dyn Read + Send>)> {
    let mut beginning = Vec::new();
    reader.by_ref().take(BEGINNING).read_to_end(&mut beginning)?;
    let root = qti::root_of(&beginning, &settings.limits);
    let whole = Cursor::new(beginning).chain(reader);
    Ok((matches!(root, Some(Root::Items | Root::Other)), Box::new(whole)))
}
