//! `keyassay profile` on tables in several languages and without headers: what it proposes, and what an audit reads under it.

use super::audits::{run, scratch};
use std::fmt::Write as _;

/// Start, arrows and product of ten questions, atoms counted from `first`.
fn questions(first: usize) -> Vec<[String; 3]> {
    let nucleophiles = [("[OH-]", "O"), ("[SH-]", "S"), ("[NH2-]", "N")];
    let halogens = ["Cl", "Br", "I"];
    let question = |at: usize| {
        let ((written, bound), halogen) = (nucleophiles[at % 3], halogens[at / 3 % 3]);
        let chain = "C".repeat(at / 2 + 1);
        let (a, b, c) = (first, first + chain.len(), first + chain.len() + 1);
        let arrows = format!("{a} -> {a}-{b}; {b}-{c} -> {c}");
        [format!("{written}.{chain}{halogen}"), arrows, format!("{chain}{bound}.[{halogen}-]")]
    };
    (0..10).map(question).collect()
}

/// A table of such questions: `order` names the columns (i id, s start, a arrows, p product, r reagent, n points, t text), every fifth product
/// is wrong.
fn table(header: &[&str], order: &str, separator: char, first: usize) -> String {
    let mut text = String::new();
    let mut row = |cells: Vec<String>| {
        let quoted =
            cells.iter().map(|cell| if cell.contains(separator) { format!("\"{cell}\"") } else { cell.clone() });
        text.push_str(&quoted.collect::<Vec<_>>().join(&separator.to_string()));
        text.push('\n');
    };
    if !header.is_empty() {
        row(header.iter().map(|own| (*own).to_owned()).collect());
    }
    for (at, [start, arrows, product]) in questions(first).into_iter().enumerate() {
        let product = if at % 5 == 4 { product.replace(".[", ".C[") } else { product };
        let cell = |name: char| match name {
            'i' => format!("Q{at}"),
            's' => start.clone(),
            'a' => arrows.clone(),
            'p' => product.clone(),
            'n' => (at % 3 + 1).to_string(),
            'r' => ["CCO", "O", "[K+].[I-]"][at % 3].to_owned(),
            _ => format!("What is formed in reaction {at}?"),
        };
        row(order.chars().map(cell).collect());
    }
    text
}

/// A multiple choice: the product among three options, the key a letter.
fn choice() -> String {
    let mut text = "Frage;Start;Pfeile;1. Wahl;2. Wahl;3. Wahl;richtig\n".to_owned();
    for (at, [start, arrows, product]) in questions(1).into_iter().enumerate() {
        let mut options = [format!("{product}.C"), product.replacen('C', "CC", 1), format!("O.{product}")];
        options[at % 3] = product;
        let key = ["A", "B", "C"][at % 3];
        let _ = writeln!(text, "Q{at};{start};\"{arrows}\";{};{key}", options.join(";"));
    }
    text
}

