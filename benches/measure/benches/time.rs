//! Time of the parts: `cargo bench --manifest-path benches/measure/Cargo.toml --bench time`.

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use measure::{PARTS, prepared};

fn parts(criterion: &mut Criterion) {
    let prepared = prepared();
    let mut group = criterion.benchmark_group("four items of 20 atoms");
    group.throughput(Throughput::Elements(4));
    for (name, part) in PARTS {
        group.bench_function(name, |bencher| bencher.iter(|| part(&prepared)));
    }
    group.finish();
}

criterion_group!(benches, parts);
criterion_main!(benches);
