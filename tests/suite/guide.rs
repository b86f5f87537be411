//! The guide: its commands are run, one page after the other, in one folder; its pages of findings and slips are those of the
//! catalogue. `KEYASSAY_BLESS=1` writes what the commands say now into the pages.

use keyassay::findings::slips::Slip;
use keyassay::findings::{Class, Name};
use keyassay::{Bank, Options};
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn guide() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("docs/guide")
}

fn blesses() -> bool {
    std::env::var_os("KEYASSAY_BLESS").is_some()
}

/// The pages with commands, in the order in which they are read.
const PAGES: [&str; 9] =
    ["first-bank", "arrows", "spreadsheets", "card", "correcting", "every-night", "many-machines", "survey", "python"];

/// Commands that install something: the checks of the whole project run them, no test can.
const INSTALLS: [&str; 5] = [
    "cargo run --release -- audit",
    "cargo test",
    "cargo install --path .",
    "pip install ./bindings/python",
    "spark-submit ",
];

#[test]
fn the_commands_of_the_guide_say_what_it_shows() {
    let scratch = std::env::temp_dir().join(format!("keyassay-guide-{}", std::process::id()));
    let _ = fs::remove_dir_all(&scratch);
    fs::create_dir_all(&scratch).expect("a folder to work in");
    let mut failures = Vec::new();
    let mut commands = 0;
    let pages = PAGES.map(|page| (page, guide().join(format!("{page}.md"))));
    let readme = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("README.md");
    for (page, path) in [("README", readme)].into_iter().chain(pages) {
        let text = fs::read_to_string(&path).expect("the page is there");
        let mut told = String::new();
        for piece in blocks(&text) {
            match piece {
                Piece::Text(own) => told.push_str(own),
                Piece::File { whole, name, content } => {
                    let path = scratch.join(name);
                    fs::create_dir_all(path.parent().unwrap_or(&scratch)).expect("a folder of the guide is made");
                    fs::write(path, content).expect("a file of the guide is written");
                    told.push_str(whole);
                }
                Piece::Commands(own) => {
                    told.push_str("```console\n");
                    for command in own.lines().filter_map(|line| line.strip_prefix("$ ")) {
                        let _ = write!(told, "$ {command}\n{}", run(command, &scratch));
                        commands += 1;
                    }
                    told.push_str("```\n");
                }
                Piece::Other { language, whole, content } => {
                    let is_known = content.lines().all(|line| INSTALLS.iter().any(|own| line.starts_with(own)));
                    if language == "sh" && !is_known {
                        failures.push(format!("{page}: a command that nobody runs: {content}"));
                    }
                    told.push_str(whole);
                }
            }
        }
        if told != text {
            if blesses() {
                fs::write(&path, &told).expect("the page is written");
            } else {
                failures.push(difference(page, &text, &told));
            }
        }
    }
    failures.extend(pictures(&scratch));
    let _ = fs::remove_dir_all(&scratch);
    assert!(failures.is_empty(), "{}", failures.join("\n\n"));
    assert!(commands > 20, "{commands}");
}

/// The drawings of the guide are those that its commands draw.
fn pictures(scratch: &Path) -> Vec<String> {
    let mut failures = Vec::new();
    for name in ["enolate", "allyl", "exchange", "proton", "halves"] {
        let (own, kept) = (scratch.join(format!("{name}.svg")), guide().join(format!("{name}.svg")));
        let drawn = fs::read_to_string(own).unwrap_or_default();
        if fs::read_to_string(&kept).unwrap_or_default() != drawn || drawn.is_empty() {
            if blesses() && !drawn.is_empty() {
                fs::write(&kept, drawn).expect("a drawing is written");
            } else {
                failures.push(format!("{name}.svg is not what the guide's command draws"));
            }
        }
    }
    failures
}

