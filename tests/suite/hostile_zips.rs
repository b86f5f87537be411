//! Packages that nobody should send, written byte by byte (PKWARE, APPNOTE.TXT 6.3, sections 4.3.7, 4.3.12, 4.3.16), since
//! a library that writes honest packages does not write these.

use std::io::{Cursor, Write};

/// One entry, stored without compression.
struct Entry {
    name: Vec<u8>,
    bytes: Vec<u8>,
    /// General purpose flags: bit 0 encrypted, bit 11 the name is UTF-8.
    flags: u16,
    /// Unix mode in the upper half of the external attributes.
    mode: u32,
    /// The size that the headers state.
    stated: u32,
}

fn entry(name: &str, bytes: &[u8]) -> Entry {
    let stated = bytes.len() as u32;
    Entry { name: name.as_bytes().to_vec(), bytes: bytes.to_vec(), flags: 1 << 11, mode: 0o100_644, stated }
}

const MANIFEST: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<manifest xmlns="http://www.imsglobal.org/xsd/imscp_v1p1" identifier="m"><organizations/><resources>
<resource identifier="r" type="imsqti_item_xmlv2p1" href="q.xml"><file href="q.xml"/></resource>
</resources></manifest>"#;

const ITEM: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<assessmentItem xmlns="http://www.imsglobal.org/xsd/imsqti_v2p1" identifier="q" title="q" adaptive="false" timeDependent="false">
<itemBody><p>No chemistry.</p></itemBody></assessmentItem>"#;

/// The package of this name in the table.
pub fn build(name: &str) -> Result<Vec<u8>, String> {
    let honest = || vec![entry("imsmanifest.xml", MANIFEST.as_bytes()), entry("q.xml", ITEM.as_bytes())];
    let with = |more: Entry| {
        let mut entries = honest();
        entries.push(more);
        package(&entries)
    };
    Ok(match name {
        "not-a-zip" => b"PK\x03\x04 and then only words".to_vec(),
        "truncated" => {
            let whole = package(&honest());
            whole[..whole.len() / 2].to_vec()
        }
        "empty" => package(&[]),
        "no-manifest" => package(&[entry("q.xml", ITEM.as_bytes())]),
        "path-parent" => with(entry("../outside.xml", ITEM.as_bytes())),
        "path-absolute" => with(entry("/etc/outside.xml", ITEM.as_bytes())),
        "path-drive" => with(entry("C:\\outside.xml", ITEM.as_bytes())),
        "link" => with(Entry { mode: 0o120_777, ..entry("link.xml", b"/etc/passwd") }),
        "path-backslash" => with(entry("..\\..\\outside.xml", ITEM.as_bytes())),
        "path-hidden" => with(entry("a/b/../../../outside.xml", ITEM.as_bytes())),
        "name-nul" => with(entry("q2.xml\0.png", ITEM.as_bytes())),
        "name-control" => with(entry("q\u{1b}[2J.xml", ITEM.as_bytes())),
        "device" => with(Entry { mode: 0o020_666, ..entry("null.xml", b"") }),
        "pipe" => with(Entry { mode: 0o010_644, ..entry("pipe.xml", b"") }),
        "checksum" => {
            let mut bytes = package(&honest());
            let at = bytes.windows(14).position(|own| own == b"No chemistry.<").ok_or("the item has other words")?;
            bytes[at] = b'n';
            bytes
        }
        "item-doctype" => item(&ITEM.replacen("?>", "?><!DOCTYPE assessmentItem [<!ENTITY a \"aaaa\">]>", 1)),
        "item-entity-external" => {
            let doctype = "?><!DOCTYPE assessmentItem [<!ENTITY a SYSTEM \"file:///etc/passwd\">]>";
            item(&ITEM.replacen("?>", doctype, 1).replace("No chemistry.", "&a;"))
        }
        "href-outside" => manifest("../../../../etc/passwd"),
        "href-absolute" => manifest("/etc/passwd"),
        "href-address" => manifest("http://127.0.0.1:1/q.xml"),
        "href-file" => manifest("file:///etc/passwd"),
        "bomb-ratio" => zeros(300 << 20)?,
        "bomb-of-bombs" => {
            let bomb = zeros(16 << 20)?;
            let inner = package(&[entry("a.zip", &bomb), entry("b.zip", &bomb)]);
            let mut entries = honest();
            entries.extend((0..16).map(|at| entry(&format!("layer{at}.zip"), &inner)));
            package(&entries)
        }
        "bomb-shared" => shared(&honest(), 1_000),
        "bomb-quoted" => quoted_header(),
        "nested" => {
            let inner = package(&honest());
            let middle = package(&[entry("inner.zip", &inner)]);
            with(entry("middle.zip", &middle))
        }
        "entry-twice" => with(entry("q.xml", ITEM.replace("identifier=\"q\"", "identifier=\"other\"").as_bytes())),
        "encrypted" => with(Entry { flags: 1 | 1 << 11, ..entry("secret.xml", ITEM.as_bytes()) }),
        "entries-70000" => {
            let mut entries = honest();
            entries.extend((0..70_000).map(|at| entry(&format!("e{at}"), b"")));
            package(&entries)
        }
        "manifest-doctype" => {
            let doctype = MANIFEST.replacen("?>", "?><!DOCTYPE manifest [<!ENTITY a \"aaaa\">]>", 1);
            package(&[entry("imsmanifest.xml", doctype.as_bytes()), entry("q.xml", ITEM.as_bytes())])
        }
        "name-not-utf8" => with(Entry { name: b"caf\xe9.xml".to_vec(), flags: 0, ..entry("", ITEM.as_bytes()) }),
        "size-lies" => with(Entry { stated: u32::MAX - 1, ..entry("long.xml", ITEM.as_bytes()) }),
        other => return Err(format!("no package {other}")),
    })
}

