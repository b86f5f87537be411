//! Reactions as CML writes them: sides, labels, arrows as maps and as identities of electrons, schemes.

#![allow(clippy::format_push_string, clippy::format_collect)] // Documents of tests are put together where they are read.

use super::cml::{arrow, arrows, faults, picture, questions};
use keyassay::cml::{FaultKind, Library, Reader, Sequence};
use keyassay::limits::Limits;

/// Hydroxide adds to formaldehyde: `o1 -> o1-c2; c2=o3 -> o3`. What stands beside the two lists is given.
fn addition(attributes: &str, beside: &str) -> String {
    format!(
        "<reaction id='r' {attributes}><reactantList><reactant><molecule id='m1'><atomArray>\
         <atom id='o1' elementType='O' formalCharge='-1' hydrogenCount='1'><electron id='e1' count='2'/></atom></atomArray></molecule></reactant>\
         <reactant><molecule id='m2'><atomArray><atom id='c2' elementType='C' hydrogenCount='2'/><atom id='o3' elementType='O'/></atomArray>\
         <bondArray><bond id='b4' atomRefs2='c2 o3' order='D'><electron id='e2' count='2'/></bond></bondArray></molecule></reactant></reactantList>\
         <productList><product><molecule id='p'><atomArray><atom id='o1' elementType='O' hydrogenCount='1'/>\
         <atom id='c2' elementType='C' hydrogenCount='2'/><atom id='o3' elementType='O' formalCharge='-1' hydrogenCount='0'><electron id='e2' count='2'/></atom></atomArray>\
         <bondArray><bond id='b5' atomRefs2='o1 c2' order='S'><electron id='e1' count='2'/></bond><bond id='b6' atomRefs2='c2 o3' order='S'/></bondArray>\
         </molecule></product></productList>{beside}</reaction>"
    )
}

const ARROWS: &str = "o1 -> o1-c2; c2-o3 -> o3";

