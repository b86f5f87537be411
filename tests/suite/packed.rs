//! Banks packed with gzip and Zstandard, told by their first bytes.

use super::witness::text;
use flate2::Compression;
use flate2::read::GzEncoder;
use keyassay::bank::{Format, OpenError, Settings, open};
use ruzstd::encoding::{CompressionLevel, compress_to_vec};
use std::io::{Cursor, Read};
use std::sync::Arc;

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut packed = Vec::new();
    GzEncoder::new(bytes, Compression::fast()).read_to_end(&mut packed).expect("memory can be read");
    packed
}

fn zstandard(bytes: &[u8]) -> Vec<u8> {
    compress_to_vec(bytes, CompressionLevel::Fastest)
}

/// The number of items, or what is said instead.
fn items(format: Format, bytes: Vec<u8>) -> Result<usize, String> {
    let told = |error: OpenError| error.to_string();
    let mut source =
        open("bank", format, Box::new(Cursor::new(bytes)), &Arc::new(Settings::default())).map_err(told)?;
    let mut count = 0;
    while let Some(batch) = source.next_batch().map_err(|error| error.to_string())? {
        count += batch.records().1.len();
    }
    Ok(count)
}

#[test]
fn packed_banks_are_read_as_what_is_packed_in_them() {
    let lines = text("differential.jsonl");
    let (first, second) = lines.split_at(lines.len() / 2);
    let csv = "id,start,arrows,answer\nq1,C=O,1-2 -> 2,[CH2+][O-]\n";
    let cml = include_str!("../../corpus/demonstration/carbonyls.cml");
    let banks = [(Format::JsonLines, lines.as_str()), (Format::Csv, csv), (Format::Xml, cml)];
    let mut failures = Vec::new();
    for (format, text) in banks {
        let plain = items(format, text.as_bytes().to_vec());
        for packed in [gzip(text.as_bytes()), zstandard(text.as_bytes())] {
            let found = items(format, packed.clone());
            if found != plain || plain == Ok(0) {
                failures.push(format!("{format:?}: {found:?}, plain {plain:?}"));
            }
            let cut = items(format, packed[..packed.len() - packed.len() / 3].to_vec());
            if !cut.as_ref().is_err_and(|told| told.contains("damaged or cut short")) && format != Format::Xml {
                failures.push(format!("{format:?}, cut short: {cut:?}"));
            }
        }
        for twice in [gzip(&zstandard(text.as_bytes())), zstandard(&gzip(text.as_bytes()))] {
            if !items(format, twice).is_err_and(|told| told.contains("packed twice")) {
                failures.push(format!("{format:?}: packed twice"));
            }
        }
    }
    // Members and frames one behind the other are one file.
    for pack in [gzip, zstandard] {
        let both = [pack(first.as_bytes()), pack(second.as_bytes())].concat();
        if items(Format::JsonLines, both) != items(Format::JsonLines, lines.clone().into_bytes()) {
            failures.push("two parts one behind the other".to_owned());
        }
        if !items(Format::Csv, pack(b"")).is_err_and(|told| told.contains("it is empty")) {
            failures.push("packed emptiness".to_owned());
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
