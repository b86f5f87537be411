//! Which files a path stands for.

use super::Format;
use std::path::{Path, PathBuf};

/// What a walk found.
#[derive(Debug, Default)]
pub struct Walk {
    /// Files that may be banks, in the order of their paths.
    pub files: Vec<(PathBuf, Format)>,
    /// Files that are no bank by their ending.
    pub skipped: usize,
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
                Some(format) => walk.files.push((entry.into_path(), format)),
                None => walk.skipped += 1,
            },
            Ok(_) => {}
            Err(error) => walk.faults.push(error.to_string()),
        }
    }
    walk
}

/// The format that a file's ending says.
#[must_use]
pub fn of_file(path: &Path) -> Option<Format> {
    path.extension().and_then(|ending| ending.to_str()).and_then(Format::from_name)
}
