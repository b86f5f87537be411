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
        "bomb-ratio" => zeros(300 << 20)?,
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
    let (start, length) = (bytes.len() as u32, directory.len() as u32);
    bytes.extend(directory);
    bytes.extend(b"PK\x05\x06\0\0\0\0");
    for _ in 0..2 {
        bytes.extend((entries.len() as u16).to_le_bytes());
    }
    bytes.extend(length.to_le_bytes());
    bytes.extend(start.to_le_bytes());
    bytes.extend([0, 0]);
    bytes
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
