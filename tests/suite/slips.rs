//! Slips seeded into sound questions are named, and sound questions have none.
//!
//! The questions are the sound ones of the independent bond-electron matrix (`corpus/witness/differential.jsonl`): random
//! molecules, random arrows. Every slip is drawn into the product by hand here, without the code that looks for it.

use super::molecules::renumbered;
use super::witness::text;
use keyassay::arrows::{Arrow, DrawnArrow, Moves, Place, notation, push, push_detached};
use keyassay::bank::{Arrows, Chunk, Drawing, Field, Item, Record, Step, Task};
use keyassay::findings::{Context, Finding, Judgement, Name, Settings, StepAudit, judge};
use keyassay::smiles::{self, Labels};
use keyassay::structure::electrons::Electrons;
use keyassay::structure::{AtomId, Bond, Element, Label, Structure};
use std::collections::BTreeMap;

/// Seeds of each slip, labelled and unlabelled.
const EACH: usize = 200;

/// Numbers without pattern (Marsaglia, J. Stat. Softw. 8 (2003) 14), the same in every run.
pub(crate) struct Random(pub u64);

impl Random {
    pub fn below(&mut self, bound: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as usize % bound.max(1)
    }

    pub fn pick<T: Clone>(&mut self, from: &[T]) -> Option<T> {
        from.get(self.below(from.len())).cloned()
    }

    pub fn order(&mut self, count: usize) -> Vec<usize> {
        let mut order: Vec<usize> = (0..count).collect();
        for at in (1..count).rev() {
            order.swap(at, self.below(at + 1));
        }
        order
    }
}

/// A sound question and how it is worked out.
pub(crate) struct Question {
    pub task: Task,
    pub start: String,
    pub arrows: String,
    pub audit: StepAudit,
}

impl Question {
    pub fn start(&self) -> &Structure {
        self.audit.start.as_ref().expect("a sound question has a start")
    }

    pub fn product(&self) -> &Structure {
        &self.audit.pushed.as_ref().expect("a sound question has a product").product
    }

    fn touches(&self, atom: AtomId) -> bool {
        self.audit.arrows.iter().any(|arrow| arrow.tail.touches(atom) || arrow.head.touches(atom))
    }
}

pub(crate) fn judged(task: Task, start: &str, arrows: &str, answer: &str) -> Judgement {
    let field = |text: &str| Field { text: text.to_owned(), ..Field::default() };
    let step = Step {
        start: Some(Drawing::Text(field(start))),
        arrows: Some(Arrows::Text(field(arrows))),
        answer: Some(Drawing::Text(field(answer))),
        ..Step::default()
    };
    let (settings, chunk) = (Settings::default(), Chunk::default());
    let item = Item { task, steps: vec![step], ..Item::default() };
    judge(&Context::new(&settings, &chunk), &Record { line: 1, content: Ok(item) }, "seeds")
}

/// The sound questions whose product is another drawing than the start.
pub(crate) fn questions() -> Vec<Question> {
    let mut questions = Vec::new();
    for line in text("differential.jsonl").lines() {
        let item: serde_json::Value = serde_json::from_str(line).expect("an item");
        let field = |name: &str| item[name].as_str().unwrap_or_default().to_owned();
        if field("expect") != "sound" {
            continue;
        }
        let task = Task::from_name(&field("task")).unwrap_or_default();
        let (start, arrows, answer) = (field("start"), field("arrows"), field("answer"));
        let judgement = judged(task, &start, &arrows, &answer);
        assert!(judgement.findings.iter().all(|finding| finding.slips.is_empty()), "{line}: {:?}", judgement.findings);
        if judgement.findings.is_empty() {
            let audit = judgement.steps.into_iter().next().expect("one step");
            questions.push(Question { task, start, arrows, audit });
        }
    }
    questions
}

/// What a seed gives: the stated answer, and other arrows where the slip lies in them.
pub(crate) struct Seed {
    pub stated: Structure,
    pub arrows: Option<String>,
}

