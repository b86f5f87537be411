//! Instructions of the parts, with limits: `cargo bench --manifest-path benches/measure/Cargo.toml --bench instructions`.
//!
//! Counts do not depend on what else the machine does. A limit is a fifth above what was counted when it was set: a change that
//! passes it is looked at. Needs Debian `valgrind` and `cargo install gungraun-runner`.

use gungraun::prelude::*;
use gungraun::{Callgrind, EventKind};
use measure::{PARTS, Prepared, prepared};

/// Everything that a part starts from, and the part; run once before, so that buffers that are kept are there.
fn part(name: &str) -> (Prepared, fn(&Prepared)) {
    let prepared = prepared();
    let (_, part) = PARTS.into_iter().find(|(own, _)| *own == name).expect("a part has this name");
    part(&prepared);
    (prepared, part)
}

fn most(instructions: u64) -> LibraryBenchmarkConfig {
    let mut callgrind = Callgrind::default();
    callgrind.hard_limits([(EventKind::Ir, instructions)]);
    let mut config = LibraryBenchmarkConfig::default();
    config.tool(callgrind);
    config
}

#[library_benchmark]
#[bench::read_smiles(args = (part("read SMILES")), config = most(37_100))]
#[bench::write_smiles(args = (part("write SMILES")), config = most(41_300))]
#[bench::read_arrows(args = (part("read arrows")), config = most(9_700))]
#[bench::push(args = (part("push")), config = most(20_600))]
#[bench::compare_by_labels(args = (part("compare by labels")), config = most(32_300))]
#[bench::compare_without_labels(args = (part("compare without labels")), config = most(153_300))]
#[bench::fingerprint(args = (part("fingerprint")), config = most(91_200))]
#[bench::prove(args = (part("prove the quick way")), config = most(91_300))]
#[bench::judge(args = (part("judge in full")), config = most(1_369_500))]
#[bench::read_csv(args = (part("read CSV")), config = most(1_176_100))]
#[bench::card(args = (part("card of the page")), config = most(14_399_800))]
fn four_items((prepared, part): (Prepared, fn(&Prepared))) -> (Prepared, fn(&Prepared)) {
    part(&prepared);
    // Given back, so that taking it down is not counted.
    (prepared, part)
}

library_benchmark_group!(name = parts, benchmarks = four_items);

main!(library_benchmark_groups = parts);
