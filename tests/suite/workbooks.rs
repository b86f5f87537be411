//! Workbooks of `corpus/workbooks`, which says how they were made: each says what the table of its sheet says.

use super::audits;
use std::path::Path;

fn lines(folder: &Path, bank: &str) -> (String, Vec<String>) {
    let out = folder.join("out");
    let _ = std::fs::remove_dir_all(&out);
    let output = audits::run(folder, &["audit", bank, "--out", "out"]);
    let said = String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
    let csv = std::fs::read_to_string(out.join("audit.csv")).unwrap_or_default();
    (said, csv.lines().skip(1).map(str::to_owned).collect())
}

#[test]
fn a_sheet_says_what_its_table_says() {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/workbooks");
    let folder = std::env::temp_dir().join(format!("keyassay-workbooks-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("the folder can be made");
    for name in ["table.csv", "department.xlsx", "inline.xlsx", "department.ods", "department.xls"] {
        std::fs::copy(corpus.join(name), folder.join(name)).expect("the file can be copied");
    }
    // Without the file, the line (a cell with a line break is one row of a sheet and two lines of a file), and the cell.
    let plain = |line: &str| {
        let end = line.rfind(" (").filter(|_| line.contains("unreadable")).unwrap_or(line.len());
        let rest = line[..end].splitn(3, ',').nth(2).unwrap_or_default().to_owned();
        rest.split(" at ").next().unwrap_or_default().to_owned()
    };
    let (_, table) = lines(&folder, "table.csv");
    let expected: Vec<String> = table.iter().map(|line| plain(line)).collect();
    let mut failures = Vec::new();
    if expected.len() < 5 {
        failures.push(format!("the table says too little: {expected:?}"));
    }
    for name in ["department.xlsx", "inline.xlsx", "department.ods", "department.xls"] {
        let (said, rows) = lines(&folder, name);
        let own: Vec<&String> = rows.iter().filter(|row| row.contains("#Week 3,")).collect();
        let found: Vec<String> = own.iter().map(|line| plain(line)).collect();
        if found != expected {
            failures.push(format!("{name}: {found:#?}\nnot {expected:#?}"));
        }
        let all = rows.join("\n");
        for part in [
            "#Week 3,11,q5,",
            "(cell D11, character 8)",
            "#Old,3,m1,,error,unreadable-record",
            "holds the date 2024-02-01",
            "'2-1' or of '1-2'",
            "#Old,4,m2,,error,unreadable-record",
            "holds the error #N/A",
        ] {
            // The library gives no errors of formulas where an `.ods` keeps them as shown texts: the cell counts as empty.
            let is_lost = name == "department.ods" && (part.contains("m2") || part.contains("#N/A"));
            if !is_lost && !all.contains(part) {
                failures.push(format!("{name}: no '{part}' in\n{all}"));
            }
        }
        for part in
            ["the sheet 'Old' is hidden", "the sheet 'Notes' is passed over", "#Week 3: 6 rows (lines 1-3, 5, 8, 12)"]
        {
            if !said.contains(part) {
                failures.push(format!("{name}: no '{part}' in\n{said}"));
            }
        }
        // Where the library tells merged cells, they are filled.
        if all.contains("#Merged,3,") == (name != "department.ods") {
            failures.push(format!("{name}: merged cells: {all}"));
        }
    }
    let _ = std::fs::remove_dir_all(&folder);
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
