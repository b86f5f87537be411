//! The published example in `reports/demonstration` is what the program writes today.
//!
//! `KEYASSAY_BLESS=1 cargo test published` rewrites it: read the difference before you commit it.

use std::fs;
use std::path::Path;
use std::process::Command;

#[test]
fn the_published_example_is_up_to_date() {
    let published = Path::new(env!("CARGO_MANIFEST_DIR")).join("reports/demonstration");
    let bless = std::env::var_os("KEYASSAY_BLESS").is_some();
    let out = if bless {
        published.clone()
    } else {
        std::env::temp_dir().join(format!("keyassay-published-{}", std::process::id()))
    };
    let status = Command::new(env!("CARGO_BIN_EXE_keyassay")).args(["audit", "--quiet", "--out"]).arg(&out).status();
    assert!(status.is_ok_and(|status| status.success()), "the demonstration bank could not be audited");
    let mut failures = Vec::new();
    let mut compared = 0;
    for entry in fs::read_dir(&out).into_iter().flatten().flatten() {
        let name = entry.file_name();
        compared += 1;
        if fs::read(entry.path()).ok() != fs::read(published.join(&name)).ok() {
            failures.push(format!("{} differs from the published one", name.to_string_lossy()));
        }
    }
    if !bless {
        let _ = fs::remove_dir_all(&out);
    }
    assert!(compared >= 3, "only {compared} reports were written");
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
