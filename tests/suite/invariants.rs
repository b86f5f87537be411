//! What must hold of any bytes whatever. The fuzz targets in `fuzz/` run these, and so does the suite on their seeds and on every
//! input that once broke one: each is a function of bytes that ends, or panics with what does not hold.

use keyassay::arrows::resolve::resolve;
use keyassay::arrows::{Arrow, notation, push};
use keyassay::audit::{Audited, Content, Input, Plan, Reporter, Summary, Totals, run};
use keyassay::bank::amend::{Edit, amend};
use keyassay::bank::fields::Name;
use keyassay::bank::{Arrows, Batch, Drawing, Format, Item, Record, Settings, open};
use keyassay::cml;
use keyassay::compare::stereo::same_drawing_and_stereo;
use keyassay::compare::{arrows_between, decide};
use keyassay::drawing::layout::{View, lay_out};
use keyassay::drawing::{self, Pairs, Scene};
use keyassay::findings::{Context, Settings as JudgeSettings, judge};
use keyassay::limits::Limits;
use keyassay::qti::zip::ZipWriter;
use keyassay::smiles::{self, Labels};
use keyassay::structure::electrons::Electrons;
use keyassay::structure::localise::localise;
use keyassay::structure::{LabelIndex, Structure};
use std::fmt::Write as _;
use std::io::Cursor;
use std::sync::Arc;

#[path = "invariants_reports.rs"]
mod reports;

