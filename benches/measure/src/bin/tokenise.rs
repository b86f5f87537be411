//! Only reads a table with the csv crate and tokenises its SMILES: the least that any audit of it must do.
//!
//!     tokenise bank.csv

use std::env;
use std::process::ExitCode;

/// Counts the tokens of a SMILES: bracket atoms, two-letter symbols, everything else a byte.
fn tokens(text: &[u8]) -> u64 {
    let (mut at, mut count) = (0, 0);
    while let Some(byte) = text.get(at) {
        at += match (byte, text.get(at + 1)) {
            (b'[', _) => text[at..].iter().position(|byte| *byte == b']').map_or(1, |length| length + 1),
            (b'C', Some(b'l')) | (b'B', Some(b'r')) => 2,
            (b'%', _) => 3,
            _ => 1,
        };
        count += 1;
    }
    count
}

fn main() -> ExitCode {
    let Some(path) = env::args_os().nth(1) else { return ExitCode::from(2) };
    let Ok(mut reader) = csv::ReaderBuilder::new().buffer_capacity(1 << 16).from_path(path) else {
        return ExitCode::from(2);
    };
    let column = |headers: &csv::ByteRecord, name: &str| headers.iter().position(|own| own == name.as_bytes());
    let Ok(headers) = reader.byte_headers().cloned() else { return ExitCode::from(2) };
    let columns: Vec<usize> = ["start", "answer"].iter().filter_map(|name| column(&headers, name)).collect();
    let mut row = csv::ByteRecord::new();
    let (mut items, mut count) = (0_u64, 0);
    while reader.read_byte_record(&mut row).unwrap_or(false) {
        items += 1;
        count += columns.iter().filter_map(|at| row.get(*at)).map(tokens).sum::<u64>();
    }
    println!("{items} items, {count} tokens");
    ExitCode::SUCCESS
}
