//! The slips in one table: name and meaning.

use std::borrow::Cow;
use std::cmp::Ordering;

/// What a person did who drew the stated answer, or wrote the arrows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Slip {
    /// `arrow-skipped`
    ArrowSkipped,
    /// `arrow-reversed`
    ArrowReversed,
    /// `head-on-atom`
    HeadOnAtom,
    /// `head-on-bond`
    HeadOnBond,
    /// `tail-charge-kept`
    TailChargeKept,
    /// `head-charge-kept`
    HeadChargeKept,
    /// `middle-charge-changed`
    MiddleChargeChanged,
    /// `charge-sign-flipped`
    ChargeSignFlipped,
    /// `hydrogen-miscounted`
    HydrogenMiscounted,
    /// `bond-miscopied`
    BondMiscopied,
    /// `atom-miscopied`
    AtomMiscopied,
    /// `answer-not-redrawn`
    AnswerNotRedrawn,
    /// `answer-of-another-item`
    AnswerOfAnotherItem,
    /// `labels-off-by-one`
    LabelsOffByOne,
    /// `arrow-missing`
    ArrowMissing,
    /// `proton-moved`
    ProtonMoved,
    /// `other-contributor`
    OtherContributor,
    /// `tautomer`
    Tautomer,
    /// `charges-left-out`
    ChargesLeftOut,
    /// `isotope-lost`
    IsotopeLost,
    /// `ring-redrawn`
    RingRedrawn,
    /// `species-left-out`
    SpeciesLeftOut,
}

impl Slip {
    /// All slips with name and meaning, in the order of the contract.
    pub const TABLE: &'static [(Self, &'static str, &'static str)] = &[
        (Self::ArrowSkipped, "arrow-skipped", "The answer was drawn as if an arrow were not there."),
        (Self::ArrowReversed, "arrow-reversed", "The answer was drawn as if an arrow ran the other way."),
        (Self::HeadOnAtom, "head-on-atom", "A pair that becomes a bond was drawn as a lone pair of one of its atoms."),
        (Self::HeadOnBond, "head-on-bond", "A pair that becomes a lone pair was drawn as a bond."),
        (Self::TailChargeKept, "tail-charge-kept", "The atom that gives the first pair kept its charge."),
        (Self::HeadChargeKept, "head-charge-kept", "The atom that takes the last pair kept its charge."),
        (
            Self::MiddleChargeChanged,
            "middle-charge-changed",
            "An atom through which the electrons only pass was given another charge.",
        ),
        (Self::ChargeSignFlipped, "charge-sign-flipped", "Plus was written for minus, or minus for plus."),
        (Self::HydrogenMiscounted, "hydrogen-miscounted", "An atom was drawn with too many or too few hydrogens."),
        (Self::BondMiscopied, "bond-miscopied", "A bond was drawn with another order, elsewhere, or not at all."),
        (
            Self::AtomMiscopied,
            "atom-miscopied",
            "An atom was drawn as another one, with another charge, or not at all.",
        ),
        (Self::AnswerNotRedrawn, "answer-not-redrawn", "The answer is the start as it was before the arrows."),
        (Self::AnswerOfAnotherItem, "answer-of-another-item", "The answer belongs to another item of the bank."),
        (Self::LabelsOffByOne, "labels-off-by-one", "The arrows count the atoms one too high or one too low."),
        (
            Self::ArrowMissing,
            "arrow-missing",
            "One or two arrows were left out: with them the arrows lead to the answer.",
        ),
        (
            Self::ProtonMoved,
            "proton-moved",
            "The answer is the product of a further step: a proton has passed from one atom to another.",
        ),
        (Self::OtherContributor, "other-contributor", "The answer is another resonance contributor of the product."),
        (Self::Tautomer, "tautomer", "A hydrogen has moved: in resonance no atom does."),
        (Self::ChargesLeftOut, "charges-left-out", "Charges of both signs were not written."),
        (Self::IsotopeLost, "isotope-lost", "The isotope of an atom was not drawn."),
        (Self::RingRedrawn, "ring-redrawn", "A delocalised ring was drawn in another of its Kekulé forms."),
        (Self::SpeciesLeftOut, "species-left-out", "Beside another slip, whole species were left out."),
    ];

    /// The name in reports.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.row().1
    }

    /// What happened, in one line.
    #[must_use]
    pub fn meaning(self) -> &'static str {
        self.row().2
    }

    fn row(self) -> &'static (Self, &'static str, &'static str) {
        // The table lists every slip (pinned by a test), so that the first row never stands in.
        Self::TABLE.iter().find(|row| row.0 == self).unwrap_or(&Self::TABLE[0])
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
        self.0.iter().map(|slip| slip.meaning()).collect::<Vec<_>>().join(" ")
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

    #[test]
    fn a_slip_is_kept_under_its_name() {
        let kept = Slip::TABLE.iter().map(|row| serde_json::to_value(row.0).unwrap_or_default());
        let names: Vec<_> = Slip::TABLE.iter().map(|row| serde_json::Value::from(row.1)).collect();
        assert_eq!(kept.collect::<Vec<_>>(), names);
    }

    #[test]
    fn every_slip_has_its_row() {
        let names: std::collections::BTreeSet<&str> = Slip::TABLE.iter().map(|row| row.0.name()).collect();
        assert_eq!(names.len(), Slip::TABLE.len());
        assert_eq!(Slip::TABLE.len(), Slip::SpeciesLeftOut as usize + 1);
    }
}
