//! Flaws of the drawings on cards, as numbers: `cargo bench --bench panels -- FILE [--list KIND]`.
//!
//! FILE holds one JSON object a line with `id`, `start`, `arrows` and the right `answer`. Each step is judged and laid out as a
//! card does it; flaws are defined in `drawing::flaws`. The answer is drawn as it is written, without its labels, and without
//! labels and with its hydrogens undrawn: each is right, so each must look like the recomputed product. Then the answer is made wrong in
//! the ways of authors (not redrawn, a charge lost or turned), and the rows of the ledger that are marked as differing are counted:
//! none may name the charge that the arrows lead to. `--list KIND` prints the ids with a flaw, by the name of the row.

#![allow(clippy::cast_precision_loss, reason = "counts of steps are far below 2^52")]

use keyassay::bank::{Arrows, Chunk, Drawing, Field, Item, Record, Step};
use keyassay::drawing::Scene;
use keyassay::drawing::flaws::{Flaws, flaws};
use keyassay::findings::{Context, Settings, StepAudit, judge};
use keyassay::report::html::{marked_rows, scenes_of};
use keyassay::smiles::{self, Labels};
use keyassay::structure::localise::localise;
use keyassay::structure::{AtomId, Element, Structure};
use std::collections::BTreeMap;
use std::time::{Duration, Instant};

/// Wrong answers of one step whose ledgers are counted.
const MOST_WRONG: usize = 12;

#[derive(serde::Deserialize)]
struct Line {
    id: String,
    start: String,
    arrows: String,
    answer: String,
}

#[derive(Default)]
struct Rows {
    list: Option<String>,
    of: BTreeMap<&'static str, (usize, usize)>,
    longest: f64,
    time: Duration,
}

impl Rows {
    fn count(&mut self, row: &'static str, id: &str, flawed: bool) {
        let (with, all) = self.of.entry(row).or_default();
        *with += usize::from(flawed);
        *all += 1;
        if flawed && self.list.as_deref() == Some(row) {
            println!("{id}");
        }
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| argument != "--bench").collect();
    let Some(path) = arguments.first().filter(|first| !first.starts_with("--")) else {
        println!("panels: no list of steps given, nothing measured");
        return Ok(());
    };
    let list = arguments.iter().position(|own| own == "--list").and_then(|at| arguments.get(at + 1)).cloned();
    let mut rows = Rows { list, ..Rows::default() };
    for line in std::fs::read_to_string(path)?.lines() {
        let line = serde_json::from_str(line)?;
        measure(&line, &mut rows);
        count_ledger(&line, &mut rows);
    }
    for (row, (with, all)) in &rows.of {
        println!("{row:<42} {with:>5} of {all:>5}  {:>6.2} %", 100.0 * *with as f64 / (*all).max(1) as f64);
    }
    println!("longest bond of a product: {:.1} median lengths", rows.longest);
    println!("layout of all cards: {:?}", rows.time);
    Ok(())
}

fn measure(line: &Line, rows: &mut Rows) {
    let bare = strip(&line.answer);
    for (row, answer) in [
        ("right answer drawn otherwise: as written", line.answer.clone()),
        ("right answer drawn otherwise: no labels", bare.clone()),
        ("right answer drawn otherwise: no hydrogens", folded(&bare)),
    ] {
        let Some(step) = judged(line, &answer) else {
            rows.count("not judged", &line.id, true);
            continue;
        };
        let right = step.compared.as_ref().is_some_and(keyassay::compare::Compared::is_equal);
        let began = Instant::now();
        scenes_of(&step, |scenes| {
            rows.time += began.elapsed();
            let of = |wanted: usize| scenes.iter().find(|(at, _)| *at == wanted).map(|(_, scene)| scene);
            if row.ends_with("written") {
                let start = of(0).map(flaws);
                if let Some(start) = start {
                    count_start(&line.id, &start, rows);
                }
                if let (Some(start), Some(product)) = (start, of(1).map(flaws)) {
                    count_product(&line.id, &start, &product, rows);
                }
            }
            if let (Some(product), Some(stated)) = (of(1).filter(|_| right), of(2)) {
                rows.count(row, &line.id, drawn(product) != drawn(stated));
            }
        });
    }
}

/// The answers of authors who went wrong: the start, and the answer with one charge lost, turned or too many.
fn wrong_answers(line: &Line) -> Vec<String> {
    let mut all = vec![line.start.clone()];
    let answer = smiles::read(&line.answer).structure;
    for atom in answer.atom_ids() {
        let charge = answer.atom(atom).charge;
        let charges: &[i16] = if charge == 0 { &[1] } else { &[0, -charge] };
        for own in charges {
            let mut wrong = answer.clone();
            wrong.atom_mut(atom).charge = *own;
            all.push(smiles::write(&wrong, Labels::Classes));
        }
    }
    all
}

/// Counts the marked rows of the ledgers of faulty items, and those that name the charge that is right.
fn count_ledger(line: &Line, rows: &mut Rows) {
    for answer in wrong_answers(line).into_iter().take(MOST_WRONG) {
        let Some(step) = judged(line, &answer) else { continue };
        for [charge, words] in marked_rows(&step) {
            let names_it = words.split(", ").any(|own| own.strip_prefix("stated ") == Some(charge.as_str()));
            rows.count("ledger: row marked though the charge is equal", &line.id, names_it);
        }
    }
}

