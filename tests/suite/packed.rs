//! Banks packed with gzip and Zstandard, told by their first bytes.

use super::audits::{corpus, run, scratch};
use super::witness::text;
use flate2::Compression;
use flate2::read::GzEncoder;
use keyassay::bank::{Format, OpenError, Settings, open};
use ruzstd::encoding::{CompressionLevel, compress_to_vec};
use std::fs;
use std::io::{Cursor, Read, Write as _};
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

/// The banks of a folder in a zip file: the rows of the audit are those of the folder, but for the names of files.
#[test]
fn a_zip_file_of_banks_is_read_as_its_banks() {
    let folder = scratch("zipped");
    fs::create_dir_all(folder.join("banks/sets")).expect("a folder");
    let mut zip = zip::ZipWriter::new(fs::File::create(folder.join("banks.zip")).expect("a file"));
    let options = zip::write::SimpleFileOptions::default();
    let names = ["choices.csv", "resonance.csv", "mechanisms.jsonl", "carbonyls.cml"];
    let mut banks: Vec<(String, Vec<u8>)> = names
        .iter()
        .map(|name| (format!("sets/{name}"), fs::read(corpus().join("demonstration").join(name)).expect("a bank")))
        .collect();
    banks.push(("a.smi".to_owned(), b"[OH-].CBr>>OC.[Br-]\t1 -> 1-2; 2-3 -> 3\ts1\n".to_vec()));
    banks.push((
        "b.csv.gz".to_owned(),
        gzip(b"set of 2019\nid,start,arrows,answer\nq,[CH2-]C=O,1 -> 1-2; 2-3 -> 3,C\n"),
    ));
    banks.push(("people.csv".to_owned(), b"name,mail\nM. Ames,ames@example.org\n".to_vec()));
    banks.push(("notes.txt".to_owned(), b"no bank".to_vec()));
    banks.sort();
    for (name, bytes) in &banks {
        fs::write(folder.join("banks").join(name), bytes).expect("a bank");
        zip.start_file(name.as_str(), options).and_then(|()| Ok(zip.write_all(bytes)?)).expect("an entry");
    }
    zip.finish().expect("a zip file");
    let mut failures = Vec::new();
    let audit = |path: &str, out: &str| {
        let done = run(&folder, &["audit", path, "--out", out, "--write", "csv"]);
        let table = fs::read_to_string(folder.join(out).join("audit.csv")).unwrap_or_default();
        (done.status.code(), table, String::from_utf8_lossy(&done.stdout).into_owned())
    };
    let whole = audit("banks", "of-folder");
    let zipped = audit("banks.zip", "of-zip");
    if whole.1.replace("banks/", "") != zipped.1.replace("banks.zip/", "") || whole.1.lines().count() < 20 {
        failures.push(format!("{}\n{}", whole.1, zipped.1));
    }
    let first = |text: &str| text.lines().next().unwrap_or_default().to_owned();
    if whole.0 != zipped.0 || first(&whole.2) != first(&zipped.2) {
        failures.push(format!("{whole:?}\n{zipped:?}"));
    }
    for words in ["passed over: banks.zip/people.csv", "without a question: banks.zip/b.csv.gz: 1 row (line 1)"] {
        if !zipped.2.contains(words) {
            failures.push(format!("{words}\n{}", zipped.2));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
