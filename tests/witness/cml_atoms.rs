//! What keyassay reads from CML files, one JSON line a molecule: for `cml_openbabel.py`, which compares it with Open Babel.

use keyassay::cml::{Content, Reader};
use keyassay::limits::Limits;
use keyassay::structure::localise::localise;
use keyassay::structure::{Element, OctetRule, Structure, electrons};
use serde_json::{Value, json};
use std::fs::File;
use std::io::BufReader;

fn main() -> std::io::Result<()> {
    for path in std::env::args().skip(1) {
        for record in Reader::new(BufReader::new(File::open(&path)?), &Limits::default()) {
            match record.content {
                Content::Molecule(molecule) => {
                    let faults: Vec<String> = molecule.faults.iter().map(|fault| fault.problem.to_string()).collect();
                    println!("{}", picture(&path, &molecule.structure, &faults));
                }
                Content::Unreadable(fault) => {
                    println!("{}", picture(&path, &Structure::default(), &[fault.problem.to_string()]));
                }
                Content::Questions(_) => {}
            }
        }
    }
    Ok(())
}

fn picture(path: &str, structure: &Structure, faults: &[String]) -> Value {
    let is_hydrogen = |atom| structure.atom(atom).element == Element::HYDROGEN;
    let atoms: Vec<Value> = structure
        .atoms()
        .map(|(id, atom)| {
            let drawn = structure.neighbours(id).filter(|(other, _)| is_hydrogen(*other)).count();
            json!([atom.element.symbol(), atom.charge, usize::from(atom.hydrogens) + drawn])
        })
        .collect();
    let bonds: Vec<Value> = structure
        .bonds()
        .map(|(_, a, b, bond)| {
            let order = if bond.aromatic { Value::from("A") } else { Value::from(bond.order) };
            json!([a.index().min(b.index()), a.index().max(b.index()), order])
        })
        .collect();
    let mut localised = structure.clone();
    let _ = localise(&mut localised);
    let over_full: Vec<String> =
        electrons::faults(&localised, OctetRule::Usual).iter().map(|(atom, _)| structure.call(*atom)).collect();
    json!({"electrons": over_full, "file": path, "atoms": atoms, "bonds": bonds, "faults": faults})
}
