//! A zip file with some of its parts replaced and every other byte as it was (PKWARE, APPNOTE.TXT 6.3, sections 4.3.7 to 4.3.16).

use flate2::write::DeflateEncoder;
use flate2::{Compression, Crc};
use std::collections::BTreeMap;
use std::io::Write;

/// An entry of the directory.
struct Entry {
    /// Its record in the directory.
    record: (usize, usize),
    name: Vec<u8>,
    method: u16,
    /// Where its own header stands.
    header: usize,
}

const SAVE_AGAIN: &str = "it is a zip file of a kind that is not written (more than 4 GiB, or damaged): save it anew in a spreadsheet program";

/// Replaces parts.
pub(super) fn replaced(bytes: &[u8], parts: &BTreeMap<String, Vec<u8>>) -> Result<Vec<u8>, String> {
    let (entries, directory, end) = directory(bytes).ok_or(SAVE_AGAIN)?;
    let mut order: Vec<usize> = (0..entries.len()).collect();
    order.sort_by_key(|at| entries[*at].header);
    let first = order.first().map_or(directory, |at| entries[*at].header);
    let mut out = bytes.get(..first).ok_or(SAVE_AGAIN)?.to_vec();
    // By entry: where it stands now, and its new checksum and sizes.
    let mut places: Vec<(usize, Option<[u32; 3]>)> = vec![(0, None); entries.len()];
    for (at, own) in order.iter().enumerate() {
        let entry = &entries[*own];
        let until = order.get(at + 1).map_or(directory, |next| entries[*next].header);
        let raw = bytes.get(entry.header..until).ok_or(SAVE_AGAIN)?;
        places[*own].0 = out.len();
        match std::str::from_utf8(&entry.name).ok().and_then(|name| parts.get(name)) {
            None => out.extend_from_slice(raw),
            Some(part) => places[*own].1 = Some(write(&mut out, raw, entry, part)?),
        }
    }
    let start = narrow(out.len())?;
    for (entry, (place, sizes)) in entries.iter().zip(&places) {
        let mut record = bytes.get(entry.record.0..entry.record.1).ok_or(SAVE_AGAIN)?.to_vec();
        if let Some(sizes) = sizes {
            // No descriptor stands behind the data.
            record[8] &= !8;
            for (at, value) in [16, 20, 24].into_iter().zip(sizes) {
                put(&mut record, at, *value);
            }
        }
        put(&mut record, 42, narrow(*place)?);
        out.extend_from_slice(&record);
    }
    let length = narrow(out.len())? - start;
    let mut last = bytes.get(end..).ok_or(SAVE_AGAIN)?.to_vec();
    put(&mut last, 12, length);
    put(&mut last, 16, start);
    out.extend_from_slice(&last);
    Ok(out)
}

fn narrow(value: usize) -> Result<u32, String> {
    u32::try_from(value).map_err(|_| SAVE_AGAIN.to_owned())
}

fn put(record: &mut [u8], at: usize, value: u32) {
    if let Some(place) = record.get_mut(at..at + 4) {
        place.copy_from_slice(&value.to_le_bytes());
    }
}

/// Writes a part under the header that it had; gives checksum and sizes.
fn write(out: &mut Vec<u8>, raw: &[u8], entry: &Entry, part: &[u8]) -> Result<[u32; 3], String> {
    let mut crc = Crc::new();
    crc.update(part);
    let packed = if entry.method == 0 {
        part.to_vec()
    } else {
        let mut encoder = DeflateEncoder::new(Vec::new(), Compression::new(6));
        encoder.write_all(part).and_then(|()| encoder.finish()).map_err(|error| error.to_string())?
    };
    let sizes = [crc.sum(), narrow(packed.len())?, narrow(part.len())?];
    let mut header = raw.get(..30).ok_or(SAVE_AGAIN)?.to_vec();
    let name = usize::from(short(raw, 26));
    header[6] &= !8;
    for (at, value) in [14, 18, 22].into_iter().zip(sizes) {
        put(&mut header, at, value);
    }
    // What stands behind the name may speak of the old sizes.
    header[28..30].copy_from_slice(&[0, 0]);
    out.extend_from_slice(&header);
    out.extend_from_slice(raw.get(30..30 + name).ok_or(SAVE_AGAIN)?);
    out.extend_from_slice(&packed);
    Ok(sizes)
}

/// The entries in the order of the directory, where that begins, and where the record stands that ends the file.
fn directory(bytes: &[u8]) -> Option<(Vec<Entry>, usize, usize)> {
    let from = bytes.len().saturating_sub(22 + usize::from(u16::MAX));
    let is_end = |at: &usize| {
        let record = bytes.get(*at..).unwrap_or_default();
        record.starts_with(b"PK\x05\x06")
            && record.len() >= 22
            && at + 22 + usize::from(short(record, 20)) == bytes.len()
    };
    let end = (from..=bytes.len().checked_sub(22)?).rev().find(is_end)?;
    let record = bytes.get(end..)?;
    let (count, start) = (short(record, 10), long(record, 16));
    if count == u16::MAX || start == u32::MAX {
        return None;
    }
    let mut at = start as usize;
    let mut entries = Vec::with_capacity(usize::from(count));
    for _ in 0..count {
        let own = bytes.get(at..).filter(|own| own.starts_with(b"PK\x01\x02"))?;
        let name = usize::from(short(own, 28));
        let length = 46 + name + usize::from(short(own, 30)) + usize::from(short(own, 32));
        let header = long(own, 42);
        if header == u32::MAX || long(own, 20) == u32::MAX || long(own, 24) == u32::MAX {
            return None;
        }
        let name = own.get(46..46 + name)?.to_vec();
        entries.push(Entry { record: (at, at + length), name, method: short(own, 10), header: header as usize });
        at += length;
    }
    Some((entries, start as usize, end)).filter(|(_, start, end)| start <= end)
}

fn short(bytes: &[u8], at: usize) -> u16 {
    let byte = |at: usize| bytes.get(at).copied().unwrap_or_default();
    u16::from_le_bytes([byte(at), byte(at + 1)])
}

fn long(bytes: &[u8], at: usize) -> u32 {
    u32::from(short(bytes, at)) | u32::from(short(bytes, at + 2)) << 16
}
