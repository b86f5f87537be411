//! Names of files in packages: percent signs, dots, endings.

use super::Notation;

/// The file of a package that `href` names in a file that lies in `folder`; `None` where it names none: another place on the
/// web, or a path that leads out of the package. The fragment, if any, stands beside.
#[must_use]
pub fn resolve(folder: &str, href: &str) -> Option<(String, Option<String>)> {
    let (path, fragment) = href.split_once('#').map_or((href, None), |(path, rest)| (path, Some(decoded(rest))));
    let path = path.split('?').next().unwrap_or_default();
    if path.is_empty() || path.starts_with(['/', '\\']) || scheme(path) {
        return None;
    }
    let mut parts: Vec<&str> = folder.split('/').filter(|part| !part.is_empty()).collect();
    let path = decoded(path).replace('\\', "/");
    for part in path.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop()?;
            }
            part => parts.push(part),
        }
    }
    (!parts.is_empty()).then(|| (parts.join("/"), fragment))
}

/// Whether a reference begins with a scheme, as `http:`, or with the letter of a drive.
fn scheme(path: &str) -> bool {
    let Some((before, _)) = path.split_once(':') else { return false };
    before.starts_with(|c: char| c.is_ascii_alphabetic())
        && before.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '+' | '-' | '.'))
}

/// A reference with its percent signs undone (RFC 3986, 2.1); what they spell must be UTF-8, else it stays as it is.
#[must_use]
pub fn decoded(text: &str) -> String {
    let bytes = text.as_bytes();
    let mut out = Vec::with_capacity(bytes.len());
    let mut at = 0;
    while let Some(byte) = bytes.get(at) {
        let hex = bytes.get(at + 1..at + 3).filter(|_| *byte == b'%').and_then(|hex| std::str::from_utf8(hex).ok());
        let hex = hex.filter(|hex| hex.bytes().all(|digit| digit.is_ascii_hexdigit()));
        if let Some(code) = hex.and_then(|hex| u8::from_str_radix(hex, 16).ok()) {
            out.push(code);
            at += 3;
        } else {
            out.push(*byte);
            at += 1;
        }
    }
    String::from_utf8(out).unwrap_or_else(|_| text.to_owned())
}

/// A file's name as a reference to it.
#[must_use]
pub fn encoded(name: &str) -> String {
    let mut out = String::with_capacity(name.len());
    for byte in name.bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'.' | b'_' | b'~' | b'/') {
            out.push(char::from(byte));
        } else {
            out.push('%');
            out.extend([byte >> 4, byte & 15].map(|digit| char::from(b"0123456789ABCDEF"[usize::from(digit)])));
        }
    }
    out
}

/// The folder of a file in a package.
#[must_use]
pub fn folder(path: &str) -> &str {
    path.rsplit_once('/').map_or("", |(folder, _)| folder)
}

/// The notation that a file's ending says.
pub(super) fn notation(file: &str) -> Option<Notation> {
    let file = file.split(['#', '?']).next().unwrap_or_default();
    let (_, ending) = file.rsplit_once('.')?;
    match ending.to_ascii_lowercase().as_str() {
        "cml" => Some(Notation::Cml),
        "smi" | "smiles" => Some(Notation::Smiles),
        _ => None,
    }
}

/// Why an entry's name is refused, if it is; and the name as it is looked up.
pub(super) fn checked(name: &str) -> Result<String, &'static str> {
    let plain = name.replace('\\', "/");
    if plain.starts_with('/') {
        return Err("its name is an absolute path");
    }
    if plain.as_bytes().get(1) == Some(&b':') && plain.starts_with(|c: char| c.is_ascii_alphabetic()) {
        return Err("its name begins with the letter of a drive");
    }
    if plain.split('/').any(|part| part == "..") {
        return Err("its name leads out of the package");
    }
    if plain.chars().any(char::is_control) {
        return Err("its name has a control character");
    }
    let parts: Vec<&str> = plain.split('/').filter(|part| !part.is_empty() && *part != ".").collect();
    Ok(parts.join("/"))
}

#[cfg(test)]
mod tests {
    use super::{checked, decoded, encoded, resolve};

    #[test]
    fn references_lead_to_files_of_the_package() {
        let cases = [
            ("items", "q%201.cml", Some("items/q 1.cml")),
            ("items", "./a/../q.cml#r1", Some("items/q.cml")),
            ("items", "../shared/q.cml", Some("shared/q.cml")),
            ("items", "../../q.cml", None),
            ("items", "%2e%2e/%2E%2E/q.cml", None),
            ("", "/etc/passwd", None),
            ("", "C:\\q.cml", None),
            ("", "http://example.org/q.cml", None),
            ("", "//example.org/q.cml", None),
            ("", "a%zz%c3%a4.cml", Some("a%zzä.cml")),
            ("", "#r1", None),
        ];
        let mut failures = Vec::new();
        for (folder, href, expected) in cases {
            let found = resolve(folder, href).map(|(path, _)| path);
            if found.as_deref() != expected {
                failures.push(format!("{href} in {folder}: {found:?}"));
            }
        }
        for name in ["a b/ä%.cml", "plain.xml"] {
            if decoded(&encoded(name)) != name {
                failures.push(name.to_owned());
            }
        }
        for name in ["../a", "/a", "\\a", "C:a", "a/../b", "a\u{1}"] {
            if checked(name).is_ok() {
                failures.push(name.to_owned());
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
