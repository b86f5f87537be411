//! The slips in one table: name, meaning, and what `keyassay findings NAME` shows of each.

use std::borrow::Cow;
use std::cmp::Ordering;

/// One row of the table.
#[derive(Debug)]
pub struct Entry {
    /// The name in reports.
    pub name: &'static str,
    /// What happened, in one line.
    pub meaning: &'static str,
    /// An item that shows it, in the notation of banks.
    pub example: &'static str,
    /// What to do.
    pub remedy: &'static str,
}

macro_rules! slips {
    ($( $variant:ident $name:literal $meaning:literal $example:literal $remedy:literal )*) => {
        /// What a person did who drew the stated answer, or wrote the arrows.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
        #[serde(rename_all = "kebab-case")]
        pub enum Slip {
            $( #[doc = $meaning] $variant, )*
        }

        impl Slip {
            /// All slips, in the order of the table.
            pub const ALL: &'static [Self] = &[$( Self::$variant, )*];

            /// The row of the table.
            #[must_use]
            pub fn entry(self) -> &'static Entry {
                match self {
                    $( Self::$variant => {
                        &Entry { name: $name, meaning: $meaning, example: $example, remedy: $remedy }
                    } )*
                }
            }
        }
    };
}

slips! {
    ArrowSkipped "arrow-skipped"
        "The answer was drawn as if an arrow were not there."
        "[CH2-:1][CH:2]=[O:3] | 1 -> 1-2; 2-3 -> 3 | [CH2-:1][CH+:2][O-:3]"
        "Draw what all arrows give, or take the arrow out."
    ArrowReversed "arrow-reversed"
        "The answer was drawn as if an arrow ran the other way."
        "[CH3:1][Br:2] | 1-2 -> 2 | [CH3-:1].[Br+:2]"
        "Draw what the arrows give, or turn the arrow round."
    HeadOnAtom "head-on-atom"
        "A pair that becomes a bond was drawn as a lone pair of one of its atoms."
        "[CH2+:1][CH:2]=[CH2:3] | 2-3 -> 1-2 | [CH2+:1][CH-:2][CH2+:3]"
        "A head between two atoms makes a bond: draw the bond, or let the arrow end on the atom."
    HeadOnBond "head-on-bond"
        "A pair that becomes a lone pair was drawn as a bond."
        "[CH2+:1][CH:2]=[CH2:3] | 2-3 -> 2 | [CH2:1]=[CH:2][CH2+:3]"
        "A head on an atom makes a lone pair: draw the pair, or let the arrow end between the atoms."
    TailChargeKept "tail-charge-kept"
        "The atom that gives the first pair kept its charge."
        "[CH2-:1][CH:2]=[O:3] | 1 -> 1-2; 2-3 -> 3 | [CH2-:1]=[CH:2][O-:3]"
        "The atom that gives its pair goes up by one: correct its charge."
    HeadChargeKept "head-charge-kept"
        "The atom that takes the last pair kept its charge."
        "[CH2-:1][CH:2]=[O:3] | 1 -> 1-2; 2-3 -> 3 | [CH2:1]=[CH:2][O:3]"
        "The atom that takes the pair goes down by one: correct its charge."
    MiddleChargeChanged "middle-charge-changed"
        "An atom through which the electrons only pass was given another charge."
        "[CH2-:1][CH:2]=[O:3] | 1 -> 1-2; 2-3 -> 3 | [CH2:1]=[CH+:2][O-:3]"
        "An atom that electrons only pass keeps its charge: correct it."
    ChargeSignFlipped "charge-sign-flipped"
        "Plus was written for minus, or minus for plus."
        "[CH2-:1][CH:2]=[O:3] | 1 -> 1-2; 2-3 -> 3 | [CH2:1]=[CH:2][O+:3]"
        "Write the other sign."
    HydrogenMiscounted "hydrogen-miscounted"
        "An atom was drawn with too many or too few hydrogens."
        "[CH3:1][Br:2] | 1-2 -> 2 | [CH2+:1].[Br-:2]"
        "Correct the hydrogens of the atom named."
    BondMiscopied "bond-miscopied"
        "A bond was drawn with another order, elsewhere, or not at all."
        "[OH-:1].[CH3:2][Br:3] | 1 -> 1-2; 2-3 -> 3 | [OH:1].[CH3:2].[Br-:3]"
        "Draw the bond as the message has it."
    AtomMiscopied "atom-miscopied"
        "An atom was drawn as another one, with another charge, or not at all."
        "[CH3:1][CH2:2][Br:3] | 2-3 -> 3 | [SiH3:1][CH2+:2].[Br-:3]"
        "Draw the atom as it is in the start."
    AnswerNotRedrawn "answer-not-redrawn"
        "The answer is the start as it was before the arrows."
        "[CH3:1][Br:2] | 1-2 -> 2 | [CH3:1][Br:2]"
        "Draw what the arrows give: the answer is still the start."
    AnswerOfAnotherItem "answer-of-another-item"
        "The answer belongs to another item of the bank."
        "the answer of the row below, pasted one row too high"
        "See whether a run of answers has slipped by a row."
    LabelsOffByOne "labels-off-by-one"
        "The arrows count the atoms one too high or one too low."
        "[CH2-:1][CH:2]=[O:3] | 0 -> 0-1; 1-2 -> 2 | [CH2:1]=[CH:2][O-:3]"
        "Move every label of the arrows by one; a profile with `labels = 0` reads banks that count from 0."
    ArrowMissing "arrow-missing"
        "One or two arrows were left out: with them the arrows lead to the answer."
        "[CH2-:1][CH:2]=[O:3] | 1 -> 1-2 | [CH2:1]=[CH:2][O-:3]"
        "Add the arrow that the message names, if the answer is meant."
    ProtonMoved "proton-moved"
        "The answer is the product of a further step: a proton has passed from one atom to another."
        "[NH3:1].[CH3:2][C:3](=[O:4])[Cl:5] | 1 -> 1-3; 3-5 -> 5 | [NH2:1][C:3]([CH3:2])=[O:4].[ClH:5]"
        "State the product of the arrows, or make the item a sequence with the proton transfer as its further step."
    OtherContributor "other-contributor"
        "The answer is another resonance contributor of the product."
        "[CH3:1][Br:2].[CH2-:3][CH:4]=[O:5] | 1-2 -> 2 | [CH3+:1].[Br-:2].[CH2:3]=[CH:4][O-:5]"
        "Draw the contributor to which the arrows lead, draw the arrows on, or let the item accept any contributor (`accept = contributor`)."
    Tautomer "tautomer"
        "A hydrogen has moved: in resonance no atom does."
        "task resonance: [CH3:1][C:2](=[O:3])[CH3:4] | 2-3 -> 3 | [CH3:1][C:2]([OH:3])=[CH2:4]"
        "Draw the hydrogen back: contributors differ in electrons alone."
    ChargesLeftOut "charges-left-out"
        "Charges of both signs were not written."
        "[CH2:1]=[O:2] | 1-2 -> 2 | [CH2:1][O:2]"
        "Write the charges; without them the octets are wrong."
    IsotopeLost "isotope-lost"
        "The isotope of an atom was not drawn."
        "[OH-:1].[2H:2][CH2:3][Br:4] | 1 -> 1-3; 3-4 -> 4 | [OH:1][CH3:3].[Br-:4]"
        "Write the isotope: `[2H]` for deuterium, `[13CH3]` for carbon-13."
    RingRedrawn "ring-redrawn"
        "A delocalised ring was drawn in another of its Kekulé forms."
        "task resonance: an aromatic ring that no arrow touches, its double bonds drawn in the other places"
        "Leave rings as the start draws them: in resonance a contributor is a drawing."
    SpeciesLeftOut "species-left-out"
        "Beside another slip, whole species were left out."
        "[NH3:1].[CH3:2][C:3](=[O:4])[Cl:5] | 1 -> 1-3; 3-5 -> 5 | [NH2:1][C:3]([CH3:2])=[O:4]"
        "Draw what was left out, or name it in the field `omits`."
}