pub(crate) type Sow = fn(&Question, &mut Random) -> Option<Seed>;

/// Every slip that one item can show, with the way to make it.
pub(crate) const SLIPS: &[(&str, Sow)] = &[
    ("arrow-skipped", skipped),
    ("arrow-reversed", reversed),
    ("head-on-atom", head_on_atom),
    ("head-on-bond", head_on_bond),
    ("tail-charge-kept", |question, random| kept(question, random, true)),
    ("head-charge-kept", |question, random| kept(question, random, false)),
    ("middle-charge-changed", middle),
    ("charge-sign-flipped", flipped),
    ("hydrogen-miscounted", miscounted),
    ("bond-miscopied", bond),
    ("atom-miscopied", atom),
    ("answer-not-redrawn", |question, _| Some(answer(question.start().clone()))),
    ("labels-off-by-one", off_by_one),
];

fn answer(stated: Structure) -> Seed {
    Seed { stated, arrows: None }
}

fn pushed(question: &Question, arrows: &[Arrow]) -> Option<Seed> {
    push(question.start(), arrows).ok().map(|pushed| answer(pushed.product))
}

fn with_arrow(
    question: &Question,
    random: &mut Random,
    change: impl Fn(&mut Random, &Arrow) -> Option<Arrow>,
) -> Option<Seed> {
    let mut arrows = question.audit.arrows.clone();
    let at = random.below(arrows.len());
    arrows[at] = change(random, &arrows[at])?;
    push_detached(question.start(), &arrows).ok().map(|pushed| answer(pushed.product))
}

fn skipped(question: &Question, random: &mut Random) -> Option<Seed> {
    let mut arrows = question.audit.arrows.clone();
    if arrows.len() < 2 {
        return None;
    }
    arrows.remove(random.below(arrows.len()));
    pushed(question, &arrows)
}

fn reversed(question: &Question, random: &mut Random) -> Option<Seed> {
    with_arrow(question, random, |_, arrow| Some(Arrow { tail: arrow.head, head: arrow.tail, ..*arrow }))
}

fn head_on_atom(question: &Question, random: &mut Random) -> Option<Seed> {
    with_arrow(question, random, |random, arrow| match arrow.head {
        Place::Bond(a, b) => {
            let own = if random.below(2) == 0 { a } else { b };
            (arrow.tail != Place::Atom(own)).then_some(Arrow { head: Place::Atom(own), ..*arrow })
        }
        Place::Atom(_) => None,
    })
}

fn head_on_bond(question: &Question, random: &mut Random) -> Option<Seed> {
    with_arrow(question, random, |random, arrow| match arrow.head {
        Place::Atom(b) => {
            let around: Vec<AtomId> = question.start().neighbours(b).map(|(next, _)| next).collect();
            let next = random.pick(&around).filter(|next| !arrow.tail.touches(*next))?;
            Some(Arrow { head: Place::Bond(b, next), ..*arrow })
        }
        Place::Bond(..) => None,
    })
}

fn set_charge(question: &Question, atom: AtomId, charge: i16) -> Seed {
    let mut stated = question.product().clone();
    stated.atom_mut(atom).charge = charge;
    answer(stated)
}

/// An atom that gave (or took) electrons keeps the charge that it had.
fn kept(question: &Question, random: &mut Random, gave: bool) -> Option<Seed> {
    let (start, product) = (question.start(), question.product());
    let changed = |atom: &AtomId| {
        let (before, after) = (start.atom(*atom).charge, product.atom(*atom).charge);
        if gave { after > before } else { after < before }
    };
    let atoms: Vec<AtomId> = start.atom_ids().filter(changed).collect();
    let atom = random.pick(&atoms)?;
    Some(set_charge(question, atom, start.atom(atom).charge))
}

