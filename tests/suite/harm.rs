//! Corrections do no harm: whatever a grade lets `amend` apply leaves a sound item and touches no field that is right.
//!
//! Sound questions are made faulty in one field that the test knows: a slip is drawn into the answer, or an arrow is taken out. What `amend` does
//! with the corrections is done here by putting the proposal into its field.

use super::audits::{run, scratch};
use super::molecules::renumbered;
use super::slips::{Question, Random, SLIPS, judged, questions};
use keyassay::arrows::notation;
use keyassay::bank::Task;
use keyassay::findings::{Correction, Finding, Grade, Severity, Target};
use keyassay::smiles::{self, Labels};

/// A question with one wrong field.
struct Faulty {
    arrows: String,
    answer: String,
    wrong: Target,
}

fn sown(question: &Question, random: &mut Random) -> Option<Faulty> {
    let kind = random.below(SLIPS.len() + 3);
    let (arrows, stated, wrong) = if let Some((_, sow)) = SLIPS.get(kind) {
        let seed = sow(question, random)?;
        let wrong = if seed.arrows.is_some() { Target::Arrows } else { Target::Answer };
        (seed.arrows.unwrap_or_else(|| question.arrows.clone()), seed.stated, wrong)
    } else {
        let mut arrows = question.audit.drawn_arrows.clone();
        for _ in 0..=kind - SLIPS.len() - usize::from(kind > SLIPS.len()) {
            if arrows.len() > 1 {
                arrows.remove(random.below(arrows.len()));
            }
        }
        (notation::write(&arrows), question.product().clone(), Target::Arrows)
    };
    let answer = if random.below(2) == 0 {
        smiles::write(&stated, Labels::Classes)
    } else {
        let order = random.order(stated.atom_count());
        smiles::write(&renumbered(&stated, &order), Labels::Without)
    };
    Some(Faulty { arrows, answer, wrong })
}

fn graded(findings: &[Finding]) -> impl Iterator<Item = (Target, Grade, &str)> {
    let fixes = findings.iter().filter_map(|finding| finding.fix.as_deref());
    let all = fixes.flat_map(Correction::each);
    all.filter(|fix| fix.grade > Grade::None).map(|fix| (fix.field, fix.grade, fix.proposed.as_str()))
}

#[test]
fn what_a_grade_lets_be_applied_is_sound_and_touches_nothing_right() {
    let questions = questions();
    let mut random = Random(0x5EED_0019);
    let (mut items, mut applied, mut overwritten) = (0, 0, Vec::new());
    let mut failures = Vec::new();
    for _ in 0..6_000 {
        let question = &questions[random.below(questions.len())];
        let Some(faulty) = sown(question, &mut random) else { continue };
        let findings = judged(question.task, &question.start, &faulty.arrows, &faulty.answer).findings;
        if findings.iter().all(|finding| finding.severity < Severity::Error) {
            continue;
        }
        items += 1;
        let said = format!("{:?} {} | {} | {}", question.task, question.start, faulty.arrows, faulty.answer);
        for (field, grade, proposed) in graded(&findings) {
            applied += 1;
            let (arrows, answer) = match field {
                Target::Arrows => (proposed, faulty.answer.as_str()),
                _ => (faulty.arrows.as_str(), proposed),
            };
            let then = judged(question.task, &question.start, arrows, answer).findings;
            if let Some(error) = then.iter().find(|finding| finding.severity == Severity::Error) {
                failures.push(format!("not sound afterwards: {said}: {proposed}: {}", error.message()));
            }
            if field != faulty.wrong {
                let said = format!("{said}: {} is overwritten by {proposed}", field.name());
                if grade == Grade::Certain { failures.push(said) } else { overwritten.push(said) }
            }
        }
    }
    assert!(items > 3_000 && applied > 1_000, "{items} faulty items, {applied} corrections with a grade");
    println!(
        "{items} faulty items, {applied} corrections with a grade, {} likely ones overwrite what is right",
        overwritten.len()
    );
    assert!(overwritten.len() * 200 <= items, "{}", overwritten.join("\n"));
    failures.truncate(20);
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn nothing_is_graded_where_the_start_is_impossible() {
    // Compounds without their charges: the answers are right, and what the arrows make of such starts is not.
    let cases = [
        ("C=N=N.CC(=O)O", "1-2 -> 1-7h; 7-7h -> 7", "C[N+]#N.CC(=O)[O-]"),
        ("CN(=O)=O.[OH-]", "5 -> 5-1h; 1-1h -> 1-2; 2-3 -> 3", "C=[N+]([O-])[O-].O"),
        ("C[NH3].CCl", "1-2 -> 2", "[CH3+].N.CCl"),
    ];
    let mut failures = Vec::new();
    for (start, arrows, answer) in cases {
        let findings = judged(Task::Step, start, arrows, answer).findings;
        let proposed = findings.iter().filter(|finding| finding.fix.is_some()).count();
        let graded: Vec<_> = graded(&findings).collect();
        if !graded.is_empty() || findings.iter().all(|finding| finding.severity < Severity::Error) {
            failures.push(format!("{start} {arrows} {answer}: {proposed} proposals, {graded:?}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn answers_of_neighbours_give_no_grade_to_an_impossible_start() {
    // Each answer is the product of the item behind; the start of the third has a nitro group without its charges.
    let bank = "id,start,arrows,answer\n\
        a,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CS.[Cl-]\n\
        b,[SH-].CCl,1 -> 1-2; 2-3 -> 3,CC#N.[I-]\n\
        c,CN(=O)=O.[C-]#N.CI,5 -> 5-7; 7-8 -> 8,CCO.[F-]\n\
        d,[OH-].CCF,1 -> 1-3; 3-4 -> 4,CCO.[F-]\n";
    let folder = scratch("harm-neighbours");
    std::fs::write(folder.join("bank.csv"), bank).expect("the bank can be written");
    run(&folder, &["audit", "bank.csv", "--out", "out", "--write", "csv"]);
    let corrections = std::fs::read_to_string(folder.join("out/corrections.csv")).expect("there are corrections");
    let grades = |id: &str| -> Vec<&str> {
        let rows = corrections.lines().filter(|row| row.contains(&format!(",{id},")));
        rows.filter_map(|row| row.split(',').nth(7)).collect()
    };
    assert_eq!((grades("a"), grades("c")), (vec!["certain"], vec!["none"]), "{corrections}");
}