#[test]
fn arrows_are_read_from_every_form_of_map() {
    let own = "convention='ka:electronFlow'";
    let map = |attributes: &str, links: &str| format!("<map {attributes}>{links}</map>");
    let full = "<link from='o1' fromType='atom' toSet='o1 c2' toType='bond' role='pair'/>\
                <link fromSet='c2 o3' fromType='bond' to='o3' toType='atom' role='pair'/>";
    let cases = [
        (addition("", &map(own, full)), ARROWS),
        // By the dictionary, by the roles of the links, by the role of the map; whatever the prefix.
        (addition("", &map("dictRef='x:arrows'", &full.replace(" role='pair'", ""))), ARROWS),
        (addition("", &map("", full)), ARROWS),
        (addition("", &map("role='pair'", &full.replace(" role='pair'", ""))), ARROWS),
        // Types may be absent, or stand on the map.
        (addition("", &map(own, "<link from='o1' toSet='o1 c2'/><link fromSet='c2 o3' to='o3'/>")), ARROWS),
        (
            addition(
                "",
                &map(
                    &format!("{own} fromType='atom'"),
                    "<link from='o1' toSet='o1 c2'/><link from='b4' fromType='bond' to='o3'/>",
                ),
            ),
            ARROWS,
        ),
        // Bonds by their ids: one of the start, one that only the product has.
        (addition("", &map(own, "<link from='o1' to='b5'/><link from='b4' to='o3'/>")), ARROWS),
        (
            addition(
                "",
                &map(own, "<link from='o1' to='b5' toType='cml:bond'/><link from='b4' fromType='bond' to='o3'/>"),
            ),
            ARROWS,
        ),
        // Electrons by their ids.
        (addition("", &map(own, "<link from='e1' to='e1'/><link from='e2' to='e2'/>")), ARROWS),
        // Atoms by molecule and id.
        (
            addition(
                "",
                &map(
                    own,
                    "<link from='o1' fromContext='m1' toSet='o1 c2'/><link fromSet='c2 o3' to='o3' toContext='m2'/>",
                ),
            ),
            ARROWS,
        ),
        // Half-headed arrows; an undrawn hydrogen; an atom that the start does not have, which is for the audit to find.
        (
            addition("", &map(own, "<link from='o1' toSet='o1 c2' role='single'/><link fromSet='c2 c2h2' to='z9'/>")),
            "o1 ~> o1-c2; c2-c2h2 -> z9",
        ),
        (addition("", &map(own, "")), ""),
        // Other maps are no arrows.
        (addition("", &map("id='am'", "<link from='o1' to='o1' fromType='atom' toType='atom'/>")), ""),
        // The identity of electrons.
        (addition("electronMap='USE_IDS'", ""), ARROWS),
        (
            addition("electronMap='em'", &map("id='em'", "<link from='e2' to='e2'/><link from='e1' to='e1'/>")),
            "c2-o3 -> o3; o1 -> o1-c2",
        ),
        // A map of arrows goes before the identity of electrons.
        (addition("electronMap='USE_IDS'", &map(own, "<link from='o1' toSet='o1 c2'/>")), "o1 -> o1-c2"),
        (addition("", ""), ""),
    ];
    let mut wrong = Vec::new();
    for (text, wanted) in &cases {
        let (found, faults) = (arrows(text), faults(text));
        if found != *wanted || !faults.is_empty() {
            wrong.push(format!("{text}\n  {found}\n  {wanted} {faults:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    let stated = |text: &str| questions(text)[0].steps[0].arrows.is_some();
    assert!(stated(&cases[11].0), "a map without links states that there are no arrows");
    assert!(!stated(&cases[16].0), "no map states nothing");
}

#[test]
fn arrows_that_cannot_be_told_are_faults() {
    let link = |attributes: &str| addition("", &format!("<map convention='a:electronFlow'><link {attributes}/></map>"));
    let identity = |before: &str, after: &str| {
        addition("electronMap='USE_IDS'", "").replacen("id='e1' count='2'", before, 1).replacen(
            "id='e1' count='2'",
            after,
            1,
        )
    };
    let both =
        addition("", "<map convention='a:electronFlow'><link from='o1' to='b4'/></map>").replace("id='b5'", "id='b4'");
    let cases = [
        (link("from='o1'"), "<link from='o1'/>"),
        (link("to='o1'"), "<link to='o1'/>"),
        (link("from='' to='o1'"), "<link from='' to='o1'/>"),
        (link("from='o1' toSet='o1 c2 o3'"), "o1 c2 o3"),
        (link("from='o1' to='b9' toType='bond'"), "b9"),
        (link("from='e9' fromType='electron' to='o3'"), "e9"),
        (link("from='o1' fromType='molecule' to='o3'"), "o1"),
        (link("from='o1' to='o3' role='pairs'"), "pairs"),
        // The head's bond id is one bond in the start and another in the product.
        (both, "b4"),
        // No fault of the map: a tail is sought in the start only.
        (link("from='b5' fromType='bond' to='o3'"), "b5"),
        (addition("electronMap='em'", ""), "em"),
        (addition("electronMap='em'", "<map id='em'><link from='e1' to='e7'/></map>"), "e7"),
        (addition("electronMap='em'", "<map id='em'><link from='e1'/></map>"), "<link from='e1'/>"),
        (identity("id='e1' count='3'", "id='e1' count='2'"), "<electron id='e1' count='3'/>"),
        (identity("id='e2' count='2'", "id='e1' count='2'"), "<electron id='e2' count='2'/>"),
    ];
    let mut wrong = Vec::new();
    for (text, marked) in &cases {
        let found: Vec<_> = faults(text).into_iter().filter(|fault| fault.0 == FaultKind::Arrows).collect();
        if found.len() != 1 || found[0].1 != *marked {
            wrong.push(format!("{text}\n  {found:?} {marked}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The two sides of a question's first step.
fn sides(question: &Sequence) -> (String, String) {
    let side = |side: Option<&keyassay::structure::Structure>| side.map_or("none".to_owned(), picture);
    let step = &question.steps[0];
    (side(step.start.as_ref()), side(step.answer.as_ref()))
}

/// A reaction of bare ions, each side a list of ids; the elements are told from their first letter.
fn ions(attributes: &str, start: &[&str], answer: &[&str], beside: &str) -> String {
    let list = |ids: &[&str], item: &str| {
        let atom = |id: &&str| {
            let element = if id.starts_with('f') { "F" } else { "I" };
            format!(
                "<{item}><molecule><atomArray><atom id='{id}' elementType='{element}' formalCharge='-1'/></atomArray></molecule></{item}>"
            )
        };
        format!("<{item}List>{}</{item}List>", ids.iter().map(atom).collect::<String>())
    };
    format!("<reaction {attributes}>{}{}{beside}</reaction>", list(start, "reactant"), list(answer, "product"))
}

#[test]
fn products_carry_the_labels_of_the_start_where_they_say_so() {
    let map = "<map id='am'><link from='f1' to='x1' fromType='atom' toType='atom'/><link from='i2' to='x2'/></map>";
    let backwards = "<map id='am' fromType='atom' toType='atom'><link from='x1' to='f1'/></map>";
    let cases = [
        (ions("", &["f1", "i2"], &["i2", "f1"], ""), "i2:I-1 f1:F-1 | "),
        // Ids of their own are no labels.
        (ions("", &["f1", "i2"], &["f8", "i9"], ""), "#1:F-1 #2:I-1 | "),
        (ions("", &["f1", "i2", "i3"], &["f1", "i8", "i9"], ""), "#1:F-1 #2:I-1 #3:I-1 | "),
        // Most are the start's: the one that is not is kept as it stands.
        (ions("", &["f1", "i2"], &["f1", "i9"], ""), "f1:F-1 i9:I-1 | "),
        (ions("atomMap='USE_IDS'", &["f1", "i2"], &["f8", "i9"], ""), "f8:F-1 i9:I-1 | "),
        // By a map, named by the reaction or told by its types, whichever way round.
        (ions("atomMap='am'", &["f1", "i2"], &["x2", "x1"], map), "i2:I-1 f1:I-1 | "),
        (ions("", &["f1", "i2"], &["x2", "x1"], map), "i2:I-1 f1:I-1 | "),
        (ions("", &["f1", "i2"], &["x2", "x1"], backwards), "#1:I-1 f1:I-1 | "),
        // A map that is named but not there says nothing.
        (ions("atomMap='none'", &["f1", "i2"], &["i2", "f1"], map), "i2:I-1 f1:F-1 | "),
    ];
    let wrong: Vec<_> = cases
        .iter()
        .map(|(text, wanted)| (text, sides(&questions(text)[0]).1, *wanted))
        .filter(|(_, found, wanted)| found != wanted)
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn species_come_from_lists_counts_references_and_spectators() {
    let ion = |id: &str| {
        format!(
            "<molecule id='{id}'><atomArray><atom id='x{id}' elementType='I' formalCharge='-1'/></atomArray></molecule>"
        )
    };
    let reaction = |inside: &str| format!("<cml>{}<reaction>{inside}</reaction></cml>", ion("lib"));
    let reactants = |inside: &str| reaction(&format!("<reactantList>{inside}</reactantList>"));
    let none = "none".to_owned();
    let cases = [
        (reactants(""), " | ".to_owned(), none.clone()),
        (reaction(""), none.clone(), none.clone()),
        (reactants(&ion("a")), "xa:I-1 | ".to_owned(), none.clone()),
        (
            reactants(&format!("<reactant>{}{}</reactant>", ion("a"), ion("b"))),
            "xa:I-1 xb:I-1 | ".to_owned(),
            none.clone(),
        ),
        (
            reactants(&format!("<reactantList><reactant>{}</reactant></reactantList>", ion("a"))),
            "xa:I-1 | ".to_owned(),
            none.clone(),
        ),
        (reaction(&format!("<reactant>{}</reactant>", ion("a"))), "xa:I-1 | ".to_owned(), none.clone()),
        (
            reactants(&format!("<reactant count='2'>{}</reactant>", ion("a"))),
            "xa:I-1 xa_2:I-1 | ".to_owned(),
            none.clone(),
        ),
        (reactants("<reactant ref='lib'/>"), "xlib:I-1 | ".to_owned(), none.clone()),
        (
            reactants("<reactant count='2.0'><molecule ref='lib' count='1'/></reactant>"),
            "xlib:I-1 xlib_2:I-1 | ".to_owned(),
            none.clone(),
        ),
        // A reference to a molecule of the same reaction, before or after it.
        (
            reaction(&format!(
                "<reactantList><reactant ref='a'/></reactantList><productList>{}</productList>",
                ion("a")
            )),
            "xa:I-1 | ".to_owned(),
            "xa:I-1 | ".to_owned(),
        ),
        // Spectators are there before and after.
        (
            reaction(&format!(
                "<reactantList>{}</reactantList><spectatorList><spectator>{}</spectator></spectatorList><productList>{}</productList>",
                ion("a"),
                ion("s"),
                ion("a")
            )),
            "xa:I-1 xs:I-1 | ".to_owned(),
            "xa:I-1 xs:I-1 | ".to_owned(),
        ),
        // Solvents and conditions take no part.
        (
            reaction(&format!(
                "<reactantList>{}</reactantList><substanceList><substance>{}</substance></substanceList>",
                ion("a"),
                ion("s")
            )),
            "xa:I-1 | ".to_owned(),
            none.clone(),
        ),
    ];
    let mut wrong = Vec::new();
    for (text, start, answer) in &cases {
        let (found, faults) = (sides(&questions(text)[0]), faults(text));
        if found != (start.clone(), answer.clone()) || !faults.is_empty() {
            wrong.push(format!("{text}\n  {found:?} {faults:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));

    let refused = [
        (reactants("<reactant ref='nowhere'/>"), "nowhere"),
        (reactants("<reactant count='half'><molecule ref='lib'/></reactant>"), "half"),
        (reactants("<reactant title='water'/>"), "<reactant title='water'/>"),
        (reactants("<molecule title='water'/>"), "<molecule title='water'/>"),
        (format!("<cml>{0}{0}<reaction><reactant ref='lib'/></reaction></cml>", ion("lib")), "lib"),
        (reaction("<reactionList><reaction/></reactionList>"), "<reaction>"),
    ];
    let wrong: Vec<_> = refused
        .iter()
        .map(|(text, marked)| (text, faults(text), *marked))
        .filter(|(_, found, marked)| found.len() != 1 || found[0].1 != *marked)
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn references_ahead_are_found_with_a_library() {
    let text = "<cml><reaction><reactant ref='later'/></reaction>\
                <molecule id='later'><atomArray><atom id='x' elementType='I'/></atomArray></molecule></cml>";
    assert_eq!(faults(text).len(), 1);
    let mut first = Reader::new(text.as_bytes(), &Limits::default());
    first.by_ref().for_each(drop);
    let library: Library = first.into_library();
    let again: Vec<_> = Reader::with_library(text.as_bytes(), &Limits::default(), library).collect();
    assert!(!format!("{again:?}").contains("DanglingMolecule"));
}

#[test]
fn schemes_are_questions_with_steps() {
    let reaction = |id: &str| format!("<reaction id='{id}'/>");
    let with_arrows = "<reaction id='o'><map convention='x:electronFlow'/></reaction>";
    let cases = [
        (format!("<reactionList>{}{}</reactionList>", reaction("a"), reaction("b")), "a; b"),
        (format!("<reactionStepList id='l'>{}{}</reactionStepList>", reaction("a"), reaction("b")), "l[a b]"),
        (
            format!(
                "<reactionStepList id='l'><reactionStep>{}</reactionStep><reactionStep>{}</reactionStep></reactionStepList>",
                reaction("a"),
                reaction("b")
            ),
            "l[a b]",
        ),
        (format!("<reactionStepList type='choice'>{}{}</reactionStepList>", reaction("a"), reaction("b")), "a; b"),
        (format!("<reactionScheme id='s'>{}{}</reactionScheme>", reaction("a"), reaction("b")), "s[a b]"),
        (
            format!(
                "<reactionScheme title='t'><reactionList>{}{}</reactionList></reactionScheme>",
                reaction("a"),
                reaction("b")
            ),
            "t[a b]",
        ),
        // The overall reaction beside its steps is a question only if it has arrows.
        (
            format!(
                "<reactionScheme id='s'>{}<reactionStepList>{}{}</reactionStepList></reactionScheme>",
                reaction("o"),
                reaction("a"),
                reaction("b")
            ),
            "s[a b]",
        ),
        (
            format!(
                "<reactionScheme id='s'>{with_arrows}<reactionStepList>{}{}</reactionStepList></reactionScheme>",
                reaction("a"),
                reaction("b")
            ),
            "o; s[a b]",
        ),
        // A scheme inside a scheme is a question of its own.
        (
            format!(
                "<reactionScheme id='s'>{}<reactionScheme id='t'>{}{}</reactionScheme>{}</reactionScheme>",
                reaction("a"),
                reaction("b"),
                reaction("c"),
                reaction("d")
            ),
            "s[a d]; t[b c]",
        ),
        ("<reactionScheme id='s'/>".to_owned(), ""),
    ];
    let mut wrong = Vec::new();
    for (text, wanted) in &cases {
        let name = |question: &Sequence| {
            let steps: Vec<&str> = question.steps.iter().filter_map(|step| step.id.as_deref()).collect();
            match question.id.as_ref().or(question.title.as_ref()) {
                Some(id) => format!("{id}[{}]", steps.join(" ")),
                None => steps.join(" "),
            }
        };
        let found: Vec<String> = questions(text).iter().map(name).collect();
        if found.join("; ") != *wanted {
            wrong.push(format!("{text}\n  {found:?} {wanted}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn places_of_arrows_are_where_they_stand() {
    let text = format!(
        "<cml>\n {}</cml>",
        addition("", "\n<map convention='x:electronFlow'><link from='o1'\n toSet=' o1  c2 '/></map>")
    );
    let records = super::cml::records(&text);
    assert_eq!((records[0].place.line, records[0].place.column), (2, 2));
    let questions = questions(&text);
    let drawn = &questions[0].steps[0].arrows.as_ref().map(|arrows| arrows[0].clone());
    let Some(drawn) = drawn else { panic!("the arrow is read") };
    assert_eq!(arrow(drawn), "o1 -> o1-c2");
    assert_eq!(drawn.span.of(&records[0].text), "<link from='o1'\n toSet=' o1  c2 '/>");
    let keyassay::arrows::Place::Bond(_, second) = &drawn.head else { panic!("the head is a bond") };
    assert_eq!(second.span.of(&records[0].text), "c2");
    let place = records[0].place.after(&records[0].text.as_bytes()[..second.span.start as usize]);
    assert_eq!((place.line, place.column), (4, 14));
}