fn middle(question: &Question, random: &mut Random) -> Option<Seed> {
    let (start, product) = (question.start(), question.product());
    let passed = |atom: &AtomId| {
        let count = |structure| Electrons::of(structure, *atom).non_bonding();
        question.touches(*atom)
            && start.atom(*atom).element != Element::HYDROGEN
            && start.atom(*atom).charge == product.atom(*atom).charge
            && product.atom(*atom).charge == 0
            && count(start) == count(product)
    };
    let atoms: Vec<AtomId> = start.atom_ids().filter(passed).collect();
    let atom = random.pick(&atoms)?;
    let sign = if random.below(2) == 0 { 1 } else { -1 };
    Some(set_charge(question, atom, product.atom(atom).charge + sign))
}

fn flipped(question: &Question, random: &mut Random) -> Option<Seed> {
    let product = question.product();
    let charged: Vec<AtomId> = product.atom_ids().filter(|atom| product.atom(*atom).charge != 0).collect();
    let atom = random.pick(&charged)?;
    Some(set_charge(question, atom, -product.atom(atom).charge))
}

fn miscounted(question: &Question, random: &mut Random) -> Option<Seed> {
    let mut stated = question.product().clone();
    let heavy: Vec<AtomId> = stated.atom_ids().filter(|atom| stated.atom(*atom).element != Element::HYDROGEN).collect();
    let atom = random.pick(&heavy)?;
    let has = stated.atom(atom).hydrogens;
    stated.atom_mut(atom).hydrogens = if has > 0 && random.below(2) == 0 { has - 1 } else { has + 1 };
    Some(answer(stated))
}

/// A bond away from the arrows gets another order, and its atoms hydrogens to match.
fn bond(question: &Question, random: &mut Random) -> Option<Seed> {
    let mut stated = question.product().clone();
    let heavy = |atom: AtomId| stated.atom(atom).element != Element::HYDROGEN && !question.touches(atom);
    let bonds: Vec<_> = stated.bonds().filter(|(_, a, b, _)| heavy(*a) && heavy(*b)).collect();
    let (id, a, b, old) = random.pick(&bonds)?;
    let order = if old.order == 1 { 2 } else { old.order - 1 };
    *stated.bond_mut(id) = Bond::new(order);
    for end in [a, b] {
        let hydrogens = i32::from(stated.atom(end).hydrogens) + i32::from(old.order) - i32::from(order);
        stated.atom_mut(end).hydrogens = u16::try_from(hydrogens).ok()?;
    }
    Some(answer(stated))
}

/// An atom away from the arrows becomes another element, or is left out with its hydrogens.
fn atom(question: &Question, random: &mut Random) -> Option<Seed> {
    let mut stated = question.product().clone();
    let atoms: Vec<AtomId> = stated.atom_ids().filter(|atom| !question.touches(*atom)).collect();
    let atom = random.pick(&atoms)?;
    let around: Vec<AtomId> = stated.neighbours(atom).map(|(next, _)| next).collect();
    if around.len() == 1 && stated.degree(around[0]) > 1 && random.below(2) == 0 {
        let order = stated.bond_between(atom, around[0]).map_or(0, |bond| stated.bond(bond).order);
        stated.atom_mut(around[0]).hydrogens += u16::from(order);
        return Some(answer(stated.part(|own| own != atom)));
    }
    let other = match stated.atom(atom).element {
        Element::CARBON => Element::NITROGEN,
        Element::OXYGEN => Element::SULFUR,
        Element::CHLORINE => Element::BROMINE,
        _ => return None,
    };
    stated.atom_mut(atom).element = other;
    Some(answer(stated))
}

/// The arrows count from 0 (or from 2), the answer is right.
fn off_by_one(question: &Question, random: &mut Random) -> Option<Seed> {
    let by = if random.below(4) == 0 { 1 } else { -1 };
    let name = |name: &keyassay::arrows::AtomName| {
        let Label::Number(number) = name.label else { return None };
        let label = Label::Number(number.checked_add_signed(by)?);
        Some(keyassay::arrows::AtomName { label, ..name.clone() })
    };
    let place = |place: &Place<keyassay::arrows::AtomName>| {
        Some(match place {
            Place::Atom(a) => Place::Atom(name(a)?),
            Place::Bond(a, b) => Place::Bond(name(a)?, name(b)?),
        })
    };
    let arrow =
        |arrow: &DrawnArrow| Some(DrawnArrow { tail: place(&arrow.tail)?, head: place(&arrow.head)?, ..arrow.clone() });
    let moved: Vec<DrawnArrow> = question.audit.drawn_arrows.iter().map(arrow).collect::<Option<_>>()?;
    Some(Seed { stated: question.product().clone(), arrows: Some(notation::write(&moved)) })
}

