//! Which files a path stands for.

use super::Format;
use std::fs::File;
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// What a walk found.
#[derive(Debug, Default)]
pub struct Walk {
    /// Files that may be banks, in the order of their paths.
    pub files: Vec<(PathBuf, Format)>,
    /// Files that are no bank by their ending.
    pub skipped: usize,
    /// JSON files that hold one object, as files of settings do: no bank either, though their ending is that of one.
    pub objects: Vec<PathBuf>,
    /// What could not be read, and why.
    pub faults: Vec<String>,
}

/// Walks a folder, or takes a file as it is. Hidden files, and what a repository ignores, are passed over.
///
/// A file that is named itself is taken whatever its ending if `format` is given.
#[must_use]
pub fn walk(path: &Path, format: Option<Format>) -> Walk {
    let mut walk = Walk::default();
    if !path.is_dir() {
        match format.or_else(|| of_file(path)) {
            Some(format) => walk.files.push((path.to_owned(), format)),
            None => walk.skipped += 1,
        }
        return walk;
    }
    let order = |a: &std::ffi::OsStr, b: &std::ffi::OsStr| a.cmp(b);
    for entry in ignore::WalkBuilder::new(path).sort_by_file_name(order).require_git(false).build() {
        match entry {
            Ok(entry) if entry.file_type().is_some_and(|kind| kind.is_file()) => match of_file(entry.path()) {
                // A file of settings, as package.json, is no bank; named itself, it is a bank that is broken.
                Some(Format::Json) if is_object(entry.path()) => walk.objects.push(entry.into_path()),
                Some(format) => walk.files.push((entry.into_path(), format)),
                None => walk.skipped += 1,
            },
            Ok(_) => {}
            Err(error) => walk.faults.push(error.to_string()),
        }
    }
    walk
}

/// Bytes at the beginning of a JSON file that may be nothing but space.
const SPACE: u64 = 4_096;

/// Whether a JSON file begins an object, where a bank is an array.
fn is_object(path: &Path) -> bool {
    let mut beginning = Vec::new();
    let read = File::open(path).and_then(|file| file.take(SPACE).read_to_end(&mut beginning));
    let text = beginning.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&beginning);
    read.is_ok() && text.trim_ascii_start().starts_with(b"{")
}

/// The format that a file's ending says.
#[must_use]
pub fn of_file(path: &Path) -> Option<Format> {
    let ending = |path: &Path| path.extension().and_then(|ending| ending.to_str()).map(str::to_ascii_lowercase);
    match ending(path)?.as_str() {
        // Behind the ending of what is packed in it.
        "gz" | "zst" => Format::from_name(&ending(Path::new(path.file_stem()?))?).filter(|own| *own != Format::Package),
        // A cartridge is a package by another name.
        "imscc" => Some(Format::Package),
        own => Format::from_name(own),
    }
}