/// A check, by the name of its target and of the folder of its seeds.
pub type Check = (&'static str, fn(&[u8]));

/// All checks.
pub const CHECKS: [Check; 18] = [
    ("smiles", smiles),
    ("arrows", arrows),
    ("push", pushing),
    ("infer", infer),
    ("draw", pictures),
    ("cml", document),
    ("csv", |bytes| bank(Format::Csv, bytes)),
    ("json", |bytes| bank(if bytes.starts_with(b"[") { Format::Json } else { Format::JsonLines }, bytes)),
    ("reaction", |bytes| bank(Format::ReactionSmiles, bytes)),
    ("qti", package_of),
    ("zip", |bytes| bank(Format::Package, bytes)),
    ("profile", profile),
    ("known", known),
    ("amend", amended),
    ("audit", audit),
    ("workbook", |bytes| reports::workbook(bytes).iter().for_each(|book| bank(Format::Workbook, book))),
    ("guess", reports::guess),
    ("page", reports::page),
];

/// Steps of searches: enough for what a fuzzer writes, few enough that it goes on.
const STEPS: u64 = 2_000;

/// Caps as a profile could set them, so that inputs of a few kilobytes meet them too.
fn limits() -> Limits {
    Limits { search_steps: STEPS, forms: 16, slip_atoms: 2_000, contributors: 64, ..Limits::default() }
}

fn text(bytes: &[u8]) -> Option<&str> {
    std::str::from_utf8(bytes).ok()
}

fn readable(text: &str) -> Option<Structure> {
    let reading = smiles::read(text);
    reading.faults.is_empty().then_some(reading.structure)
}

/// A SMILES that is written reads back as the same drawing with the same stereochemistry.
pub fn smiles(bytes: &[u8]) {
    let Some(structure) = text(bytes).and_then(readable) else { return };
    let written = smiles::write(&structure, Labels::Classes);
    let Some(again) = readable(&written) else { panic!("{written} does not read back") };
    assert_eq!(structure.atom_count(), again.atom_count(), "{written}");
    assert_eq!(structure.net_charge(), again.net_charge(), "{written}");
    // Undecided is an answer for the very symmetric.
    let same = same_drawing_and_stereo(&structure, &again, STEPS);
    assert_ne!(same, Some(false), "{written} is another drawing");
    let labels = |own: &Structure| own.atom_ids().filter_map(|atom| own.label(atom)).count();
    assert_eq!(labels(&structure), labels(&again), "{written}");
}

/// Arrows that are written read back as the same.
pub fn arrows(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let reading = notation::read(text, 1_000);
    for fault in &reading.faults {
        assert!(text.get(fault.span.start as usize..fault.span.end as usize).is_some(), "{:?}", fault.span);
    }
    if !reading.faults.is_empty() {
        return;
    }
    let written = notation::write(&reading.arrows);
    let again = notation::read(&written, 1_000);
    assert!(again.faults.is_empty(), "{written}");
    assert_eq!(notation::write(&again.arrows), written);
    assert_eq!(again.arrows.len(), reading.arrows.len(), "{written}");
}

/// Electrons of a localised structure, in bonds and out of them; what is not counted for atoms of the d- and f-block makes no sum.
fn electrons(structure: &Structure) -> Option<i64> {
    if structure.atoms().any(|(_, atom)| !atom.element.is_judged()) {
        return None;
    }
    let own = structure.atom_ids().filter_map(|id| Electrons::of(structure, id).non_bonding()).map(i64::from);
    let bonds = structure.bonds().map(|(_, _, _, bond)| 2 * i64::from(bond.order));
    let hydrogens = structure.atoms().map(|(_, atom)| 2 * i64::from(atom.hydrogens));
    Some(own.sum::<i64>() + bonds.sum::<i64>() + hydrogens.sum::<i64>())
}

/// A start and arrows on two lines: a push keeps the charge and the electrons.
pub fn pushing(bytes: &[u8]) {
    let Some((start, arrows)) = text(bytes).and_then(|text| text.split_once('\n')) else { return };
    let Some(mut start) = readable(start) else { return };
    if localise(&mut start).is_err() {
        return;
    }
    start.label_by_position();
    let labels = LabelIndex::new(&start);
    let resolved = resolve(start, &labels, &notation::read(arrows, 1_000).arrows);
    let arrows: Vec<Arrow> = resolved.arrows.iter().map(|(_, open)| open.arrow).collect();
    let Ok(pushed) = push(&resolved.start, &arrows) else { return };
    assert_eq!(resolved.start.net_charge(), pushed.product.net_charge(), "charge");
    assert_eq!(electrons(&resolved.start), electrons(&pushed.product), "electrons");
    assert_eq!(resolved.start.atom_count(), pushed.product.atom_count(), "atoms");
}

/// A start and arrows on two lines: start, arrows and product make a picture that is whole and has numbers for places.
pub fn pictures(bytes: &[u8]) {
    let Some((start, arrows)) = text(bytes).and_then(|text| text.split_once('\n')) else { return };
    let Some(mut start) = readable(start).filter(|start| start.atom_count() <= 200) else { return };
    // What has no localised form is drawn too.
    let is_localised = localise(&mut start).is_ok();
    start.label_by_position();
    let labels = LabelIndex::new(&start);
    let resolved = resolve(start, &labels, &notation::read(arrows, 100).arrows);
    let arrows: Vec<Arrow> = resolved.arrows.iter().map(|(_, open)| open.arrow).collect();
    let product = is_localised.then(|| push(&resolved.start, &arrows).ok()).flatten().map(|pushed| pushed.product);
    let views: Vec<View> = std::iter::once(&resolved.start).chain(&product).map(View::same).collect();
    let places = lay_out(&views);
    for (at, view) in views.iter().enumerate() {
        assert!(places[at].is_empty() || places[at].len() == view.structure.atom_count(), "an atom without a place");
        let arrows = if at == 0 { &arrows[..] } else { &[] };
        let svg = drawing::svg(&Scene { pairs: Pairs::All, ..Scene::new(view.structure, &places[at], arrows) });
        let is_number = |word: &str| word != "NaN" && word != "inf";
        assert!(svg.split(|c: char| !c.is_ascii_alphanumeric()).all(is_number), "{svg}");
        for record in cml::Reader::new(svg.as_bytes(), &Limits::default()) {
            assert!(!matches!(record.content, cml::Content::Unreadable(_)), "{svg}");
        }
    }
}

/// A start and an answer on two lines: arrows that are inferred lead from one to the other.
pub fn infer(bytes: &[u8]) {
    let Some((start, answer)) = text(bytes).and_then(|text| text.split_once('\n')) else { return };
    let (Some(mut start), Some(mut answer)) = (readable(start), readable(answer)) else { return };
    if start.atom_count().max(answer.atom_count()) > 60
        || localise(&mut start).is_err()
        || localise(&mut answer).is_err()
    {
        return;
    }
    start.label_by_position();
    let labels = LabelIndex::new(&start);
    let Ok(found) = arrows_between(&start, &answer, &labels, STEPS) else { return };
    for way in &found.ways {
        let pushed = push(&found.start, way).unwrap_or_else(|faults| panic!("{faults:?}"));
        assert_eq!(found.start.net_charge(), pushed.product.net_charge(), "charge");
        let decision = decide(&pushed.product, &answer, &labels, STEPS);
        let is_other = decision.agreement() == keyassay::compare::Agreement::Different;
        assert!(!is_other, "the arrows lead to {}", smiles::write(&pushed.product, Labels::Classes));
    }
}

/// Documents of CML are read to their end; molecules that are written are read back.
pub fn document(bytes: &[u8]) {
    let limits = limits();
    for record in cml::Reader::new(bytes, &limits) {
        let cml::Content::Molecule(molecule) = record.content else { continue };
        if !molecule.faults.is_empty() {
            continue;
        }
        let (written, lost) = cml::write_molecule(&molecule.structure);
        if lost.is_empty() && !molecule.structure.is_empty() {
            let (again, faults) = cml::read_molecule(&written, &limits);
            assert!(faults.is_empty(), "{written}\n{faults:?}");
            assert_eq!(again.atom_count(), molecule.structure.atom_count(), "{written}");
            assert_eq!(again.net_charge(), molecule.structure.net_charge(), "{written}");
        }
    }
    bank(Format::Xml, bytes);
}

fn settings() -> Arc<Settings> {
    Arc::new(Settings { limits: limits(), keep_extra: true, ..Settings::default() })
}

fn batches(format: Format, bytes: &[u8]) -> Vec<Batch> {
    let mut batches = Vec::new();
    if let Ok(mut source) = open("bank", format, Box::new(Cursor::new(bytes.to_vec())), &settings()) {
        while let Ok(Some(batch)) = source.next_batch() {
            batches.push(batch);
        }
    }
    batches
}

/// Banks are read to their end, every record is judged, and every place that is told lies in the bank.
fn bank(format: Format, bytes: &[u8]) {
    let judging = JudgeSettings { limits: limits(), ..JudgeSettings::default() };
    for batch in batches(format, bytes) {
        let (chunk, records) = batch.records();
        let context = Context::new(&judging, &chunk);
        for record in &records {
            let judgement = judge(&context, record, "bank");
            assert!(!judgement.id.is_empty(), "a record without a name");
            for spot in judgement.findings.iter().filter_map(|finding| finding.spot.as_ref()) {
                assert!(spot.line > 0 && spot.column > 0 && spot.length > 0, "{spot:?}");
            }
        }
    }
}

/// Texts set apart by lines of `---`: an item of QTI, then names and contents of its companions.
fn package_of(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let mut parts = text.split("\n---\n");
    let item = parts.next().unwrap_or_default();
    let mut manifest = "<manifest><resources><resource type=\"imsqti_item_xmlv2p2\" href=\"i.xml\">".to_owned();
    let mut zip = ZipWriter::new(Vec::new());
    zip.entry("i.xml", item.as_bytes()).expect("memory takes it");
    for (name, content) in parts.filter_map(|part| part.split_once('\n')).take(8) {
        let _ = write!(manifest, "<file href=\"{}\"/>", name.replace(['<', '&', '"'], "_"));
        zip.entry(name, content.as_bytes()).expect("memory takes it");
    }
    manifest.push_str("</resource></resources></manifest>");
    zip.entry("imsmanifest.xml", manifest.as_bytes()).expect("memory takes it");
    bank(Format::Package, &zip.finish().expect("memory takes it"));
}

/// Profiles are read, or every fault has a place in them.
pub fn profile(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    if let Err(faults) = keyassay::profile::read(text) {
        assert!(!faults.is_empty(), "refused without a reason");
        for fault in faults {
            assert!(text.get(fault.span.start as usize..fault.span.end as usize).is_some(), "{fault:?}");
        }
    }
}

/// Lists of known findings are read, or every fault has a place in them.
pub fn known(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    match keyassay::known::read(text, "2026-01-01", keyassay::report::cell::as_written) {
        Ok(known) => assert!(known.entries.iter().all(|entry| entry.line > 0), "a row without a line"),
        Err(faults) => {
            assert!(!faults.is_empty(), "refused without a reason");
            for fault in faults {
                assert!(text.get(fault.span.start as usize..fault.span.end as usize).is_some(), "{fault:?}");
            }
        }
    }
    let cell = keyassay::report::cell::harmless(text);
    assert_eq!(keyassay::report::cell::as_written(&cell), text, "a cell does not come back");
}

/// What an item says, field by field.
fn says(item: &Item) -> Vec<(u32, Name, String)> {
    let mut all = Vec::new();
    for step in &item.steps {
        for (name, drawing) in [(Name::Start, &step.start), (Name::Answer, &step.answer)] {
            if let Some(Drawing::Text(field)) = drawing {
                all.push((step.number, name, field.text.clone()));
            }
        }
        if let Some(Arrows::Text(field)) = &step.arrows {
            all.push((step.number, Name::Arrows, field.text.clone()));
        }
    }
    all.extend(item.key.as_ref().map(|field| (0, Name::Key, field.text.clone())));
    all
}

fn records(format: Format, bytes: &[u8]) -> Vec<Record> {
    batches(format, bytes).into_iter().flat_map(|batch| batch.records().1).collect()
}

/// A byte for the format, a line with what answers are to say, and a bank: every answer is amended or refused, and nothing else
/// is another than before.
pub fn amended(bytes: &[u8]) {
    let Some((first, rest)) = bytes.split_first() else { return };
    let format = [Format::Csv, Format::Tsv, Format::JsonLines, Format::Json, Format::ReactionSmiles];
    let format = format[usize::from(*first) % format.len()];
    let end = rest.iter().position(|byte| *byte == b'\n').unwrap_or(rest.len());
    let (proposed, bank) = (&rest[..end], rest.get(end + 1..).unwrap_or_default());
    let Some(proposed) = text(proposed).filter(|text| !text.trim().is_empty() && text.trim() == *text) else { return };
    let before = records(format, bank);
    let mut edits = Vec::new();
    for record in &before {
        let Ok(item) = &record.content else { continue };
        for (step, field, stated) in says(item) {
            if field == Name::Answer {
                let (line, item, proposed) = (record.line, item.id.clone(), proposed.to_owned());
                edits.push(Edit { file: String::new(), line, item, step, field, stated, proposed });
            }
        }
    }
    let Ok(amended) = amend("bank", format, bank, &settings(), &edits) else { return };
    assert_eq!(amended.applied + amended.refused.len(), edits.len(), "an edit is lost");
    if amended.applied == 0 {
        assert_eq!(amended.bytes, bank, "nothing was applied and the bank is another");
        return;
    }
    let after = records(format, &amended.bytes);
    assert_eq!(before.len(), after.len(), "a record came or went");
    let mut changed = 0;
    for (before, after) in before.iter().zip(&after) {
        let (Ok(before), Ok(after)) = (&before.content, &after.content) else {
            assert_eq!(before.content.is_ok(), after.content.is_ok(), "a record can no longer be read, or can now");
            continue;
        };
        let (before, after) = (says(before), says(after));
        assert_eq!(before.len(), after.len(), "a field came or went");
        for (old, new) in before.iter().zip(&after).filter(|(old, new)| old != new) {
            assert_eq!((old.0, old.1), (new.0, new.1), "another field");
            assert_eq!(old.1, Name::Answer, "{} became {}", old.2, new.2);
            assert_eq!(new.2, proposed, "an answer says something else than proposed");
            changed += 1;
        }
    }
    assert!(changed <= amended.applied, "{changed} answers changed, {} were amended", amended.applied);
}

/// Counts what it sees.
#[derive(Default)]
struct Counter(Totals);

impl Reporter for Counter {
    fn item(&mut self, item: &Audited) -> std::io::Result<()> {
        self.0.count(item.class, &item.findings);
        Ok(())
    }

    fn finish(&mut self, _summary: &Summary) -> std::io::Result<()> {
        Ok(())
    }
}

/// A byte for the format and a bank: the whole audit, whose counts add up and are the same whether sound items are shown or not.
pub fn audit(bytes: &[u8]) {
    let Some((first, bank)) = bytes.split_first() else { return };
    let formats = [Format::Csv, Format::Tsv, Format::JsonLines, Format::Json, Format::ReactionSmiles, Format::Xml];
    let format = formats[usize::from(*first) % formats.len()];
    let path = std::env::temp_dir().join(format!("keyassay-invariants-{}", std::process::id()));
    let path = path.with_extension(format!("{:?}", std::thread::current().id()).replace(['(', ')'], ""));
    std::fs::write(&path, bank).expect("the bank can be written");
    let mut totals = Vec::new();
    for show_sound in [true, false] {
        let judge = JudgeSettings { limits: limits(), ..JudgeSettings::default() };
        let plan = Plan { bank: settings(), judge, show_sound, ..Plan::default() };
        let (name, content) = ("bank".to_owned(), Content::Path(path.clone()));
        let input = Input { name, format, encoding: None, content };
        let mut counter = Counter::default();
        let summary = run(&plan, &[input], &mut [&mut counter], &mut |_| ()).expect("nothing is written");
        let own = summary.totals;
        assert_eq!(own.items, own.sound + own.faulty + own.undecided + own.unreadable, "items do not add up");
        assert_eq!(own.findings, counter.0.findings, "findings are lost on the way");
        if show_sound {
            assert_eq!(own.items, counter.0.items, "items are lost on the way");
        }
        totals.push(own);
    }
    let _ = std::fs::remove_file(&path);
    assert_eq!(totals[0], totals[1], "the quick way and the full one differ");
}