/// The slip of a judgement: of the finding that carries one.
fn named(findings: &[Finding]) -> Option<String> {
    findings.iter().find(|finding| !finding.slips.is_empty()).map(|finding| finding.slips.names().into_owned())
}

/// Sows one slip until `EACH` questions show it, and counts what it is called.
fn harvest(
    questions: &[Question],
    (slip, sow): (&str, Sow),
    labelled: bool,
    random: &mut Random,
) -> BTreeMap<String, usize> {
    let mut called: BTreeMap<String, usize> = BTreeMap::new();
    let mut seeds = 0;
    for round in 0..40 * questions.len() {
        if seeds == EACH {
            break;
        }
        let question = &questions[(round * 7 + random.below(7)) % questions.len()];
        let Some(seed) = sow(question, random) else { continue };
        let stated = if labelled {
            smiles::write(&seed.stated, Labels::Classes)
        } else {
            let order = random.order(seed.stated.atom_count());
            smiles::write(&renumbered(&seed.stated, &order), Labels::Without)
        };
        let arrows = seed.arrows.as_deref().unwrap_or(&question.arrows);
        let judgement = judged(question.task, &question.start, arrows, &stated);
        // A seed may be no fault (a symmetric place), or one of another kind (an answer that cannot be read).
        let faulty = judgement.findings.iter().any(|finding| {
            finding.name == Name::MismatchedProduct
                || (seed.arrows.is_some() && finding.severity == keyassay::findings::Severity::Error)
        });
        let is_start = judgement.findings.iter().any(|finding| finding.name == Name::AnswerIsStart);
        if !faulty || (is_start && slip != "answer-not-redrawn") {
            continue;
        }
        seeds += 1;
        let name = named(&judgement.findings).unwrap_or_else(|| "none".to_owned());
        if std::env::var_os("KEYASSAY_SHOW").is_some() {
            println!("{name}: {} | {arrows} | {stated}", question.start);
        }
        *called.entry(name).or_default() += 1;
    }
    called
}

