//! Items a second of the parts and of the whole, one thread: `cargo bench --bench parts`.
//!
//! Figures are medians of several rounds. They are printed, never asserted: speed is looked at here, not tested.

use keyassay::arrows::{notation, push, resolve};
use keyassay::audit::{Content, Input, Plan, run};
use keyassay::bank::Format;
use keyassay::compare::compare;
use keyassay::smiles;
use keyassay::structure::canon::fingerprint;
use keyassay::structure::skeleton::Skeleton;
use keyassay::structure::{LabelIndex, Structure};
use std::fmt::Write as _;
use std::hint::black_box;
use std::time::Instant;

#[path = "measure/src/items.rs"]
mod items;
use items::ITEMS;

/// Runs a part over the four items many times; prints calls a second.
fn measure(name: &str, mut part: impl FnMut(usize)) {
    const CALLS: usize = 40_000;
    let mut rates: Vec<f64> = (0..7)
        .map(|_| {
            let began = Instant::now();
            for call in 0..CALLS {
                part(call % ITEMS.len());
            }
            CALLS as f64 / began.elapsed().as_secs_f64()
        })
        .collect();
    rates.sort_by(f64::total_cmp);
    println!("{name:<44} {:>12.0} a second", rates[rates.len() / 2]);
}

fn main() {
    let starts: Vec<Structure> = ITEMS.iter().map(|item| smiles::read(item.1).structure).collect();
    let labels: Vec<LabelIndex> = starts.iter().map(LabelIndex::new).collect();
    let answers: Vec<Structure> = ITEMS.iter().map(|item| smiles::read(item.3).structure).collect();
    let unlabelled: Vec<Structure> = answers
        .iter()
        .map(|answer| {
            let mut answer = answer.clone();
            answer.clear_labels();
            answer
        })
        .collect();
    let drawn: Vec<_> = ITEMS.iter().map(|item| notation::read(item.2, 100).arrows).collect();
    let resolved: Vec<_> =
        (0..ITEMS.len()).map(|at| resolve::resolve(starts[at].clone(), &labels[at], &drawn[at])).collect();
    let arrows: Vec<Vec<_>> =
        resolved.iter().map(|one| one.arrows.iter().map(|(_, open)| open.arrow).collect()).collect();
    let products: Vec<Structure> = (0..ITEMS.len())
        .filter_map(|at| push(&resolved[at].start, &arrows[at]).ok().map(|pushed| pushed.product))
        .collect();
    assert_eq!(products.len(), ITEMS.len(), "every item of the bench has a product");

    println!("one thread; items of 20 heavy atoms");
    measure("read a start", |at| {
        black_box(smiles::read(black_box(ITEMS[at].1)));
    });
    measure("write a product", |at| {
        black_box(smiles::write(black_box(&products[at]), smiles::Labels::Classes));
    });
    measure("read arrows", |at| {
        black_box(notation::read(black_box(ITEMS[at].2), 100));
    });
    measure("push", |at| {
        let _ = black_box(push(black_box(&resolved[at].start), &arrows[at]));
    });
    measure("compare by labels", |at| {
        black_box(compare(black_box(&products[at]), &answers[at], &labels[at], 200_000));
    });
    measure("compare without labels", |at| {
        black_box(compare(black_box(&products[at]), &unlabelled[at], &labels[at], 200_000));
    });
    measure("fingerprint", |at| {
        black_box(fingerprint(&Skeleton::new(black_box(&products[at]))));
    });
    whole("whole audit, labelled CSV", true);
    whole("whole audit, CSV without labels in answers", false);
}

/// The whole audit of a bank in memory, as the program does it, on one thread.
fn whole(name: &str, labelled: bool) {
    const COPIES: usize = 10_000;
    let mut bank = "id,task,start,arrows,answer\n".to_owned();
    for copy in 0..COPIES {
        for (at, item) in ITEMS.iter().enumerate() {
            let (start, answer) = (variant(item.1, copy), variant(item.3, copy));
            let answer = if labelled { answer } else { without_labels(&answer) };
            let _ = writeln!(bank, "q{copy}-{at},{},{start},{},{answer}", item.0, item.2);
        }
    }
    let bytes: &'static [u8] = Box::leak(bank.into_bytes().into_boxed_slice());
    let Ok(pool) = rayon::ThreadPoolBuilder::new().num_threads(1).build() else { return };
    let mut rates: Vec<f64> = (0..5)
        .filter_map(|_| {
            let input = Input {
                name: "bench.csv".to_owned(),
                format: Format::Csv,
                encoding: None,
                content: Content::BuiltIn(bytes),
            };
            let began = Instant::now();
            let summary = pool.install(|| run(&Plan::default(), &[input], &mut [], &mut |_| ())).ok()?;
            assert_eq!(summary.totals.sound, (COPIES * ITEMS.len()) as u64, "every item of the bench is sound");
            Some(summary.totals.items as f64 / began.elapsed().as_secs_f64())
        })
        .collect();
    rates.sort_by(f64::total_cmp);
    println!("{name:<44} {:>12.0} a second", rates.get(rates.len() / 2).copied().unwrap_or_default());
}

/// The drawing with isotopes at two atoms that no arrow touches, so that no two questions of the bank are the same.
fn variant(text: &str, copy: usize) -> String {
    let isotopes = [copy % 900 + 1, copy / 900 + 1];
    let mut varied = text.to_owned();
    for (label, isotope) in
        [":5]", ":7]", ":8]"].iter().filter(|label| text.contains(&format!("[CH2{label}"))).zip(isotopes)
    {
        varied = varied.replace(&format!("[CH2{label}"), &format!("[{isotope}CH2{label}"));
    }
    varied
}

fn without_labels(text: &str) -> String {
    let mut structure = smiles::read(text).structure;
    structure.clear_labels();
    smiles::write(&structure, smiles::Labels::Without)
}
