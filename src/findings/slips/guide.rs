//! Slips and grades as `keyassay findings NAME` explains them: an example and what to do.

use super::super::Grade;
use super::Slip;

/// An item that shows a slip, in the notation of banks, and what to do.
#[must_use]
pub fn of_slip(slip: Slip) -> (&'static str, &'static str) {
    match slip {
        Slip::ArrowSkipped => (
            "[CH2-:1][CH:2]=[O:3] | 1 -> 1-2; 2-3 -> 3 | [CH2-:1][CH+:2][O-:3]",
            "Draw what all arrows give, or take the arrow out.",
        ),
        Slip::ArrowReversed => {
            ("[CH3:1][Br:2] | 1-2 -> 2 | [CH3-:1].[Br+:2]", "Draw what the arrows give, or turn the arrow round.")
        }
        Slip::HeadOnAtom => (
            "[CH2+:1][CH:2]=[CH2:3] | 2-3 -> 1-2 | [CH2+:1][CH-:2][CH2+:3]",
            "A head between two atoms makes a bond: draw the bond, or let the arrow end on the atom.",
        ),
        Slip::HeadOnBond => (
            "[CH2+:1][CH:2]=[CH2:3] | 2-3 -> 2 | [CH2:1]=[CH:2][CH2+:3]",
            "A head on an atom makes a lone pair: draw the pair, or let the arrow end between the atoms.",
        ),
        Slip::TailChargeKept => (
            "[CH2-:1][CH:2]=[O:3] | 1 -> 1-2; 2-3 -> 3 | [CH2-:1]=[CH:2][O-:3]",
            "The atom that gives its pair goes up by one: correct its charge.",
        ),
        Slip::HeadChargeKept => (
            "[CH2-:1][CH:2]=[O:3] | 1 -> 1-2; 2-3 -> 3 | [CH2:1]=[CH:2][O:3]",
            "The atom that takes the pair goes down by one: correct its charge.",
        ),
        Slip::MiddleChargeChanged => (
            "[CH2-:1][CH:2]=[O:3] | 1 -> 1-2; 2-3 -> 3 | [CH2:1]=[CH+:2][O-:3]",
            "An atom that electrons only pass keeps its charge: correct it.",
        ),
        Slip::ChargeSignFlipped => {
            ("[CH2-:1][CH:2]=[O:3] | 1 -> 1-2; 2-3 -> 3 | [CH2:1]=[CH:2][O+:3]", "Write the other sign.")
        }
        Slip::HydrogenMiscounted => {
            ("[CH3:1][Br:2] | 1-2 -> 2 | [CH2+:1].[Br-:2]", "Correct the hydrogens of the atom named.")
        }
        Slip::BondMiscopied => (
            "[OH-:1].[CH3:2][Br:3] | 1 -> 1-2; 2-3 -> 3 | [OH:1].[CH3:2].[Br-:3]",
            "Draw the bond as the message has it.",
        ),
        Slip::AtomMiscopied => {
            ("[CH3:1][CH2:2][Br:3] | 2-3 -> 3 | [SiH3:1][CH2+:2].[Br-:3]", "Draw the atom as it is in the start.")
        }
        Slip::AnswerNotRedrawn => {
            ("[CH3:1][Br:2] | 1-2 -> 2 | [CH3:1][Br:2]", "Draw what the arrows give: the answer is still the start.")
        }
        Slip::AnswerOfAnotherItem => (
            "the answer of the row below, pasted one row too high",
            "See whether a run of answers has slipped by a row.",
        ),
        Slip::LabelsOffByOne => (
            "[CH2-:1][CH:2]=[O:3] | 0 -> 0-1; 1-2 -> 2 | [CH2:1]=[CH:2][O-:3]",
            "Move every label of the arrows by one; a profile with `labels = 0` reads banks that count from 0.",
        ),
        Slip::ArrowMissing => (
            "[CH2-:1][CH:2]=[O:3] | 1 -> 1-2 | [CH2:1]=[CH:2][O-:3]",
            "Add the arrow that the message names, if the answer is meant.",
        ),
        Slip::ProtonMoved => (
            "[NH3:1].[CH3:2][C:3](=[O:4])[Cl:5] | 1 -> 1-3; 3-5 -> 5 | [NH2:1][C:3]([CH3:2])=[O:4].[ClH:5]",
            "State the product of the arrows, or make the item a sequence with the proton transfer as its further step.",
        ),
        Slip::OtherContributor => (
            "[CH3:1][Br:2].[CH2-:3][CH:4]=[O:5] | 1-2 -> 2 | [CH3+:1].[Br-:2].[CH2:3]=[CH:4][O-:5]",
            "Draw the contributor to which the arrows lead, draw the arrows on, or let the item accept any contributor \
             (`accept = contributor`).",
        ),
        Slip::Tautomer => (
            "task resonance: [CH3:1][C:2](=[O:3])[CH3:4] | 2-3 -> 3 | [CH3:1][C:2]([OH:3])=[CH2:4]",
            "Draw the hydrogen back: contributors differ in electrons alone.",
        ),
        Slip::ChargesLeftOut => {
            ("[CH2:1]=[O:2] | 1-2 -> 2 | [CH2:1][O:2]", "Write the charges; without them the octets are wrong.")
        }
        Slip::IsotopeLost => (
            "[OH-:1].[2H:2][CH2:3][Br:4] | 1 -> 1-3; 3-4 -> 4 | [OH:1][CH3:3].[Br-:4]",
            "Write the isotope: `[2H]` for deuterium, `[13CH3]` for carbon-13.",
        ),
        Slip::RingRedrawn => (
            "task resonance: an aromatic ring that no arrow touches, its double bonds drawn in the other places",
            "Leave rings as the start draws them: in resonance a contributor is a drawing.",
        ),
        Slip::SpeciesLeftOut => (
            "[NH3:1].[CH3:2][C:3](=[O:4])[Cl:5] | 1 -> 1-3; 3-5 -> 5 | [NH2:1][C:3]([CH3:2])=[O:4]",
            "Draw what was left out, or name it in the field `omits`.",
        ),
    }
}

/// What a grade of corrections means, and what `amend` does with it.
#[must_use]
pub fn of_grade(grade: Grade) -> (&'static str, &'static str) {
    match grade {
        Grade::Certain => (
            "One field is wrong under every reading, and the proposal is the only one that the other fields allow.",
            "`keyassay amend` applies it.",
        ),
        Grade::Likely => (
            "One field is probably wrong; for the other reading two changes or more would be needed.",
            "`keyassay amend --grade likely` applies it: read these proposals first.",
        ),
        Grade::None => (
            "Arrows and answer are equally suspect, or a further step explains the answer: every proposal is for a person to look at.",
            "`keyassay amend` applies it only where its row says `accept`.",
        ),
    }
}
