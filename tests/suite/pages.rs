//! The page that people read, as text: paging, lists, escaping, what it leaves in its folder. How it looks and behaves is
//! checked in a browser (`tests/browser`).

use super::audits::scratch;
use keyassay::audit::{Content, Input, Plan, Reporter, run};
use keyassay::bank::Format;
use keyassay::demonstration;
use keyassay::report::html::{About, CardRenderer, HtmlReport};
use keyassay::report::stage::Stage;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::Arc;

/// Audits into a folder, `cards` cards on a page; the number of items that got a card.
fn audit(inputs: &[Input], folder: &Path, cards: usize, draws: bool) -> usize {
    struct Count(usize);
    impl Reporter for Count {
        fn item(&mut self, _: &keyassay::audit::Audited) -> std::io::Result<()> {
            self.0 += 1;
            Ok(())
        }
        fn finish(&mut self, _: &keyassay::audit::Summary) -> std::io::Result<()> {
            Ok(())
        }
    }
    let renderer = CardRenderer::default();
    let about = About { what: "a <test> & more".to_owned(), ..About::default() };
    let stage = Stage::create(folder).expect("the folder can be written");
    let mut report = HtmlReport::create(stage.folder(), about, renderer, cards).expect("the folder can be written");
    let mut count = Count(0);
    let plan = Plan { renderer: draws.then(|| Arc::new(renderer) as _), ..Plan::default() };
    run(&plan, inputs, &mut [&mut report, &mut count], &mut |_| {}).expect("the report can be written");
    drop(report);
    stage.finish(false).expect("the reports can be moved");
    count.0
}

fn files(folder: &Path) -> BTreeMap<String, String> {
    let read = |entry: fs::DirEntry| {
        (entry.file_name().to_string_lossy().into_owned(), fs::read_to_string(entry.path()).unwrap_or_default())
    };
    fs::read_dir(folder).into_iter().flatten().flatten().map(read).collect()
}

fn cards(text: &str) -> usize {
    text.matches("<article class=\"card").count()
}