#[test]
fn tables_in_any_language_are_understood() {
    let german = table(&["Nr.", "Edukt", "Pfeile", "Produkt"], "isap", ';', 1);
    let latin: Vec<u8> = "Nr.;Lösung;Pfeile;Edukt\n".chars().map(|own| own as u8).collect();
    let latin = [latin, table(&[], "ipas", ';', 1).into_bytes()].concat();
    let cases: Vec<(&str, Vec<u8>, &str)> = vec![
        ("english", table(&["id", "start", "arrows", "answer"], "isap", ',', 1).into(), ""),
        ("german", german.into(), "id=Nr.|start=Edukt|arrows=Pfeile|answer=Produkt"),
        ("windows", latin, "encoding=windows-1252|id=Nr.|start=Edukt|arrows=Pfeile|answer=Lösung"),
        (
            "french",
            table(&["Énoncé", "Réactif", "Solvant", "Flèches", "Produit"], "tsrap", ',', 1).into(),
            "start=Réactif|arrows=Flèches|answer=Produit|prompt=Énoncé",
        ),
        (
            "spanish, swapped",
            table(&["Producto", "Flechas", "Sustrato", "Código"], "pasi", '\t', 1).into(),
            "id=Código|start=Sustrato|arrows=Flechas|answer=Producto",
        ),
        (
            "chinese",
            table(&["题号", "反应物", "箭头", "产物"], "isap", ',', 1).into(),
            "id=题号|start=反应物|arrows=箭头|answer=产物",
        ),
        (
            "no header",
            table(&[], "isap", ',', 1).into(),
            "header_row=0|id=column A|start=column B|arrows=column C|answer=column D",
        ),
        (
            "no header, from 0, bars",
            table(&[], "psai", '|', 0).into(),
            "labels=0|header_row=0|separator=||id=column D|start=column B|arrows=column C|answer=column A",
        ),
        (
            "the same header twice, titles",
            format!("Bank of 2019\n\n{}", table(&["No", "SMILES", "Curly arrows", "SMILES"], "isap", ',', 1)).into(),
            "id=No|start=column B|arrows=Curly arrows|answer=column D",
        ),
        (
            "choice",
            choice().into(),
            "id=Frage|arrows=Pfeile|option_a=1. Wahl|option_b=2. Wahl|option_c=3. Wahl|key=richtig",
        ),
        (
            "choice under letters, with days",
            choice()
                .replace("Frage;Start;Pfeile;1. Wahl;2. Wahl;3. Wahl;richtig", "Datum;Start;Pfeile;B;C;N;richtig")
                .replace("\nQ", "\n12.05.201")
                .into(),
            "arrows=Pfeile|option_a=B|option_b=C|option_c=N|key=richtig",
        ),
        (
            "points that run like steps",
            table(&["Code", "Sustrato", "Flechas", "Producto", "Puntos"], "isapn", ',', 1).into(),
            "id=Code|start=Sustrato|arrows=Flechas|answer=Producto",
        ),
    ];
    let mut failures = Vec::new();
    for (name, bytes, expected) in cases {
        let folder = scratch("guesses");
        std::fs::write(folder.join("bank.csv"), bytes).expect("the bank can be written");
        let output = run(&folder, &["profile", "bank.csv"]);
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        let settings: Vec<String> = text
            .lines()
            .filter(|line| !line.starts_with(['#', '[']) && !line.is_empty())
            .map(|line| line.split(" #").next().unwrap_or_default().trim().replace(" = ", "=").replace('"', ""))
            .collect();
        std::fs::write(folder.join("keyassay.toml"), &text).expect("the profile can be written");
        let audit = run(&folder, &["audit", "bank.csv", "--out", "out", "--write", "json"]);
        let said = String::from_utf8_lossy(&audit.stdout).into_owned();
        let counts =
            if name.starts_with("choice") { "10 items: 10 sound, 0 faulty" } else { "10 items: 8 sound, 2 faulty" };
        if settings.join("|") != expected || !said.contains(counts) {
            failures.push(format!("{name}: {}\n{text}\n{said}{output:?}{audit:?}", settings.join("|")));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn options_are_known_by_headers_that_count_and_small_tables_are_read() {
    // One key is wrong, and all products stand under the first option: the key alone proves nothing.
    let rows = "m1,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-],C[O-].Br,CO.Br,A,1\nm2,[SH-].CBr,1 -> 1-2; 2-3 -> 3,CS.[Br-],C[S-].Br,CS.Br,b,2\n";
    let one = "[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-]\n";
    let cases = [
        (
            "letters",
            format!("Code,Start,Arrows,Option A,Option B,Option C,Key,Points\n{rows}"),
            "option_a = \"Option A\"",
            "2 questions: 1 sound, 1 faulty",
        ),
        (
            "in German",
            format!("Nr,Start,Pfeile,1. Wahl,2. Wahl,3. Wahl,Richtig,Punkte\n{rows}"),
            "key = \"Richtig\"",
            "2 questions: 1 sound, 1 faulty",
        ),
        ("one row", format!("start,arrows,answer\n{one}"), "it needs no profile", "1 question: 1 sound"),
        (
            "one row, titles",
            format!("Bank of 2019\n\nEdukt,Pfeile,Produkt\n{one}"),
            "answer = \"Produkt\"",
            "1 question: 1 sound",
        ),
    ];
    let mut failures = Vec::new();
    for (name, text, expected, counts) in cases {
        let folder = scratch("guesses-small");
        std::fs::write(folder.join("bank.csv"), text).expect("the bank can be written");
        let output = run(&folder, &["profile", "bank.csv"]);
        let said = String::from_utf8_lossy(&output.stdout).into_owned();
        if !said.contains(expected) || !said.contains(counts) {
            failures.push(format!("{name}:\n{said}{output:?}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn what_is_no_bank_gets_no_proposal() {
    let folder = scratch("guesses-none");
    std::fs::write(folder.join("marks.csv"), "name,mark\nNo,1\nOn,2\n").expect("the table can be written");
    let output = run(&folder, &["profile", "marks.csv"]);
    assert_eq!((output.status.code(), output.stdout.len()), (Some(1), 0), "{output:?}");
    // An audit does not guess: it says what would.
    std::fs::write(folder.join("bank.csv"), table(&["Nr.", "Edukt", "Pfeile", "Produkt"], "isap", ';', 1))
        .expect("the bank can be written");
    let output = run(&folder, &["audit", "bank.csv", "--out", "out"]);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.code() == Some(2) && said.contains("`keyassay profile` proposes one"), "{output:?}");
}

#[test]
fn atoms_counted_from_0_stay_what_they_are_in_other_formats() {
    let folder = scratch("guesses-zero");
    std::fs::write(folder.join("keyassay.toml"), "labels = 0\n").expect("the profile can be written");
    let bank = table(&["id", "start", "arrows", "answer"], "isap", ',', 0);
    std::fs::write(folder.join("bank.csv"), bank).expect("the bank can be written");
    let mut failures = Vec::new();
    for (format, ending) in [("csv", "csv"), ("jsonl", "jsonl"), ("cml", "cml"), ("qti", "zip")] {
        let new = format!("new.{ending}");
        std::fs::create_dir_all(folder.join("other")).expect("the folder can be made");
        std::fs::write(folder.join("other/keyassay.toml"), "").expect("the profile can be written");
        run(&folder, &["convert", "bank.csv", "--to", format, "--out", &format!("other/{new}")]);
        let output = run(&folder.join("other"), &["audit", &new, "--out", "out", "--write", "json"]);
        let said = String::from_utf8_lossy(&output.stdout).into_owned();
        if !said.contains("10 items: 8 sound, 2 faulty") {
            failures.push(format!("{format}: {output:?}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn numbers_that_begin_anew_in_each_table_are_no_ids() {
    let folder = scratch("guesses-anew");
    let header = ["Nr.", "Edukt", "Pfeile", "Produkt"];
    for (at, name) in ["week-1.csv", "week-2.csv", "week-3.csv"].into_iter().enumerate() {
        // Other questions under the same numbers.
        let own = table(&header, "isap", ',', 1).replace(".C", &format!(".{}", "C".repeat(12 * at + 1)));
        let own = own.replace('Q', "");
        std::fs::write(folder.join(name), own).expect("the bank can be written");
    }
    let output = run(&folder, &["profile", "week-1.csv", "week-2.csv", "week-3.csv"]);
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(text.contains("id = []") && text.contains("'Nr.' numbers each table anew"), "{text}");
    let output = run(&folder, &["profile", "week-1.csv"]);
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(text.contains("id = \"Nr.\""), "{text}");
}

#[test]
fn tasks_have_words_of_their_own() {
    let folder = scratch("guesses-tasks");
    let bank = "Nr;Aufgabentyp;Edukt;Pfeile;Produkt\n\
        a1;Elementarschritt;[OH-].CBr;1 -> 1-2, 2-3 -> 3;CO.[Br-]\n\
        a2;Mesomerie;[CH2-]C=O;1 -> 1-2, 2-3 -> 3;C=C[O-]\n\
        a3;mesomerie ;[OH-].CCl;1 -> 1-2, 2-3 -> 3;CO.[Cl-]\n\
        a4;Elementarschritt;N.[H+];1 -> 1-2;[NH4+]\n";
    std::fs::write(folder.join("bank.csv"), bank).expect("the bank can be written");
    let output = run(&folder, &["profile", "bank.csv"]);
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let tasks = "[tasks]\nresonance = [\"Mesomerie\"]\nstep = [\"Elementarschritt\"]\n";
    assert!(text.contains(tasks) && text.contains("task = \"Aufgabentyp\""), "{text}");
    std::fs::write(folder.join("keyassay.toml"), &text).expect("the profile can be written");
    run(&folder, &["convert", "bank.csv", "--to", "jsonl", "--out", "bank.jsonl"]);
    run(&folder, &["convert", "bank.csv", "--to", "cml", "--out", "bank.cml"]);
    for name in ["bank.csv", "bank.jsonl", "bank.cml"] {
        if name != "bank.csv" {
            // What is converted has the standard names of fields.
            std::fs::write(folder.join("keyassay.toml"), tasks).expect("the profile can be written");
        }
        run(&folder, &["audit", name, "--out", "out", "--write", "csv"]);
        let audit = std::fs::read_to_string(folder.join("out/audit.csv")).expect("the audit is there");
        let errors: Vec<&str> = audit.lines().filter(|line| line.contains(",error,")).collect();
        let is_it = |line: &&str| line.contains("a3,") && line.contains("sigma-in-resonance");
        assert!(errors.len() == 2 && errors.iter().all(is_it), "{name}: {audit}");
    }
    // A word names one task.
    std::fs::write(folder.join("keyassay.toml"), "[tasks]\nstep = [\"x\"]\nresonance = [\"X\"]\n").expect("a profile");
    let output = run(&folder, &["audit", "bank.csv", "--out", "out"]);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.code() == Some(2) && said.contains("the word 'x' names the task"), "{output:?}");
}
