//! What never occurs, of what a bank could ask.

use super::{Head, Section, Survey, Tail, Value};
use crate::structure::Element;

/// Something of which a bank has none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Never {
    /// Where it would be counted.
    pub section: Section,
    /// What it is.
    pub value: Value,
}

/// Elements that courses of organic chemistry draw; others are no gap. Common practice, no source.
const ELEMENTS: [&str; 14] = ["H", "B", "C", "N", "O", "F", "Si", "P", "S", "Cl", "Se", "Br", "I", "Li"];
/// Atoms with charges that such courses draw. Common practice, no source.
const CHARGED: [(&str, i8); 14] = [
    ("C", 1),
    ("C", -1),
    ("N", 1),
    ("N", -1),
    ("O", 1),
    ("O", -1),
    ("S", 1),
    ("S", -1),
    ("P", 1),
    ("B", -1),
    ("F", -1),
    ("Cl", -1),
    ("Br", -1),
    ("I", -1),
];

/// What never occurs, in the order of the sections.
#[must_use]
pub fn never(survey: &Survey) -> Vec<Never> {
    let mut all: Vec<(Section, Value)> = Vec::new();
    all.extend(["resonance", "step", "contributors"].map(|own| (Section::Task, Value::Word(own))));
    let forms = ["structure", "multiple choice", "sequence", "set of contributors"];
    all.extend(forms.map(|own| (Section::Form, Value::Word(own))));
    // A lone pair that stays on its atom, one electron that does: no arrow.
    let moves = Tail::ALL.into_iter().flat_map(|tail| Head::ALL.map(|head| (tail, head)));
    let moves = moves.filter(|own| !matches!(own, (Tail::LonePair | Tail::OneOfAtom, Head::Atom)));
    all.extend(moves.map(|own| (Section::Move, Value::Moves(Box::new([own])))));
    let number = |symbol: &str| Element::from_symbol(symbol.as_bytes()).map(Element::number);
    for (symbol, sign) in CHARGED {
        all.extend(number(symbol).map(|own| (Section::ChargedAtom, Value::Element(own, sign))));
    }
    for symbol in ELEMENTS {
        all.extend(number(symbol).map(|own| (Section::Element, Value::Element(own, 0))));
    }
    let marks = [
        "unpaired electrons",
        "half-headed arrows",
        "stereo centres",
        "stereo at double bonds",
        "isotopes",
        "rings",
        "delocalised rings",
    ];
    all.extend(marks.map(|own| (Section::Mark, Value::Word(own))));
    let is_absent = |(section, value): &(Section, Value)| survey.counts.of(*section, value) == 0;
    all.into_iter().filter(is_absent).map(|(section, value)| Never { section, value }).collect()
}