enum Piece<'a> {
    Text(&'a str),
    /// A file that the reader makes: the fence names it behind its language.
    File {
        whole: &'a str,
        name: &'a str,
        content: &'a str,
    },
    Commands(&'a str),
    Other {
        language: &'a str,
        whole: &'a str,
        content: &'a str,
    },
}

fn blocks(text: &str) -> Vec<Piece<'_>> {
    let mut pieces = Vec::new();
    let mut rest = text;
    while let Some(start) = rest.find("```") {
        let (before, fence) = rest.split_at(start);
        pieces.push(Piece::Text(before));
        let (head, body) = fence[3..].split_once('\n').expect("a fence ends its line");
        let end = body.find("```\n").expect("a fence is closed");
        let (content, whole) = (&body[..end], &fence[..3 + head.len() + 1 + end + 4]);
        pieces.push(match head.split_once(' ') {
            Some((_, name)) => Piece::File { whole, name, content },
            None if head == "console" => Piece::Commands(content),
            None => Piece::Other { language: head, whole, content },
        });
        rest = &rest[start + whole.len()..];
    }
    pieces.push(Piece::Text(rest));
    pieces
}

/// What a command says, on either stream, as a terminal shows it.
fn run(command: &str, folder: &Path) -> String {
    let program = Path::new(env!("CARGO_BIN_EXE_keyassay"));
    let path =
        format!("{}:{}", program.parent().unwrap_or(program).display(), std::env::var("PATH").unwrap_or_default());
    let done = Command::new("sh")
        .args(["-c", &format!("{command} 2>&1")])
        .current_dir(folder)
        .env("PATH", path)
        .env("LC_ALL", "C")
        .output()
        .expect("a shell runs");
    String::from_utf8_lossy(&done.stdout).into_owned()
}

fn difference(page: &str, text: &str, told: &str) -> String {
    let line = text.lines().zip(told.lines()).position(|(a, b)| a != b).unwrap_or_default();
    let of = |text: &str| text.lines().skip(line).take(4).collect::<Vec<_>>().join("\n");
    format!("{page}, line {}:\n{}\n-- now:\n{}", line + 1, of(text), of(told))
}

/// The page of a finding: the catalogue's words, and the smallest bank that raises it with what the audit says.
fn finding_page(name: Name) -> String {
    let entry = name.entry();
    let mut text = format!(
        "<!-- Made from the catalogue by the test that holds it. -->\n# {}\n\nSeverity: {}, where no profile says otherwise.\n\n{}\n\n",
        entry.name,
        entry.severity.name(),
        sentence(entry.meaning)
    );
    let _ = write!(text, "## Example\n\n```text\n{}\n```\n\n", entry.example);
    let bank = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("corpus/findings").join(entry.name).join("raises.csv");
    if let Ok(content) = fs::read_to_string(&bank)
        && content.lines().count() <= 12
        && content.len() < 2_000
    {
        let _ = write!(text, "A bank that raises it:\n\n```csv\n{}\n```\n\n", content.trim_end());
        let audit = Bank::text("bank.csv", content).and_then(|own| own.audit(&Options::default(), &mut |_| {}));
        let audit = audit.expect("a bank of the corpus is read");
        let own = audit.findings().find(|(_, finding)| finding.name == name);
        if let Some((item, finding)) = own {
            let _ = write!(text, "What the audit says of `{}`:\n\n```text\n{}\n```\n\n", item.id, finding.message());
            if !finding.correction.is_empty() {
                let _ = write!(text, "What it should say:\n\n```text\n{}\n```\n\n", finding.correction);
            }
        }
    }
    let _ = writeln!(text, "## What to do\n\n{}", sentence(entry.remedy));
    text
}

fn slip_page(slip: Slip) -> String {
    let where_ = if slip.lies_in_the_answer() {
        "It lies in how the answer was drawn, whatever the arrows say."
    } else {
        "It lies in the arrows, or in which answer stands beside them."
    };
    format!(
        "<!-- Made from the table of slips by the test that holds it. -->\n# {}\n\n{}\n\n{where_}\n\nA slip is named only where the \
         structure that it gives is exactly the stated one. See [mismatched-product](../findings/mismatched-product.md).\n",
        slip.name(),
        sentence(slip.entry().meaning)
    )
}

fn sentence(text: &str) -> String {
    let mut text = text.to_owned();
    if let Some(first) = text.get(..1) {
        let first = first.to_uppercase();
        text.replace_range(..1, &first);
    }
    if text.ends_with(['.', '!', '?']) { text } else { text + "." }
}