fn count_start(id: &str, own: &Flaws, rows: &mut Rows) {
    rows.count("start: number of an atom struck by a bond", id, own.struck_labels > 0);
    rows.count("start: arrow through the number of an atom", id, own.pierced_labels > 0);
    rows.count("start: number of an arrow struck", id, own.struck_numbers > 0);
    rows.count("start: arrow through text", id, own.through_text > 0);
    rows.count("start: arrows cross", id, own.arrow_crossings > 0);
    rows.count("start: heads within 6 units", id, own.near_heads > 0);
    rows.count("start: atoms closer than 0.4", id, own.close_atoms > 0);
    rows.count("start: atom on a foreign bond", id, own.on_bond > 0);
    rows.count("start: bond over 1.5 lengths", id, own.long_bonds > 0);
    let any = own.struck_labels
        + own.pierced_labels
        + own.struck_numbers
        + own.through_text
        + own.arrow_crossings
        + own.near_heads
        + own.close_atoms
        + own.on_bond
        + own.long_bonds;
    rows.count("start: any of these", id, any > 0);
}

fn count_product(id: &str, start: &Flaws, own: &Flaws, rows: &mut Rows) {
    rows.count("product: number of an atom struck by a bond", id, own.struck_labels > 0);
    rows.count("product: atoms closer than 0.4", id, own.close_atoms > 0);
    rows.count("product: atom on a foreign bond", id, own.on_bond > 0);
    rows.count("product: bond over 1.5 lengths", id, own.long_bonds > 0);
    rows.count("product: more crossings than the start", id, own.bond_crossings > start.bond_crossings);
    let any = own.struck_labels + own.close_atoms + own.on_bond + own.long_bonds;
    rows.count("product: any of these", id, any > 0 || own.bond_crossings > start.bond_crossings);
    rows.longest = rows.longest.max(own.longest);
}

fn judged(line: &Line, answer: &str) -> Option<StepAudit> {
    let text = format!("{}\n{}\n{answer}", line.start, line.arrows);
    let field = |text: &str, start: usize| Field { text: text.to_owned(), start: start as u32, ..Field::default() };
    let step = Step {
        start: Some(Drawing::Text(field(&line.start, 0))),
        arrows: Some(Arrows::Text(field(&line.arrows, line.start.len() + 1))),
        answer: Some(Drawing::Text(field(answer, line.start.len() + line.arrows.len() + 2))),
        ..Step::default()
    };
    let mut chunk = Chunk::default();
    (chunk.text, chunk.first_line) = (text, 1);
    let settings = Settings::default();
    let context = Context::new(&settings, &chunk);
    let record = Record { line: 1, content: Ok(Item { steps: vec![step], ..Item::default() }) };
    judge(&context, &record, "panels").steps.into_iter().next()
}

/// A SMILES without its atom classes.
fn strip(text: &str) -> String {
    let mut out = String::new();
    let mut in_class = false;
    for c in text.chars() {
        in_class = c == ':' && out.rfind('[') > out.rfind(']') || (in_class && c.is_ascii_digit());
        if !in_class {
            out.push(c);
        }
    }
    out
}

/// A SMILES with its drawn hydrogens undrawn.
fn folded(text: &str) -> String {
    let mut structure = smiles::read(text).structure;
    // Rings are written in one localised form: without it their bonds would be written as single ones.
    if localise(&mut structure).is_err() {
        return text.to_owned();
    }
    let folds = |structure: &Structure, atom: AtomId| {
        let own = structure.atom(atom);
        let carrier = structure.neighbours(atom).next().map(|(other, _)| other);
        let plain = own.element == Element::HYDROGEN && own.charge == 0 && own.isotope.is_none();
        carrier.filter(|other| plain && structure.degree(atom) == 1 && structure.atom(*other).element != own.element)
    };
    let gone: Vec<AtomId> = structure.atom_ids().filter(|atom| folds(&structure, *atom).is_some()).collect();
    for atom in &gone {
        if let Some(carrier) = folds(&structure, *atom) {
            structure.atom_mut(carrier).hydrogens += 1;
        }
    }
    smiles::write(&structure.part(|atom| !gone.contains(&atom)), Labels::Without)
}

/// What a picture shows, in no order: atoms with what is written, and bonds, at their places.
fn drawn(scene: &Scene) -> Vec<String> {
    let at = |atom: AtomId| {
        let point = scene.coordinates.get(atom.index()).copied().unwrap_or_default();
        ((point.x * 50.0).round() as i64, (point.y * 50.0).round() as i64)
    };
    let mut all: Vec<String> = scene
        .structure
        .atoms()
        .map(|(id, own)| format!("{:?} {} {} {}", at(id), own.element.symbol(), own.hydrogens, own.charge))
        .collect();
    all.extend(scene.structure.bonds().map(|(_, a, b, bond)| {
        let (a, b) = (at(a).min(at(b)), at(a).max(at(b)));
        format!("{a:?} {b:?} {}", bond.order)
    }));
    all.extend(scene.labels.iter().map(|atom| format!("{:?} labelled", at(*atom))));
    all.sort();
    all
}
