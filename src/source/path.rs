//! Paths of files, named alike on every system.
//!
//! Reports, lists of known findings and corrections name banks by their paths and go from one machine to another. So a name has `/`
//! between folders everywhere; Windows opens files under such names, too.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// The name of a file in reports and messages.
pub(crate) fn name_of(path: &Path) -> String {
    let shown = path.display().to_string();
    if cfg!(windows) { with_slashes(&shown) } else { shown }
}

/// The whole path of a file, links followed. Windows gives it with a prefix behind which `/` parts no folders; it is taken off.
///
/// # Errors
/// There is no such file.
pub(crate) fn whole(path: &Path) -> io::Result<PathBuf> {
    let whole = fs::canonicalize(path)?;
    Ok(if cfg!(windows) { whole.to_str().map_or_else(|| whole.clone(), |own| usual(own).into()) } else { whole })
}

/// What Windows puts before a path that it is to take to the letter.
const VERBATIM: &str = r"\\?\";
const VERBATIM_SHARE: &str = r"\\?\UNC\";

/// A path of Windows without that prefix, where it means the same without.
fn usual(path: &str) -> String {
    if let Some(share) = path.strip_prefix(VERBATIM_SHARE) {
        return format!(r"\\{share}");
    }
    match path.strip_prefix(VERBATIM) {
        Some(rest) if rest.as_bytes().get(1) == Some(&b':') => rest.to_owned(),
        _ => path.to_owned(),
    }
}

fn with_slashes(path: &str) -> String {
    usual(path).replace('\\', "/")
}

#[cfg(test)]
mod tests {
    use super::{usual, with_slashes};

    #[test]
    fn paths_of_windows_have_one_name() {
        let cases = [
            (r"C:\banks\week 1.csv", r"C:\banks\week 1.csv", "C:/banks/week 1.csv"),
            (r"banks\a.csv", r"banks\a.csv", "banks/a.csv"),
            (r"banks/a.csv", r"banks/a.csv", "banks/a.csv"),
            (r"\\?\D:\banks\a.csv", r"D:\banks\a.csv", "D:/banks/a.csv"),
            (r"\\?\UNC\store\chem\a.csv", r"\\store\chem\a.csv", "//store/chem/a.csv"),
            (r"\\store\chem\a.csv", r"\\store\chem\a.csv", "//store/chem/a.csv"),
            (r"\\?\Volume{4a}\a.csv", r"\\?\Volume{4a}\a.csv", "//?/Volume{4a}/a.csv"),
        ];
        let mut failures = Vec::new();
        for (path, plain, named) in cases {
            if usual(path) != plain || with_slashes(path) != named {
                failures.push(format!("{path}: {}, {}", usual(path), with_slashes(path)));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
