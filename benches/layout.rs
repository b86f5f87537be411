//! Layout quality on a list of SMILES, as numbers: `cargo bench --bench layout -- FILE [--points TSV] [--list KIND]
//! [--molfiles SDF]`.
//!
//! FILE holds a SMILES first on every line. With `--points`, coordinates from elsewhere are measured instead of our own:
//! line by line the points of the molecule's atoms as `x,y` separated by spaces. `--list` prints the lines with a defect of
//! that kind (`any`, `length`, `close`, `on-bond`, `straight`, `side`, `crossing`). Defects are defined in
//! `drawing::layout::measure`. `--molfiles` writes what is drawn, coordinates and wedges, as V2000 molfiles one after the other,
//! for readers that are not ours (`tests/witness/stereo_drawn.py`).

#![allow(clippy::cast_precision_loss, reason = "counts of molecules are far below 2^52")]

use keyassay::drawing::geometry::Position;
use keyassay::drawing::layout::measure::{Defects, Picture, Side};
use keyassay::drawing::layout::{View, lay_out, rings_of};
use keyassay::drawing::{Scene, hydrogens_of, wedges_of};
use keyassay::structure::electrons::unpaired;
use keyassay::structure::localise::localise;
use keyassay::structure::{AtomId, Structure};
use std::fmt::Write as _;
use std::time::{Duration, Instant};

#[derive(Default)]
struct Totals {
    molecules: usize,
    unread: usize,
    faultless: usize,
    without_crossing: usize,
    length: usize,
    close: usize,
    on_bond: usize,
    straight: usize,
    sides_stated: usize,
    sides_wrong: usize,
    crossing: usize,
    time: Duration,
    slowest: (Duration, String),
    /// Molfiles of all molecules, where they are wanted.
    molfiles: Option<String>,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| argument != "--bench").collect();
    let Some(path) = arguments.first().filter(|first| !first.starts_with("--")) else {
        println!("layout: no list of SMILES given, nothing measured");
        return Ok(());
    };
    let option = |name: &str| arguments.iter().position(|own| own == name).and_then(|at| arguments.get(at + 1));
    let points = option("--points").map(std::fs::read_to_string).transpose()?;
    let list = option("--list").map_or("", String::as_str);
    let text = std::fs::read_to_string(path)?;
    let mut given = points.as_deref().map(str::lines);
    let molfiles = option("--molfiles");
    let mut totals = Totals { molfiles: molfiles.map(|_| String::new()), ..Totals::default() };
    for line in text.lines() {
        let smiles = line.split_whitespace().next().unwrap_or_default();
        let stated = given.as_mut().map(|lines| lines.next().unwrap_or_default());
        measure(smiles, stated, list, &mut totals);
    }
    print(&totals);
    if let Some((path, text)) = molfiles.zip(totals.molfiles) {
        std::fs::write(path, text)?;
    }
    Ok(())
}

fn measure(smiles: &str, stated: Option<&str>, list: &str, totals: &mut Totals) {
    let reading = keyassay::smiles::read(smiles);
    if !reading.faults.is_empty() || reading.structure.is_empty() {
        totals.unread += 1;
        return;
    }
    let structure = reading.structure;
    let began = Instant::now();
    let points = match stated {
        Some(line) => line.split(' ').filter_map(point).collect(),
        None => lay_out(&[View::same(&structure)]).remove(0),
    };
    let took = began.elapsed();
    totals.time += took;
    if took > totals.slowest.0 {
        totals.slowest = (took, smiles.to_owned());
    }
    if points.len() != structure.atom_count() {
        totals.unread += 1;
        return;
    }
    if let Some(out) = &mut totals.molfiles {
        molfile(smiles, &structure, &points, out);
    }
    let defects = defects(&structure, &points);
    count(&defects, structure.stereo.double_bonds.len(), totals);
    let counts = [
        ("length", defects.lengths),
        ("close", defects.close),
        ("on-bond", defects.on_bond),
        ("straight", defects.straight),
        ("side", defects.sides),
        ("crossing", defects.crossings),
        ("any", defects.total()),
    ];
    if counts.iter().any(|(kind, number)| *kind == list && *number > 0) {
        println!("{smiles}\t{defects:?}");
    }
}