#[test]
fn cards_go_on_pages_and_lists_name_them_all() {
    let folder = scratch("pages");
    let items = audit(&demonstration::inputs(), &folder, 7, true);
    let all = files(&folder);
    let mut failures = Vec::new();
    for number in 1..=items.div_ceil(7) {
        let name = if number == 1 { "audit.html".to_owned() } else { format!("audit-{number}.html") };
        let wanted = (items - (number - 1) * 7).min(7);
        match all.get(&name) {
            Some(text) if cards(text) == wanted => {}
            other => failures.push(format!("{name} has {:?} cards, not {wanted}", other.map(|text| cards(text)))),
        }
    }
    let listed = all.get("audit-items.html").map_or(0, |text| text.matches("<li><a href=").count());
    if listed != items {
        failures.push(format!("the list of all items has {listed} of {items}"));
    }
    for (name, text) in &all {
        if !text.starts_with("<!DOCTYPE html>\n") || !text.ends_with("</html>\n") || text.contains("a <test> & more") {
            failures.push(format!("{name} is not whole, or not escaped"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn one_page_needs_no_other_file_and_removes_only_our_older_pages() {
    let folder = scratch("one-page");
    audit(&demonstration::inputs(), &folder, 7, true);
    let foreign = "<!DOCTYPE html><title>Notes on the audit of 2024</title>";
    fs::write(folder.join("audit-2024.html"), foreign).expect("a file can be written");
    let items = audit(&demonstration::inputs(), &folder, 100_000, true);
    let all = files(&folder);
    assert_eq!(all.keys().collect::<Vec<_>>(), ["audit-2024.html", "audit.html"]);
    assert_eq!(all["audit-2024.html"], foreign);
    assert_eq!(cards(&all["audit.html"]), items);
}

#[test]
fn cards_are_the_same_wherever_they_are_drawn() {
    let (in_threads, in_order) = (scratch("drawn-in-threads"), scratch("drawn-in-order"));
    audit(&demonstration::inputs(), &in_threads, 50, true);
    audit(&demonstration::inputs(), &in_order, 50, false);
    assert_eq!(files(&in_threads), files(&in_order));
}

#[test]
fn nothing_of_a_bank_becomes_markup() {
    let folder = scratch("hostile-page");
    let attacks = ["<script>x()</script>", "\"><img src=x onerror=x()>", "'-->", "</style>", "javascript:x()"];
    let mut bank = String::new();
    for attack in attacks {
        for field in ["id", "prompt", "tags", "start", "arrows", "answer"] {
            let mut item = serde_json::json!({
                "id": format!("{attack} in {field}"),
                "start": "[CH2-:1][CH:2]=[O:3]", "arrows": "1 -> 1-2; 2-3 -> 3", "answer": "[CH2:1]=[CH:2][OH:3]",
            });
            item[field] = attack.into();
            bank.push_str(&item.to_string());
            bank.push('\n');
        }
    }
    let path = folder.join("bank.jsonl");
    fs::write(&path, bank).expect("a file can be written");
    let out = folder.join("out");
    let status = Command::new(env!("CARGO_BIN_EXE_keyassay"))
        .current_dir(&folder)
        .args(["audit", "bank.jsonl", "--write", "html", "--quiet", "--out", "out"])
        .status();
    assert!(status.is_ok_and(|status| status.code() == Some(1)));
    let all = files(&out);
    assert_eq!(all.keys().collect::<Vec<_>>(), ["audit.html"]);
    let text = &all["audit.html"];
    for attack in &attacks[..4] {
        assert!(!text.contains(&format!("{attack} in ")), "{attack} stands unescaped in the page");
    }
    let links: Vec<&str> = text.split("href=\"").skip(1).filter(|link| !link.starts_with('#')).collect();
    assert!(links.is_empty(), "a link leaves the page: {:?}", links[0].get(..60));
    assert_eq!(text.matches("<script").count(), 1, "one script, ours");
    assert!(text.contains("&#60;script&#62;x()&#60;/script&#62; in prompt"), "the text itself is shown");
}

#[test]
fn a_page_says_when_it_was_made_but_for_the_demonstration() {
    let folder = scratch("dated-page");
    let bank = "{\"start\": \"[CH2-]C=O\", \"arrows\": \"1 -> 1-2; 2-3 -> 3\", \"answer\": \"C=C[O-]\"}\n";
    fs::write(folder.join("bank.jsonl"), bank).expect("a file can be written");
    let page = |bank: &[&str]| {
        let status = Command::new(env!("CARGO_BIN_EXE_keyassay"))
            .current_dir(&folder)
            .env("SOURCE_DATE_EPOCH", "951782400")
            .arg("audit")
            .args(bank)
            .args(["--write", "html", "--quiet", "--out", "out"])
            .status();
        assert!(status.is_ok_and(|status| status.success()));
        fs::read_to_string(folder.join("out/audit.html")).unwrap_or_default()
    };
    let date = "2000-02-29 00:00 UTC";
    assert!(page(&["bank.jsonl"]).contains(date));
    assert!(!page(&[]).contains(date));
}

/// A bank as an input of its own.
fn bank(text: &'static str) -> Vec<Input> {
    let content = Content::BuiltIn(text.as_bytes());
    vec![Input { name: "bank.csv".to_owned(), format: Format::Csv, encoding: None, content }]
}

#[test]
fn a_card_that_speaks_of_another_is_linked_from_it_too() {
    let text = "id,start,arrows,answer\n\
        a,[OH-:1].[CH3:2][Br:3],1 -> 1-2; 2-3 -> 3,[OH:1][CH3:2].[Br:3]\n\
        b,[OH-:1].[CH3:2][Br:3],1 -> 1-2; 2-3 -> 3,[OH:1][CH3:2].[BrH:3]\n";
    let mut failures = Vec::new();
    for (cards, there, back) in [(10, "href=\"#c", "href=\"#c"), (1, "href=\"audit", "href=\"audit")] {
        let folder = scratch(&format!("both-ways-{cards}"));
        audit(&bank(text), &folder, cards, true);
        let all: String =
            files(&folder).into_iter().filter(|(name, _)| name.ends_with("html")).map(|own| own.1).collect();
        let links = |href: &str, words: &str| {
            all.lines()
                .filter(|line| line.contains("class=\"other") && line.contains(href) && line.contains(words))
                .count()
        };
        let found = (links(there, "To the card of that item"), links(back, "Spoken of on the card of"));
        // Where both speak of each other, there is nothing to add.
        if found.0 == 0 || found.0 + found.1 != 2 {
            failures.push(format!("{cards} cards a page: {found:?}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn a_proposed_sequence_is_drawn_and_told_in_lines() {
    let folder = scratch("proposed-sequence");
    let text = "id,start,arrows,answer\na,[NH3:1].[CH3:2][Br:3],1 -> 1-2; 2-3 -> 3,[NH2:1][CH3:2].[BrH:3]\n\
        b,N.CBr,1 -> 1-2; 2-3 -> 3,NC.Br\n";
    audit(&bank(text), &folder, 10, true);
    let page = &files(&folder)["audit.html"];
    let counts = [
        "<h4>The proposed sequence</h4>",
        "<figcaption>Proposed step 2</figcaption>",
        "<figcaption>Answer of the proposed sequence</figcaption>",
        "step 2  arrows  3 -&#62; 3-1h; 1-1h -&#62; 1\n",
    ]
    .map(|text| page.matches(text).count());
    assert_eq!(counts, [2, 2, 2, 2]);
}
