//! The seeds of the fuzz targets and the inputs that once broke one, through the same checks.

use super::invariants::CHECKS;
use std::path::Path;

#[test]
fn seeds_and_former_crashes_hold() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut failures = Vec::new();
    let mut seen = 0;
    for (name, check) in CHECKS {
        for folder in [root.join("fuzz/seeds").join(name), root.join("corpus/crashes").join(name)] {
            for path in std::fs::read_dir(&folder).into_iter().flatten().flatten().map(|entry| entry.path()) {
                let bytes = std::fs::read(&path).unwrap_or_default();
                seen += 1;
                if std::panic::catch_unwind(|| check(&bytes)).is_err() {
                    failures.push(path.display().to_string());
                }
            }
        }
    }
    assert!(seen > 0 || !root.join("fuzz").exists(), "no seed was found");
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