/// What is drawn of a molecule as a V2000 molfile: its name is the SMILES that was drawn. A double bond without a mark is
/// "either", since its drawing shows a side that nobody stated.
fn molfile(smiles: &str, structure: &Structure, points: &[Position], out: &mut String) {
    let mut drawn = structure.clone();
    if localise(&mut drawn).is_err() {
        return;
    }
    let wedges = wedges_of(&Scene::new(&drawn, points, &[]));
    let hydrogens = hydrogens_of(&Scene::new(&drawn, points, &[]));
    let more = hydrogens.len();
    let _ = write!(out, "{smiles}\n  drawn\n\n{:3}{:3}", drawn.atom_count() + more, drawn.bond_count() + more);
    let _ = writeln!(out, "  0  0  1  0  0  0  0  0999 V2000");
    let mut lines = String::new();
    for (id, atom) in drawn.atoms() {
        let point = points.get(id.index()).copied().unwrap_or_default();
        let bonds: u16 = drawn.neighbours(id).map(|(_, bond)| u16::from(drawn.bond(bond).order)).sum();
        let valence = match bonds + atom.hydrogens {
            0 => 15,
            some => some,
        };
        let _ = writeln!(
            out,
            "{:10.4}{:10.4}{:10.4} {:<3} 0  0  0  0  0{valence:3}  0  0  0  0  0  0",
            point.x,
            point.y,
            0.0,
            atom.element.symbol()
        );
        let at = id.index() + 1;
        let radicals = unpaired(&drawn, id);
        let marks = [
            ("CHG", i32::from(atom.charge)),
            ("ISO", atom.isotope.map_or(0, i32::from)),
            ("RAD", if radicals == 1 { 2 } else { 0 }),
        ];
        for (mark, value) in marks.iter().filter(|(_, value)| *value != 0) {
            let _ = writeln!(lines, "M  {mark}  1 {at:3} {value:3}");
        }
    }
    for (_, at, _) in &hydrogens {
        let _ = writeln!(out, "{:10.4}{:10.4}{:10.4} H   0  0  0  0  0  1  0  0  0  0  0  0", at.x, at.y, 0.0);
    }
    for (_, a, b, bond) in drawn.bonds() {
        let wedge = wedges.iter().find(|(from, to, _)| (*from, *to) == (a, b) || (*from, *to) == (b, a));
        let marked = drawn.stereo.double_bonds.iter().any(|own| own.ends == [a, b] || own.ends == [b, a]);
        let (from, to, stereo) = match wedge {
            Some((from, to, up)) => (*from, *to, if *up { 1 } else { 6 }),
            None if bond.order == 2 && !marked => (a, b, 3),
            None => (a, b, 0),
        };
        let _ = writeln!(out, "{:3}{:3}{:3}{stereo:3}", from.index() + 1, to.index() + 1, bond.order);
    }
    for (at, (centre, _, up)) in hydrogens.iter().enumerate() {
        let (from, to) = (centre.index() + 1, drawn.atom_count() + at + 1);
        let _ = writeln!(out, "{from:3}{to:3}  1{:3}", if *up { 1 } else { 6 });
    }
    let _ = writeln!(out, "{lines}M  END\n$$$$");
}

fn point(text: &str) -> Option<Position> {
    let (x, y) = text.split_once(',')?;
    Some(Position::new(x.parse().ok()?, y.parse().ok()?))
}

fn defects(structure: &Structure, points: &[Position]) -> Defects {
    let bonds: Vec<[usize; 2]> = structure.bonds().map(|(_, a, b, _)| [a.index(), b.index()]).collect();
    let mut in_ring = vec![false; bonds.len()];
    for ring in rings_of(structure) {
        for (a, b) in ring.iter().zip(ring.iter().cycle().skip(1)) {
            if let Some(bond) = structure.bond_between(AtomId::new(*a), AtomId::new(*b)) {
                in_ring[bond.index()] = true;
            }
        }
    }
    let sides: Vec<Side> = structure
        .stereo
        .double_bonds
        .iter()
        .map(|bond| Side {
            ends: bond.ends.map(AtomId::index),
            references: bond.references.map(AtomId::index),
            same: bond.same_side,
        })
        .collect();
    Picture { points, bonds: &bonds, in_ring: &in_ring, sides: &sides }.defects()
}

fn count(defects: &Defects, sides: usize, totals: &mut Totals) {
    let mut add = |what: fn(&mut Totals) -> &mut usize, number: usize| *what(totals) += usize::from(number > 0);
    add(|t| &mut t.length, defects.lengths);
    add(|t| &mut t.close, defects.close);
    add(|t| &mut t.on_bond, defects.on_bond);
    add(|t| &mut t.straight, defects.straight);
    add(|t| &mut t.crossing, defects.crossings);
    totals.molecules += 1;
    totals.faultless += usize::from(defects.total() == 0);
    totals.without_crossing += usize::from(defects.total() + defects.crossings == 0);
    totals.sides_stated += sides;
    totals.sides_wrong += defects.sides;
}

fn print(totals: &Totals) {
    let share = |number: usize| 100.0 * number as f64 / totals.molecules.max(1) as f64;
    println!("molecules measured        {}", totals.molecules);
    println!("not read or without points {}", totals.unread);
    println!("without a defect          {:.2} %", share(totals.faultless));
    println!("  and without a crossing  {:.2} %", share(totals.without_crossing));
    println!("with a bond off length    {}", totals.length);
    println!("with atoms too close      {}", totals.close);
    println!("with an atom on a bond    {}", totals.on_bond);
    println!("with a straight ring atom {}", totals.straight);
    println!("with crossing bonds       {}", totals.crossing);
    println!("marked double bonds       {} of which wrong {}", totals.sides_stated, totals.sides_wrong);
    println!("mean time a molecule      {:?}", totals.time / totals.molecules.max(1) as u32);
    println!("slowest                   {:?} {}", totals.slowest.0, totals.slowest.1);
}
