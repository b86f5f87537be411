//! The catalogue: every finding in one table. The audit, `keyassay findings`, SARIF rules and the documentation read it.

use std::fmt;

/// How grave a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
pub enum Severity {
    /// Said for completeness.
    Note,
    /// Worth a look; the item may be sound.
    Warning,
    /// The item is faulty or cannot be read.
    Error,
}

impl Severity {
    /// `note`, `warning` or `error`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Error => "error",
        }
    }

    /// The severity with this name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        [Self::Note, Self::Warning, Self::Error].into_iter().find(|own| own.name() == name)
    }
}

/// One row of the catalogue.
#[derive(Debug)]
pub struct Entry {
    /// The name in reports.
    pub name: &'static str,
    /// The severity where no profile says otherwise.
    pub severity: Severity,
    /// When it is raised, in one line.
    pub meaning: &'static str,
    /// An item that raises it, in the notation of banks.
    pub example: &'static str,
    /// What to do.
    pub remedy: &'static str,
}

macro_rules! catalogue {
    ($( $variant:ident $name:literal $severity:ident $meaning:literal $example:literal $remedy:literal )*) => {
        /// The findings by name.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
        pub enum Name {
            $( #[doc = $meaning] $variant, )*
        }

        impl Name {
            /// All findings in the order of the catalogue.
            pub const ALL: &'static [Self] = &[$( Self::$variant, )*];

            /// The row of the catalogue.
            #[must_use]
            pub fn entry(self) -> &'static Entry {
                match self {
                    $( Self::$variant => &Entry {
                        name: $name,
                        severity: Severity::$severity,
                        meaning: $meaning,
                        example: $example,
                        remedy: $remedy,
                    }, )*
                }
            }
        }
    };
}