impl Slip {
    /// The name in reports.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.entry().name
    }

    /// Whether the fault lies in how the answer was drawn, whatever the arrows say.
    #[must_use]
    pub fn lies_in_the_answer(self) -> bool {
        matches!(
            self,
            Self::TailChargeKept
                | Self::HeadChargeKept
                | Self::MiddleChargeChanged
                | Self::ChargeSignFlipped
                | Self::HydrogenMiscounted
                | Self::BondMiscopied
                | Self::AtomMiscopied
                | Self::AnswerNotRedrawn
                | Self::ChargesLeftOut
                | Self::IsotopeLost
                | Self::RingRedrawn
                | Self::SpeciesLeftOut
        )
    }
}

/// The slips that explain one answer: one, or two together; none where none is known. Sorted by their names.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
pub struct Slips(Vec<Slip>);

impl Slips {
    /// Whether none is known.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// One after the other.
    pub fn iter(&self) -> impl Iterator<Item = Slip> {
        self.0.iter().copied()
    }

    /// The names as reports have them, separated by a space.
    #[must_use]
    pub fn names(&self) -> Cow<'static, str> {
        self.names_with(" ")
    }

    /// The names with something between them.
    #[must_use]
    pub fn names_with(&self, between: &str) -> Cow<'static, str> {
        match self.0.as_slice() {
            [] => "".into(),
            [slip] => slip.name().into(),
            slips => slips.iter().map(|slip| slip.name()).collect::<Vec<_>>().join(between).into(),
        }
    }

    /// What happened, a line for each.
    #[must_use]
    pub fn meanings(&self) -> String {
        self.0.iter().map(|slip| slip.entry().meaning).collect::<Vec<_>>().join(" ")
    }
}

impl From<Slip> for Slips {
    fn from(slip: Slip) -> Self {
        Self(vec![slip])
    }
}

impl From<&[Slip]> for Slips {
    fn from(slips: &[Slip]) -> Self {
        Self(slips.to_vec())
    }
}

impl Ord for Slips {
    fn cmp(&self, other: &Self) -> Ordering {
        self.iter().map(Slip::name).cmp(other.iter().map(Slip::name))
    }
}

impl PartialOrd for Slips {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

#[cfg(test)]
mod tests {
    use super::Slip;
    use std::collections::BTreeSet;

    #[test]
    fn a_slip_is_kept_under_its_name() {
        let kept = Slip::ALL.iter().map(|slip| serde_json::to_value(slip).unwrap_or_default());
        let names: Vec<_> = Slip::ALL.iter().map(|slip| serde_json::Value::from(slip.name())).collect();
        assert_eq!(kept.collect::<Vec<_>>(), names);
        assert_eq!(Slip::ALL.iter().map(|slip| slip.name()).collect::<BTreeSet<_>>().len(), names.len());
    }
}
