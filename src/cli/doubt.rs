//! Encodings that were declared and can hardly be meant.

use crate::audit::{Content, Input};
use crate::bank::Format;
use crate::report::terminal::plain;
use crate::source::Encoding;
use crate::source::path::name_of;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::Path;

/// Sentences about banks that are read byte by byte, as was declared, and are UTF-8: two or three characters stand for each one
/// beyond ASCII then. What was declared still counts: nobody's accent marks are proof.
pub(super) fn encodings_in_doubt(inputs: &[Input], declared: Option<Encoding>) -> Vec<String> {
    let one = |input: &Input| match &input.content {
        Content::Path(path) => encoding_in_doubt(path, input.format, input.encoding.or(declared)),
        _ => None,
    };
    inputs.iter().filter_map(one).collect()
}

/// The same of one file.
pub(super) fn encoding_in_doubt(path: &Path, format: Format, declared: Option<Encoding>) -> Option<String> {
    let encoding = declared.filter(|own| matches!(own, Encoding::Windows1252 | Encoding::Latin1))?;
    if matches!(format, Format::Package | Format::Workbook) {
        return None;
    }
    // A file that cannot be read is told where it is read.
    let line = first_beyond_ascii(path).ok()??;
    Some(format!(
        "{}: is read as {encoding}, as was declared, but its bytes are UTF-8, first beyond ASCII on line {line}: is '{}' right?",
        plain(&name_of(path)),
        encoding.name()
    ))
}

/// Bytes that are looked at in one go.
const PIECE: usize = 1 << 16;

/// The line of the first character beyond ASCII of a file that is UTF-8 to its end; `None` where it is not, where it has no such
/// character, and where a byte order mark says what it is.
fn first_beyond_ascii(path: &Path) -> io::Result<Option<u64>> {
    // A pipe can be read once.
    if !fs::metadata(path)?.is_file() {
        return Ok(None);
    }
    let mut file = File::open(path)?;
    let mut piece = vec![0; PIECE];
    let (mut kept, mut lines, mut found, mut is_first) = (0, 1, None, true);
    loop {
        let count = file.read(&mut piece[kept..])?;
        let bytes = &piece[..kept + count];
        if is_first && bytes.starts_with(b"\xef\xbb\xbf") {
            return Ok(None);
        }
        is_first = false;
        let valid = match std::str::from_utf8(bytes) {
            Ok(_) => bytes.len(),
            Err(error) if error.error_len().is_none() && count > 0 => error.valid_up_to(),
            Err(_) => return Ok(None),
        };
        if found.is_none() {
            let beyond = bytes[..valid].iter().position(|byte| !byte.is_ascii());
            lines += memchr::memchr_iter(b'\n', &bytes[..beyond.unwrap_or(valid)]).count() as u64;
            found = beyond.map(|_| lines);
        }
        if count == 0 {
            return Ok(found);
        }
        let end = kept + count;
        piece.copy_within(valid..end, 0);
        kept = end - valid;
    }
}