catalogue! {
    UnreadableRecord "unreadable-record" Error
        "The row, line or element is not well formed."
        "{\"id\": \"q1\", \"start\": \"C=O\""
        "Mend the row at the place named, as the message says. In a text file: close the quote or bracket, or put quotes round a cell that holds a separator."
    MissingField "missing-field" Error
        "A field that the task needs is absent or empty."
        "id=q1 start=[CH2-]C=O arrows=1 -> 1-2; 2-3 -> 3 answer="
        "Fill the field. Where only the answer is missing, the correction gives the recomputed product."
    UnreadableStructure "unreadable-structure" Error
        "A structure breaks its format."
        "start=C1CC"
        "Mend the structure at the character named."
    UnreadableArrows "unreadable-arrows" Error
        "The arrows break the notation."
        "arrows=1 => 1-2"
        "Write TAIL -> HEAD for a pair and TAIL ~> HEAD for one electron, arrows separated by ';'."
    UnknownAtom "unknown-atom" Error
        "An arrow names an atom that the start does not have."
        "start=[CH2-:1][CH:2]=[O:3] arrows=4 -> 1-2"
        "Use the labels of the start: its atom classes where it has any, else positions counted from 1."
    RepeatedLabel "repeated-label" Error
        "Two atoms of one structure carry one label."
        "start=[CH3:1][CH3:1]"
        "Give each labelled atom a label of its own."
    ImpossibleElectrons "impossible-electrons" Error
        "A drawn atom would have fewer than no non-bonding electrons."
        "start=C(C)(C)(C)(C)C"
        "Count again: charge = valence electrons - non-bonding electrons - bonds. Too many bonds, or a charge too high."
    HypervalentAtom "hypervalent-atom" Error
        "A shell of start, answer, option or recomputed product is over-full."
        "start=CN(=O)=O"
        "Where a drawing is over-full, charge or bonds are miscounted; where the product is, an arrow is missing."
    NoLocalisedForm "no-localised-form" Error
        "Aromatic input that has no localised form."
        "start=c1ccnc1"
        "Say which atom carries the hydrogen ([nH]) or the charge, or draw the double bonds."
    UndeterminedForm "undetermined-form" Warning
        "Aromatic input whose localised forms lead to different outcomes."
        "start=[cH:1]1[cH:2][cH:3][cH:4][cH:5][c:6]1[Br:7] arrows that touch 1-6"
        "Draw the double bonds of the ring that the arrows touch."
    StepsInOne "steps-in-one" Warning
        "The arrows are several steps drawn as one: a tail takes electrons that an earlier arrow has brought."
        "start=[NH2-:1].[CH3:2][C:3]#[N:4].[CH3:5][I:6] arrows=1 -> 1-2h; 2-2h -> 2; 2 -> 2-5; 5-6 -> 6"
        "Draw the steps one by one: the proposal is the sequence with the structures between. The sum of all arrows is compared with the answer as ever."
    EmptyTail "empty-tail" Error
        "A tail stands where there are no electrons to move."
        "start=[NH4+:1].[CH3:2][Br:3] arrows=1 -> 1-2"
        "Start the arrow at a lone pair or a bond that is drawn."
    OverdrawnTail "overdrawn-tail" Error
        "The arrows together take more electrons from a place than are there."
        "start=[CH2:1]=[O:2] arrows=1-2 -> 1; 1-2 -> 2; 1-2 -> 2"
        "Remove an arrow, or start it elsewhere."
    DetachedHead "detached-head" Error
        "A head touches no atom of its tail."
        "start=[O-:1][CH:2]=[CH2:3] arrows=1 -> 2-3"
        "Electrons move to a neighbouring place: end the arrow on an atom of its tail or between it and the next atom."
    AmbiguousHead "ambiguous-head" Warning
        "A head can be read in two ways, and neither chemistry nor the answer decides."
        "arrows=1 -> 2 where 1 and 2 are bonded"
        "Name the bond that forms: 1 -> 1-2."
    UnpairedHalfArrow "unpaired-half-arrow" Error
        "Half-headed arrows leave a bond with an odd electron."
        "start=[Cl:1][Cl:2] arrows=1-2 ~> 1"
        "Draw the second half-headed arrow: one electron of the bond to each end, or two into a new bond."
    SigmaInResonance "sigma-in-resonance" Error
        "A resonance item whose arrows make or break a sigma bond."
        "task=resonance start=[CH3:1][Br:2] arrows=1-2 -> 2"
        "Resonance moves pi and non-bonding electrons only: mend the arrows or make the item a step."
    IdleArrows "idle-arrows" Warning
        "The arrows lead back to the start as drawn."
        "start=[O-:1][CH:2]=[O:3] arrows=1 -> 1-2; 1-2 -> 1"
        "Check that the arrows are the ones meant."
    MismatchedProduct "mismatched-product" Error
        "The stated answer is not the recomputed product."
        "start=[CH2-:1][CH:2]=[O:3] arrows=1 -> 1-2; 2-3 -> 3 answer=[CH2:1]=[CH:2][OH:3]"
        "Compare the two drawings atom by atom, then mend the answer or the arrows."
    UnbalancedCharge "unbalanced-charge" Error
        "The net charges of start and stated answer differ."
        "start=[CH2-]C=O answer=C=CO"
        "Arrows move electrons and never make or destroy them: the net charge is the same on both sides."
    UnbalancedAtoms "unbalanced-atoms" Error
        "The atoms of start and stated answer differ, other than by whole species left out."
        "start=[CH2-]C=O answer=C=[N-]"
        "Look for an atom or hydrogens lost or gained in copying."
    OmittedSpecies "omitted-species" Warning
        "The stated answer leaves out whole species of the product and is right otherwise."
        "start=[OH-].CBr answer=CO"
        "Draw the species, or name it in 'omits'."
    RelabelledAnswer "relabelled-answer" Warning
        "The stated answer is the recomputed product, but numbers its atoms otherwise."
        "start=[O-:1][CH:2]=[CH:3][NH2:4] answer with labels 2 and 3 exchanged"
        "Give the answer the labels of the start."
    Undecided "undecided" Warning
        "Whether the stated answer is the product could not be decided within the search limit."
        "a large symmetric structure without labels"
        "Label the atoms of the answer, or raise the limit."
    IndistinctAnswer "indistinct-answer" Note
        "Start and product are the same drawing but for labels, and the answer has none: no audit can tell it from an undrawn one."
        "start=C=C[CH2+] arrows=1-2 -> 2-3 answer=C=C[CH2+]"
        "Label the atoms of start and answer."
    BystanderChanged "bystander-changed" Error
        "The stated answer differs at an atom or bond that no arrow touches."
        "a methyl group that becomes an ethyl group"
        "Copy what no arrow touches exactly from the start."
    StereoChanged "stereo-changed" Error
        "Drawn stereochemistry differs where no arrow touches."
        "start has C/C=C/C beside the arrows, answer C/C=C\\C"
        "Copy wedges and double-bond geometry exactly from the start."
    AnswerIsStart "answer-is-start" Error
        "The stated answer is the start, though the arrows change it."
        "answer=[CH2-:1][CH:2]=[O:3] for start=[CH2-:1][CH:2]=[O:3]"
        "Draw the structure after the arrows."
    KeyedOptionWrong "keyed-option-wrong" Error
        "The keyed option is not the recomputed product."
        "key=B where option A is the product"
        "Change the key, or the keyed drawing."
    NoOptionRight "no-option-right" Error
        "No option is the recomputed product."
        "four options, none of them the product"
        "Add the recomputed product as an option and key it."
    SeveralOptionsRight "several-options-right" Error
        "More than one option is the recomputed product."
        "two options that differ only in the drawing of a ring"
        "Change all right options but the keyed one."
    RepeatedOption "repeated-option" Error
        "Two options are the same structure."
        "option_a=CCO option_b=OCC"
        "Change one of them."
    BrokenSequence "broken-sequence" Error
        "A step's redrawn start is not the answer of the step before it; it may bring new species."
        "step 1 answer=CC[O-], step 2 start=CCO"
        "Redraw the start from the answer before, or drop it. Reagents may be added; name in 'omits' what is left out."
    IllegalContributor "illegal-contributor" Error
        "A stated contributor breaks a rule of resonance."
        "start=CC(=O)[O-] answers=CC(O)=O"
        "Contributors have the same atoms, sigma bonds and electrons, and no over-full shell."
    MissingContributor "missing-contributor" Warning
        "The key omits a contributor of the first rank."
        "start=[O-]C(=O)[O-] with two of the three forms stated"
        "Add the contributor named."
    RepeatedContributor "repeated-contributor" Error
        "Two stated contributors are the same drawing."
        "answers=C=CC[O-] [O-]CC=C"
        "Remove one of them."
    IndistinctContributor "indistinct-contributor" Note
        "Unlabelled contributors stand for forms of the compound that a symmetry exchanges: each counts as one of them."
        "start=CC(=O)[O-] answers=CC(=O)[O-] CC([O-])=O"
        "Nothing is wrong. Label the atoms where the set should show which form is which."
    DoubtfulMajor "doubtful-major" Warning
        "The contributor stated to count most is not of the first rank by the usual rules."
        "major=2 where contributor 1 has full octets and 2 has not"
        "Check the statement; the rules advise, they do not decide."
    StrayUnpairedElectrons "stray-unpaired-electrons" Warning
        "Unpaired electrons that no arrow touches and that a closed-shell drawing of the same atoms would not have."
        "start=C[N+]([O-])[O]"
        "Draw the double bond or the charge that was meant (C[N+]([O-])=O)."
    LooseNotation "loose-notation" Note
        "A structure or an arrow in a spelling beyond the standard that has one reading."
        "start=[HH].[CH2+]C arrows=C2 => 2,1 answer=…"
        "Nothing is wrong. The message gives the standard spelling; `convert` writes that of the arrows. `smiles = \"strict\"` in a profile makes it an error."
    IdleStereo "idle-stereo" Note
        "A stereo mark that cannot mean anything."
        "start=C[C@H](C)C"
        "Remove the mark, or check what was meant."
    RepeatedId "repeated-id" Error
        "Two items carry one id."
        "two rows with id=q7"
        "Give each item an id of its own."
    StereoOmitted "stereo-omitted" Warning
        "One side draws a stereo mark where no arrow is, and the other draws none."
        "start=C[C@H](F)CCl.[OH-] arrows=6 -> 4-6; 4-5 -> 5 answer=CC(F)CO.[Cl-]"
        "Draw the mark on both sides, or on none where the question is not about it."
    OtherKekuleForm "other-kekule-form" Note
        "A step's answer draws a delocalised ring in another of its Kekulé forms than the recomputed product: the same compound."
        "start=[OH-].CC1=CC=CC=C1C(=O)O arrows=1 -> 1-11h; 11-11h -> 11 answer=CC=1C=CC=CC=1C(=O)[O-].O"
        "Nothing, unless the drawing is to show which bonds the arrows made: then draw the ring as the arrows leave it."
    RepeatedQuestion "repeated-question" Warning
        "Two items ask the same: same start and arrows, up to labels."
        "one question under two ids"
        "Keep one of them."
    ConflictingAnswers "conflicting-answers" Error
        "Two items ask the same and state different answers: an error where neither is proven right, a note at the wrong one where one \
         is, a warning at both where both are, since the arrows can be read in two ways."
        "one question under two ids with two answers"
        "Where one is right, take its answer or one of the two out; else see their other findings."
    ShiftedAnswers "shifted-answers" Warning
        "A run of neighbouring items states each other's answers, one place off."
        "rows 10 to 40 carry the answers of rows 11 to 41"
        "Move the answer column by one place over the rows named."
    ShiftedLabels "shifted-labels" Warning
        "The arrows lead to the stated answer once every label is moved by one."
        "arrows counted from 0 on a start counted from 1"
        "Count the labels of the arrows as the start does."
}

impl Name {
    /// The finding with this name.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|name| name.entry().name == text)
    }

    /// Whether a finding says more of a mismatch of the same step, so that it is no fault of its own.
    #[must_use]
    pub fn is_name_of_mismatch(self) -> bool {
        matches!(
            self,
            Self::UnbalancedCharge
                | Self::UnbalancedAtoms
                | Self::BystanderChanged
                | Self::StereoChanged
                | Self::AnswerIsStart
        )
    }

    /// Whether an item with this finding counts as unreadable.
    #[must_use]
    pub fn makes_unreadable(self) -> bool {
        matches!(self, Self::UnreadableRecord | Self::MissingField | Self::UnreadableStructure | Self::UnreadableArrows)
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.entry().name)
    }
}
