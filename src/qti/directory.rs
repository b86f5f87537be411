//! The directory of a zip file, entry by entry as it stands there (PKWARE, APPNOTE.TXT 6.3, sections 4.3.12 to 4.3.16).
//!
//! A library that looks entries up by name has forgotten, by then, that a name was there twice; here nothing is forgotten.

use std::io::{self, BufReader, Read, Seek, SeekFrom};

/// An entry as the directory lists it.
#[derive(Debug, Clone, Default)]
pub(super) struct Listed {
    /// The name, in bytes.
    pub(super) name: Vec<u8>,
    /// Bit 0: encrypted. Bit 11: the name is UTF-8.
    pub(super) flags: u16,
    /// 0: stored, 8: deflated.
    pub(super) method: u16,
    pub(super) checksum: u32,
    pub(super) packed: u64,
    pub(super) size: u64,
    /// Where its own header stands in the file.
    pub(super) header: u64,
    /// The Unix mode, where the entry has one.
    pub(super) mode: u32,
}

/// Why there is no directory to read.
#[derive(Debug)]
pub(super) enum Problem {
    Io(io::Error),
    /// It is no whole zip file.
    Broken(&'static str),
    /// It lists more entries than it counts.
    More(u64),
}

impl From<io::Error> for Problem {
    fn from(error: io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::UnexpectedEof => Self::Broken("it ends in the middle of its directory"),
            _ => Self::Io(error),
        }
    }
}

/// Bytes of the record that ends the file, without its comment.
const END: usize = 22;

/// Where the directory stands and how many entries it counts.
struct End {
    count: u64,
    start: u64,
}

/// Reads a directory: says how many entries there are, then gives one after the other.
pub(super) fn read<R: Read + Seek>(
    file: R,
    mut count: impl FnMut(u64) -> bool,
    mut entry: impl FnMut(Listed),
) -> Result<(), Problem> {
    let mut file = BufReader::new(file);
    let end = find_end(&mut file)?;
    if !count(end.count) {
        return Ok(());
    }
    file.seek(SeekFrom::Start(end.start))?;
    for _ in 0..end.count {
        entry(listed(&mut file)?);
    }
    let mut next = [0; 4];
    match file.read_exact(&mut next) {
        Ok(()) if next == *b"PK\x01\x02" => Err(Problem::More(end.count)),
        _ => Ok(()),
    }
}

fn find_end<R: Read + Seek>(file: &mut R) -> Result<End, Problem> {
    let length = file.seek(SeekFrom::End(0))?;
    let from = length.saturating_sub(END as u64 + u64::from(u16::MAX));
    file.seek(SeekFrom::Start(from))?;
    let mut tail = Vec::new();
    file.take(length - from).read_to_end(&mut tail)?;
    // The record whose comment reaches exactly to the end of the file; a comment may hold what looks like one.
    let is_end = |at: &usize| {
        let record = tail.get(*at..).unwrap_or_default();
        record.starts_with(b"PK\x05\x06")
            && record.len() >= END
            && *at + END + usize::from(short(record, 20)) == tail.len()
    };
    let missing = Problem::Broken("it has no directory at its end, as a file that was cut off");
    let at = (0..=tail.len().saturating_sub(END)).rev().find(is_end).ok_or(missing)?;
    let record = tail.get(at..).unwrap_or_default();
    let plain = End { count: u64::from(short(record, 10)), start: u64::from(long(record, 16)) };
    if plain.count != u64::from(u16::MAX) && plain.start != u64::from(u32::MAX) {
        return Ok(plain);
    }
    Ok(find_wide_end(file, from + at as u64)?.unwrap_or(plain))
}

/// The record for large files, where one stands before the other.
fn find_wide_end<R: Read + Seek>(file: &mut R, end: u64) -> Result<Option<End>, Problem> {
    let Some(locator) = end.checked_sub(20) else { return Ok(None) };
    file.seek(SeekFrom::Start(locator))?;
    let mut bytes = [0; 20];
    file.read_exact(&mut bytes)?;
    if !bytes.starts_with(b"PK\x06\x07") {
        return Ok(None);
    }
    file.seek(SeekFrom::Start(wide(&bytes, 8)))?;
    let mut record = [0; 56];
    file.read_exact(&mut record)?;
    if !record.starts_with(b"PK\x06\x06") {
        return Err(Problem::Broken("its directory is not where it says"));
    }
    Ok(Some(End { count: wide(&record, 32), start: wide(&record, 48) }))
}