/// The table of contents: what people write by hand, then a line for each finding and each slip.
fn summary() -> String {
    let mut text = String::from("# Summary\n\n");
    for (name, title) in [
        ("first-bank", "The first bank in ten minutes"),
        ("arrows", "Arrows with drawings"),
        ("spreadsheets", "Your own spreadsheet"),
        ("card", "Reading a card"),
        ("correcting", "Correcting"),
        ("every-night", "Every night"),
        ("many-machines", "Many machines"),
        ("survey", "What a bank asks"),
        ("python", "Python"),
        ("glossary", "Glossary"),
    ] {
        let _ = writeln!(text, "- [{title}]({name}.md)");
    }
    text.push_str("\n# Findings\n\n");
    for name in Name::ALL {
        let _ = writeln!(text, "- [{0}](findings/{0}.md)", name.entry().name);
    }
    text.push_str("\n# Slips\n\n");
    for slip in Slip::ALL {
        let _ = writeln!(text, "- [{0}](slips/{0}.md)", slip.name());
    }
    text
}

#[test]
fn each_finding_and_each_slip_has_its_page() {
    let mut pages: Vec<(String, String)> = vec![("SUMMARY.md".to_owned(), summary())];
    pages.extend(Name::ALL.iter().map(|name| (format!("findings/{}.md", name.entry().name), finding_page(*name))));
    pages.extend(Slip::ALL.iter().map(|slip| (format!("slips/{}.md", slip.name()), slip_page(*slip))));
    let mut failures = Vec::new();
    for (name, text) in &pages {
        let path = guide().join(name);
        if fs::read_to_string(&path).unwrap_or_default() != *text {
            if blesses() {
                fs::write(&path, text).expect("a page is written");
            } else {
                failures.push(format!("{name} is not what the catalogue says: KEYASSAY_BLESS=1 writes it"));
            }
        }
    }
    let known: BTreeSet<&str> = pages.iter().map(|(name, _)| name.as_str()).collect();
    for folder in ["findings", "slips"] {
        for entry in fs::read_dir(guide().join(folder)).expect("the folder is there").flatten() {
            let name = format!("{folder}/{}", entry.file_name().to_string_lossy());
            if !known.contains(name.as_str()) {
                failures.push(format!("{name} is the page of nothing"));
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// Every link between the pages leads somewhere.
#[test]
fn the_links_of_the_guide_lead_somewhere() {
    let mut failures = Vec::new();
    let mut links = 0;
    let mut pages: Vec<PathBuf> = Vec::new();
    for folder in ["", "findings", "slips"] {
        let entries = fs::read_dir(guide().join(folder)).expect("the folder is there").flatten();
        pages.extend(entries.map(|own| own.path()).filter(|own| own.extension().is_some_and(|end| end == "md")));
    }
    for page in &pages {
        let text = fs::read_to_string(page).unwrap_or_default();
        let words: String = blocks(&text).iter().map(|own| if let Piece::Text(own) = own { own } else { "" }).collect();
        for link in words.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
            let target = link.split('#').next().unwrap_or_default();
            // Structures have brackets, too.
            let is_file = [".md", ".svg", ".png", ".ipynb"].iter().any(|ending| target.ends_with(ending));
            if target.starts_with("http") || !is_file {
                continue;
            }
            links += 1;
            if !page.parent().unwrap_or(page).join(target).exists() {
                failures.push(format!("{}: {link}", page.display()));
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
    assert!(links > 60, "{links}");
}

/// The bank that a reader of the first page ends with is sound.
#[test]
fn the_first_page_ends_with_a_bank_without_errors() {
    let text = fs::read_to_string(guide().join("first-bank.md")).expect("the page is there");
    let bank = blocks(&text)
        .into_iter()
        .find_map(|own| if let Piece::File { content, .. } = own { Some(content) } else { None });
    let bank = Bank::text("harbour.csv", bank.expect("the page has a bank")).expect("it is a CSV file");
    let audit = keyassay::audit(&bank).expect("it is read");
    let faulty: Vec<&str> =
        audit.items.iter().filter(|item| item.class == Class::Faulty).map(|item| item.id.as_str()).collect();
    assert_eq!(faulty, ["tide-2", "tide-4"]);
    assert!(text.contains("4 items: 4 sound, 0 faulty"), "the corrected bank is audited to the end");
}
