//! Only reads a table with the csv crate, its SMILES into drawings and its arrows into arrows: what whoever compares the meaning of
//! items must do first.
//!
//!     drawings bank.csv

use keyassay::{arrows, smiles};
use std::env;
use std::process::ExitCode;

/// As many arrows as are read of a field.
const ARROWS: usize = 1000;

fn main() -> ExitCode {
    let Some(path) = env::args_os().nth(1) else { return ExitCode::from(2) };
    let Ok(mut reader) = csv::ReaderBuilder::new().buffer_capacity(1 << 16).from_path(path) else {
        return ExitCode::from(2);
    };
    let Ok(headers) = reader.headers().cloned() else { return ExitCode::from(2) };
    let column = |name: &str| headers.iter().position(|own| own == name);
    let (Some(start), Some(moved), Some(answer)) = (column("start"), column("arrows"), column("answer")) else {
        return ExitCode::from(2);
    };
    let mut row = csv::StringRecord::new();
    let (mut items, mut atoms, mut count) = (0_u64, 0, 0);
    while reader.read_record(&mut row).unwrap_or(false) {
        let field = |at| row.get(at).unwrap_or_default();
        items += 1;
        atoms += [start, answer].map(|at| smiles::read(field(at)).structure.atom_count()).iter().sum::<usize>();
        count += arrows::notation::read(field(moved), ARROWS).arrows.len();
    }
    println!("{items} items, {atoms} atoms, {count} arrows");
    ExitCode::SUCCESS
}
