//! The parts of an audit, each over the four items of [`items`], for the benches of time and of instructions.

pub mod items;

use items::ITEMS;
use keyassay::arrows::{Arrow, notation, push, resolve};
use keyassay::audit::Audited;
use keyassay::bank::{Format, Plain, Settings as BankSettings, Task, open};
use keyassay::compare::compare;
use keyassay::findings::quick::Prover;
use keyassay::findings::{Context, Settings, judge};
use keyassay::report::html::CardRenderer;
use keyassay::smiles::{self, Labels};
use keyassay::structure::canon::fingerprint;
use keyassay::structure::skeleton::Skeleton;
use keyassay::structure::{LabelIndex, OctetRule, Structure};
use std::cell::RefCell;
use std::hint::black_box;
use std::sync::Arc;

/// What the parts start from.
pub struct Prepared {
    starts: Vec<Structure>,
    labels: Vec<LabelIndex>,
    answers: Vec<Structure>,
    unlabelled: Vec<Structure>,
    arrows: Vec<Vec<Arrow>>,
    products: Vec<Structure>,
    plain: Vec<Plain<'static>>,
    prover: RefCell<Prover>,
    table: Vec<u8>,
    audited: Vec<Audited>,
}

/// Limit of steps of the searches.
const STEPS: u64 = 200_000;

/// Reads the items.
#[must_use]
pub fn prepared() -> Prepared {
    let read = |text: &str| smiles::read(text).structure;
    let bare = |mut structure: Structure| {
        structure.clear_labels();
        structure
    };
    let labels: Vec<LabelIndex> = ITEMS.iter().map(|item| LabelIndex::new(&read(item.1))).collect();
    let resolved: Vec<_> = ITEMS
        .iter()
        .zip(&labels)
        .map(|(item, labels)| resolve::resolve(read(item.1), labels, &notation::read(item.2, 100).arrows))
        .collect();
    let arrows: Vec<Vec<Arrow>> =
        resolved.iter().map(|one| one.arrows.iter().map(|(_, open)| open.arrow).collect()).collect();
    let starts: Vec<Structure> = resolved.into_iter().map(|one| one.start).collect();
    let pushed = starts.iter().zip(&arrows).filter_map(|(start, arrows)| push(start, arrows).ok());
    let products: Vec<Structure> = pushed.map(|pushed| pushed.product).collect();
    assert_eq!(products.len(), ITEMS.len(), "every item has a product");
    let plain = ITEMS.map(|(task, start, arrows, answer)| Plain {
        id: Some("q1"),
        task: Task::from_name(task).unwrap_or_default(),
        start,
        arrows,
        answer,
        accept: None,
        prompt: "",
        tags: "",
    });
    let rows = ITEMS.iter().map(|(task, start, arrows, answer)| format!("q,{task},{start},{arrows},{answer}\n"));
    let table = ["id,task,start,arrows,answer\n".to_owned()].into_iter().chain(rows).collect::<String>().into_bytes();
    Prepared {
        answers: ITEMS.iter().map(|item| read(item.3)).collect(),
        unlabelled: ITEMS.iter().map(|item| bare(read(item.3))).collect(),
        plain: plain.to_vec(),
        prover: RefCell::new(Prover::new(&Settings::default())),
        audited: audited(&table),
        starts,
        labels,
        arrows,
        products,
        table,
    }
}

/// The items as the page gets them.
fn audited(table: &[u8]) -> Vec<Audited> {
    let settings = Settings::default();
    let reader = Box::new(std::io::Cursor::new(table.to_vec()));
    let Ok(mut source) = open("bench.csv", Format::Csv, reader, &Arc::new(BankSettings::default())) else {
        return Vec::new();
    };
    let mut audited = Vec::new();
    while let Ok(Some(batch)) = source.next_batch() {
        let (chunk, records) = batch.records();
        for record in records {
            let judgement = judge(&Context::new(&settings, &chunk), &record, "bench.csv");
            audited.push(Audited {
                file: Arc::from("bench.csv"),
                is_item: true,
                line: judgement.line,
                id: judgement.id,
                prompt: String::new(),
                tags: String::new(),
                class: judgement.class,
                findings: judgement.findings,
                steps: judgement.steps,
                stereo_not_judged: 0,
                normalised: Vec::new(),
                card: String::new(),
            });
        }
    }
    audited
}

/// A part and its name.
pub type Part = (&'static str, fn(&Prepared));

/// The parts, each run over all four items.
pub const PARTS: [Part; 11] = [
    ("read SMILES", |_| {
        for item in &ITEMS {
            black_box(smiles::read(black_box(item.1)));
        }
    }),
    ("write SMILES", |own| {
        for product in &own.products {
            black_box(smiles::write(black_box(product), Labels::Classes));
        }
    }),
    ("read arrows", |_| {
        for item in &ITEMS {
            black_box(notation::read(black_box(item.2), 100));
        }
    }),
    ("push", |own| {
        for (start, arrows) in own.starts.iter().zip(&own.arrows) {
            let _ = black_box(push(black_box(start), arrows));
        }
    }),
    ("compare by labels", |own| {
        for (at, product) in own.products.iter().enumerate() {
            black_box(compare(black_box(product), &own.answers[at], &own.labels[at], STEPS));
        }
    }),
    ("compare without labels", |own| {
        for (at, product) in own.products.iter().enumerate() {
            black_box(compare(black_box(product), &own.unlabelled[at], &own.labels[at], STEPS));
        }
    }),
    ("fingerprint", |own| {
        for product in &own.products {
            black_box(fingerprint(&Skeleton::new(black_box(product))));
        }
    }),
    ("prove the quick way", |own| {
        for plain in &own.plain {
            assert!(own.prover.borrow_mut().prove(black_box(plain)).is_some());
        }
    }),
    ("judge in full", |own| {
        black_box(audited(&own.table));
    }),
    ("read CSV", |own| {
        let reader = Box::new(std::io::Cursor::new(own.table.clone()));
        if let Ok(mut source) = open("bench.csv", Format::Csv, reader, &Arc::new(BankSettings::default())) {
            while let Ok(Some(batch)) = source.next_batch() {
                black_box(batch.records());
            }
        }
    }),
    ("card of the page", |own| {
        let renderer = CardRenderer { octet: OctetRule::Usual };
        for item in &own.audited {
            black_box(keyassay::audit::Renderer::card(&renderer, black_box(item)));
        }
    }),
];