#[test]
fn seeded_slips_are_named() {
    let questions = questions();
    assert!(questions.len() > 900, "{} sound questions", questions.len());
    let mut random = Random(0x5EED_0005);
    let mut failures = Vec::new();
    for (slip, sow) in SLIPS {
        for labelled in [true, false] {
            let called = harvest(&questions, (slip, *sow), labelled, &mut random);
            let total: usize = called.values().sum();
            let right = called.get(*slip).copied().unwrap_or(0);
            let kind = if labelled { "labelled" } else { "unlabelled" };
            println!("{slip} {kind}: {right} of {total} {called:?}");
            if total < EACH || right * 100 < total * 95 {
                failures.push(format!("{slip} {kind}: {right} of {total}, called {called:?}"));
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// The seeds above move pairs and single electrons alike.
#[test]
fn seeds_have_both_kinds_of_arrows() {
    let all: Vec<Moves> = questions().iter().flat_map(|own| own.audit.arrows.iter().map(|arrow| arrow.moves)).collect();
    assert!(all.contains(&Moves::Pair) && all.contains(&Moves::Single));
}

const ENOLATE: (&str, &str) = ("[CH2-:1][C:2](=[O:3])[CH3:4]", "1 -> 1-2; 2-3 -> 3");
const SN2: (&str, &str) = ("[OH-:1].[CH3:2][Br:3].[Na+:4]", "1 -> 1-2; 2-3 -> 3");

const PLAINLY: &[Said] = &[
    (ENOLATE, "[CH2:1]=[C-:2](=[O:3])[CH3:4]", "arrow-skipped", "what the arrows give without arrow 2"),
    (
        ENOLATE,
        "[CH2:1]=[C:2](=[O:3])[CH3:4]",
        "arrow-skipped head-charge-kept",
        "without arrow 2 and with the charge on C2 left at 0",
    ),
    (ENOLATE, "[CH2-:1][C+:2]([O-:3])[CH3:4]", "arrow-skipped", "what the arrows give without arrow 1"),
    (ENOLATE, "[CH2:1]=[C:2]([O:3])[CH3:4]", "head-charge-kept", "with the charge on O3 left at 0"),
    (ENOLATE, "[CH2-:1]=[C:2]([O-:3])[CH3:4]", "tail-charge-kept", "with the charge on C1 left at -1"),
    (ENOLATE, "[CH2:1]=[C+:2]([O-:3])[CH3:4]", "middle-charge-changed", "charge +1 on C2, through which"),
    (ENOLATE, "[CH2:1]=[C:2]([O+:3])[CH3:4]", "charge-sign-flipped", "with +1 written for -1 on O3"),
    (ENOLATE, "[CH2:1]=[C:2]([O-:3])[CH2:4]", "hydrogen-miscounted", "with 1 hydrogen too few on C4"),
    (ENOLATE, "[CH2:1]=[C:2]([O-:3])[NH2:4]", "atom-miscopied", "with C4 drawn as nitrogen"),
    (ENOLATE, "[CH2:1]=[CH:2][O-:3]", "atom-miscopied", "without C4"),
    (ENOLATE, "[CH2-:1][C:2](=[O:3])[CH3:4]", "answer-not-redrawn", "it was not redrawn"),
    (
        ENOLATE,
        "[CH2-:1]=[C:2]([O:3])[CH3:4]",
        "tail-charge-kept head-charge-kept",
        "the charge on C1 left at -1, as it was before its pair went and with the charge on O3 left at 0",
    ),
    (SN2, "[OH:1][CH3:2].[Br-:3].[Na:4]", "atom-miscopied", "with charge 0 on Na4, which no arrow touches"),
    (SN2, "[OH:1].[CH3:2].[Br-:3].[Na+:4]", "bond-miscopied", "without the bond O1-C2"),
    (SN2, "[OH-:1].[CH3+:2].[Br-:3].[Na+:4]", "arrow-skipped", "without arrow 1"),
    (
        SN2,
        "[OH:1][CH2:2].[Br:3].[Na+:4]",
        "head-charge-kept hydrogen-miscounted",
        "left at 0, as it was before the pair came and with 1 hydrogen too few on C2",
    ),
    (
        SN2,
        "[OH-:1].[CH2+:2].[Br-:3].[Na+:4]",
        "arrow-skipped hydrogen-miscounted",
        "without arrow 1 and with 1 hydrogen too few on C2",
    ),
    (
        ("[CH3:1][Br:2]", "1-2 -> 2"),
        "[CH3-:1].[Br+:2]",
        "arrow-reversed",
        "what the arrows give with arrow 1 the other way round",
    ),
    (
        ("[CH2+:1][CH:2]=[CH:3][CH3:4]", "2-3 -> 1-2"),
        "[CH2+:1][CH-:2][CH+:3][CH3:4]",
        "head-on-atom",
        "with the pair of arrow 1 on C2 instead of between C1 and C2",
    ),
    (
        ("[CH2+:1][CH:2]=[CH:3][CH3:4]", "2-3 -> 2"),
        "[CH2:1]=[CH:2][CH+:3][CH3:4]",
        "head-on-bond",
        "with the pair of arrow 1 between C2 and C1 instead of on C2",
    ),
];

/// What a colleague would say: questions with their slips and how they are said.
#[test]
fn slips_are_said_plainly() {
    said_plainly(PLAINLY);
}

/// Question (start and arrows), stated answer, slip, and a part of the sentence that says it.
type Said = ((&'static str, &'static str), &'static str, &'static str, &'static str);

fn said_plainly(cases: &[Said]) {
    let mut failures = Vec::new();
    for ((start, arrows), answer, slip, sentence) in cases {
        let task = if *slip == "tautomer" { Task::Resonance } else { Task::Step };
        let findings = judged(task, start, arrows, answer).findings;
        let said = findings.iter().find(|finding| finding.name == Name::MismatchedProduct);
        let said = said.map_or(("".into(), "".into()), |finding| (finding.slips.names(), finding.message()));
        if said.0 != *slip || !said.1.contains(sentence) {
            failures.push(format!("{start} | {arrows} | {answer}: {said:?}"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// Answers of a further step, other drawings of the product, and what was not written.
#[test]
fn further_steps_and_other_drawings_are_said_plainly() {
    const ACYL: (&str, &str) = ("[NH3:1].[CH3:2][C:3](=[O:4])[Cl:5]", "1 -> 1-3; 3-5 -> 5");
    const NITRATION: (&str, &str) =
        ("[CH:1]1=[CH:2][CH:3]=[CH:4][CH:5]=[CH:6]1.[O:7]=[N+:8]=[O:9]", "1-2 -> 2-8; 7-8 -> 7");
    const OZONIDE: (&str, &str) = ("[CH2:1]1[CH2:2][O:3][O:4][O:5]1", "5 -> 1-5; 1-2 -> 2-3; 3-4 -> 4");
    const MARKED: (&str, &str) = ("[OH-:1].[2H:2][CH2:3][Br:4]", "1 -> 1-3; 3-4 -> 4");
    said_plainly(&[
        (
            ACYL,
            "[NH2:1][C:3]([CH3:2])=[O:4].[ClH:5]",
            "proton-moved",
            "after a proton has passed from N1 to Cl5, a further step: 5 -> 5-1h; 1-1h -> 1",
        ),
        (
            ACYL,
            "[NH2:1][C:3]([CH3:2])=[O:4]",
            "proton-moved species-left-out",
            "after a proton has passed from N1 to Cl5, a further step: 5 -> 5-1h; 1-1h -> 1, without [Cl-]",
        ),
        (
            NITRATION,
            "[CH:1]1[CH:2]([N+:8]([O-:7])=[O:9])[CH:3]=[CH:4][CH+:5][CH:6]=1",
            "other-contributor",
            "a contributor of what the arrows give: its charge +1 is on C5 instead of C1",
        ),
        (OZONIDE, "[CH2:1]=[O:5][O:4].[CH2:2]=[O:3]", "charges-left-out", "without its charges, -1 on O4 and +1 on O5"),
        (
            ("[CH3:1][C:2](=[O:3])[CH3:4]", "2-3 -> 3"),
            "[CH3:1][C:2]([OH:3])=[CH2:4]",
            "tautomer",
            "a hydrogen has passed from C4 to O3, and in resonance no atom moves",
        ),
        (MARKED, "[OH:1][CH3:3].[Br-:4]", "isotope-lost", "without its isotope label 2 on H2"),
    ]);
}

/// What `keyassay findings NAME` shows as an example of a slip is one.
#[test]
fn examples_of_slips_show_them() {
    use keyassay::findings::slips::Slip;
    let mut failures = Vec::new();
    let mut shown = 0;
    for slip in Slip::ALL {
        let (name, example) = (slip.name(), slip.entry().example);
        let resonance = example.strip_prefix("task resonance: ");
        let parts: Vec<&str> = resonance.unwrap_or(example).split(" | ").collect();
        let [start, arrows, answer] = parts[..] else { continue };
        shown += 1;
        let task = if resonance.is_some() { Task::Resonance } else { Task::Step };
        let slips = named(&judged(task, start, arrows, answer).findings).unwrap_or_default();
        if !slips.split(' ').any(|own| own == name) {
            failures.push(format!("{name}: {example} shows {slips:?}"));
        }
    }
    assert!(shown >= Slip::ALL.len() - 2, "{shown} examples are items");
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
