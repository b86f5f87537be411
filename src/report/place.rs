//! Where a file is, for machines: a relative path as a URI.

use std::path::{Component, Path, PathBuf};

/// The path of a file from a folder, as a relative URI reference (RFC 3986): no scheme, no root.
#[must_use]
pub fn relative(file: &str, base: &Path) -> String {
    let path = Path::new(file);
    let path = if path.is_absolute() { from(path, base) } else { path.to_owned() };
    let parts = path.components().filter(|part| *part != Component::CurDir && *part != Component::RootDir);
    let parts: Vec<String> = parts.map(|part| escaped(part.as_os_str().to_string_lossy().as_bytes())).collect();
    parts.join("/")
}

/// An absolute path from a folder, by way of what both have in common. The folder is one without links: a path that has some
/// is followed where it does not begin with the folder as it is.
fn from(path: &Path, base: &Path) -> PathBuf {
    let followed = if path.starts_with(base) { None } else { crate::source::path::whole(path).ok() };
    let path = followed.as_deref().filter(|followed| followed.starts_with(base)).unwrap_or(path);
    let common = path.components().zip(base.components()).take_while(|(own, other)| own == other).count();
    let up = base.components().skip(common).map(|_| Component::ParentDir);
    up.chain(path.components().skip(common)).collect()
}

/// A part of a path: whatever is not unreserved is written by its bytes, so that a colon makes no scheme.
fn escaped(part: &[u8]) -> String {
    let mut text = String::with_capacity(part.len());
    for byte in part {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => text.push(char::from(*byte)),
            _ => text.extend(['%', digit(byte >> 4), digit(byte & 15)]),
        }
    }
    text
}

/// A digit of base 16.
fn digit(value: u8) -> char {
    char::from_digit(u32::from(value), 16).unwrap_or('0').to_ascii_uppercase()
}

#[cfg(test)]
mod tests {
    use super::relative;
    use std::path::Path;

    #[test]
    fn paths_are_relative_and_escaped() {
        let cases = [
            ("banks/a.csv", "banks/a.csv"),
            ("./banks/a.csv", "banks/a.csv"),
            ("../a.csv", "../a.csv"),
            ("/home/hm/sets/banks/a b.csv", "banks/a%20b.csv"),
            ("/home/other/a.csv", "../../other/a.csv"),
            ("c:a.csv", "c%3Aa.csv"),
            ("Übung.csv", "%C3%9Cbung.csv"),
            ("-", "-"),
        ];
        for (file, expected) in cases {
            assert_eq!(relative(file, Path::new("/home/hm/sets")), expected, "{file}");
        }
    }
}