fn listed<R: Read>(file: &mut R) -> Result<Listed, Problem> {
    let mut header = [0; 46];
    file.read_exact(&mut header)?;
    if !header.starts_with(b"PK\x01\x02") {
        return Err(Problem::Broken("its directory is not where it says"));
    }
    let mut name = vec![0; usize::from(short(&header, 28))];
    file.read_exact(&mut name)?;
    let mut extra = vec![0; usize::from(short(&header, 30))];
    file.read_exact(&mut extra)?;
    io::copy(&mut file.take(u64::from(short(&header, 32))), &mut io::sink())?;
    // The upper half is the mode only where Unix made the entry.
    let by_unix = header[5] == 3 || header[5] == 19;
    let mut own = Listed {
        name,
        flags: short(&header, 8),
        method: short(&header, 10),
        checksum: long(&header, 16),
        packed: u64::from(long(&header, 20)),
        size: u64::from(long(&header, 24)),
        header: u64::from(long(&header, 42)),
        mode: if by_unix { long(&header, 38) >> 16 } else { 0 },
    };
    widen(&mut own, &extra);
    Ok(own)
}

/// Sizes and places that do not fit 32 bits stand in an extra field, in this order (4.5.3).
fn widen(own: &mut Listed, extra: &[u8]) {
    let mut rest = extra;
    while rest.len() >= 4 {
        let (kind, length) = (short(rest, 0), usize::from(short(rest, 2)));
        let Some(body) = rest.get(4..4 + length) else { return };
        rest = rest.get(4 + length..).unwrap_or_default();
        if kind != 1 {
            continue;
        }
        let mut words = body.chunks_exact(8).map(|word| wide(word, 0));
        for value in [&mut own.size, &mut own.packed, &mut own.header] {
            if *value == u64::from(u32::MAX) {
                *value = words.next().unwrap_or(*value);
            }
        }
        return;
    }
}

fn short(bytes: &[u8], at: usize) -> u16 {
    bytes.get(at..at + 2).map_or(0, |bytes| bytes.iter().rev().fold(0, |value, byte| value << 8 | u16::from(*byte)))
}

fn long(bytes: &[u8], at: usize) -> u32 {
    bytes.get(at..at + 4).map_or(0, |bytes| bytes.iter().rev().fold(0, |value, byte| value << 8 | u32::from(*byte)))
}

fn wide(bytes: &[u8], at: usize) -> u64 {
    bytes.get(at..at + 8).map_or(0, |bytes| bytes.iter().rev().fold(0, |value, byte| value << 8 | u64::from(*byte)))
}

/// Code page 437, in which names are written that are not UTF-8: its upper half (Unicode's mapping table CP437.TXT).
const UPPER: &str = "ÇüéâäàåçêëèïîìÄÅÉæÆôöòûùÿÖÜ¢£¥₧ƒáíóúñÑªº¿⌐¬½¼¡«»░▒▓│┤╡╢╖╕╣║╗╝╜╛┐└┴┬├─┼╞╟╚╔╩╦╠═╬╧╨╤╥╙╘╒╓╫╪┘┌█▄▌▐▀αßΓπΣσµτΦΘΩδ∞φε∩≡±≥≤⌠⌡÷≈°∙·√ⁿ²■\u{a0}";

/// A name that is no UTF-8.
pub(super) fn from_code_page(name: &[u8]) -> String {
    let upper: Vec<char> = UPPER.chars().collect();
    let decoded = |byte: &u8| {
        let at = usize::from(*byte).checked_sub(128);
        at.map_or(char::from(*byte), |at| upper.get(at).copied().unwrap_or('\u{fffd}'))
    };
    name.iter().map(decoded).collect()
}

#[cfg(test)]
mod tests {
    use super::{UPPER, from_code_page};

    #[test]
    fn the_code_page_is_whole() {
        assert_eq!(UPPER.chars().count(), 128);
        assert_eq!(from_code_page(b"caf\x82-\xe0\xff"), "café-α\u{a0}");
    }
}