/// A package of one item.
fn item(text: &str) -> Vec<u8> {
    package(&[entry("imsmanifest.xml", MANIFEST.as_bytes()), entry("q.xml", text.as_bytes())])
}

/// A package whose manifest names this file as its item.
fn manifest(href: &str) -> Vec<u8> {
    let text = MANIFEST.replacen("href=\"q.xml\"", &format!("href=\"{href}\""), 1);
    package(&[entry("imsmanifest.xml", text.as_bytes()), entry("q.xml", ITEM.as_bytes())])
}

/// A package of which many names share the bytes of the last entry: its size in a directory costs next to nothing.
fn shared(entries: &[Entry], count: usize) -> Vec<u8> {
    let whole = package(entries);
    let start = whole.len() - 22 - directory_length(&whole);
    let last = entries.last().map_or(0, |own| 46 + own.name.len());
    let row = whole[whole.len() - 22 - last..whole.len() - 22].to_vec();
    let mut bytes = whole[..whole.len() - 22].to_vec();
    for at in 0..count {
        let mut row = row.clone();
        // Another name of the same length.
        let name = format!("{at:05}");
        row[46..51].copy_from_slice(name.as_bytes());
        bytes.extend(row);
    }
    let length = bytes.len() - start;
    end(&mut bytes, entries.len() + count, length, start);
    bytes
}

/// A package in which one entry's bytes hold the header and the bytes of the next, which the directory lists as well.
fn quoted_header() -> Vec<u8> {
    let inner = entry("q.xml", ITEM.as_bytes());
    let whole = package(&[inner]);
    let local = whole[..whole.len() - 22 - directory_length(&whole)].to_vec();
    let outer = package(&[entry("imsmanifest.xml", MANIFEST.as_bytes()), entry("outer.bin", &local)]);
    let start = outer.len() - 22 - directory_length(&outer);
    let mut bytes = outer[..outer.len() - 22].to_vec();
    let mut row = whole[local.len()..whole.len() - 22].to_vec();
    row[42..46].copy_from_slice(&((start - local.len()) as u32).to_le_bytes());
    bytes.extend(row);
    let length = bytes.len() - start;
    end(&mut bytes, 3, length, start);
    bytes
}

/// The length of the directory that the end of a package states.
fn directory_length(whole: &[u8]) -> usize {
    let at = whole.len() - 10;
    u32::from_le_bytes([whole[at], whole[at + 1], whole[at + 2], whole[at + 3]]) as usize
}

/// A package whose one entry is that many zero bytes, packed.
fn zeros(count: usize) -> Result<Vec<u8>, String> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let options = zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Deflated);
    let block = vec![0; 1 << 20];
    zip.start_file("imsmanifest.xml", options).map_err(|error| error.to_string())?;
    for _ in 0..count >> 20 {
        zip.write_all(&block).map_err(|error| error.to_string())?;
    }
    zip.finish().map(Cursor::into_inner).map_err(|error| error.to_string())
}

fn package(entries: &[Entry]) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut directory = Vec::new();
    for own in entries {
        let offset = bytes.len() as u32;
        // What the local and the central header share: version, flags, stored, time, date, checksum, sizes, name length.
        let mut shared = Vec::new();
        for half in [20, own.flags, 0, 0, 0x21] {
            shared.extend(half.to_le_bytes());
        }
        for whole in [checksum(&own.bytes), own.stated, own.stated] {
            shared.extend(whole.to_le_bytes());
        }
        shared.extend((own.name.len() as u16).to_le_bytes());
        shared.extend([0, 0]);
        bytes.extend(b"PK\x03\x04");
        bytes.extend(&shared);
        bytes.extend(&own.name);
        bytes.extend(&own.bytes);
        directory.extend(b"PK\x01\x02");
        // Made by Unix, so that the mode counts.
        directory.extend([20, 3]);
        directory.extend(&shared);
        directory.extend([0; 6]);
        directory.extend((own.mode << 16).to_le_bytes());
        directory.extend(offset.to_le_bytes());
        directory.extend(&own.name);
    }
    let (start, length) = (bytes.len(), directory.len());
    bytes.extend(directory);
    end(&mut bytes, entries.len(), length, start);
    bytes
}

/// The record that ends a package: how many entries, how long their directory is and where it starts.
fn end(bytes: &mut Vec<u8>, entries: usize, length: usize, start: usize) {
    bytes.extend(b"PK\x05\x06\0\0\0\0");
    for _ in 0..2 {
        bytes.extend((entries as u16).to_le_bytes());
    }
    bytes.extend((length as u32).to_le_bytes());
    bytes.extend((start as u32).to_le_bytes());
    bytes.extend([0, 0]);
}

/// CRC-32 as zip files carry it.
fn checksum(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for byte in bytes {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 { crc >> 1 ^ 0xedb8_8320 } else { crc >> 1 };
        }
    }
    !crc
}
