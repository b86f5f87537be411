//! What can be wrong with a SMILES, as sentences.

use crate::source::Span;

/// One fault of a SMILES and the characters it stands on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SmilesError {
    /// Where.
    pub span: Span,
    /// What.
    pub fault: SmilesFault,
}

/// What is wrong, said so that the person who typed it knows what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SmilesFault {
    /// A character that no production starts with.
    #[error("unexpected '{found}': expected {expected}{hint}")]
    Unexpected {
        /// The character.
        found: char,
        /// What could stand here.
        expected: &'static str,
        /// What was probably meant and how that is written; empty where nothing comes to mind.
        hint: String,
    },
    /// The text ends too early.
    #[error("the text ends here: expected {expected}{hint}")]
    Ends {
        /// What should follow.
        expected: &'static str,
        /// What was probably meant and how that is written; empty where nothing comes to mind.
        hint: String,
    },
    /// No element has this symbol.
    #[error(
        "'{0}' is no element symbol: expected a symbol of the periodic table, an aromatic symbol (b c n o p s se as) or '*'"
    )]
    UnknownElement(String),
    /// The parts of a bracket atom in another order, or something that is no part of one.
    #[error(
        "'{0}' is out of place: an atom in brackets is written [isotope symbol chirality hydrogens charge :class], in this order"
    )]
    BracketOrder(String),
    /// `[HO-]`: hydrogens before the atom that they are on. What is meant stands without its brackets.
    #[error("hydrogens stand behind the atom that they are on: write [{0}]")]
    HydrogensFirst(String),
    /// `[HH1]`.
    #[error("a hydrogen atom cannot carry hydrogens: write hydrogen gas as [H][H]")]
    HydrogenOnHydrogen,
    /// A number that no field of an atom can hold.
    #[error("{what} {text} is out of range: expected {range}")]
    OutOfRange {
        /// The field.
        what: &'static str,
        /// As written.
        text: String,
        /// What is allowed.
        range: &'static str,
    },
    /// A ring number that is opened and never closed.
    #[error("ring number {0} is opened here and never closed")]
    UnclosedRing(u32),
    /// Two bond symbols of one ring bond that differ.
    #[error("ring number {number}: the bond is '{open}' where it opens and '{close}' where it closes")]
    RingBondDiffers {
        /// The ring number.
        number: u32,
        /// The symbol at the opening.
        open: char,
        /// The symbol at the closing.
        close: char,
    },
    /// `C11`.
    #[error("ring number {0} would bond the atom to itself")]
    RingToSelf(u32),
    /// `C12CCCCC12`, `C1C1`.
    #[error("ring number {0} would bond two atoms that are bonded already")]
    RingTwice(u32),
    /// `C(`.
    #[error("the branch that opens here is never closed: expected ')'")]
    UnclosedBranch,
    /// `C)`.
    #[error("')' closes no branch")]
    UnopenedBranch,
    /// `C()`.
    #[error("the branch holds no atom")]
    EmptyBranch,
    /// Aromatic symbols outside rings.
    #[error("an aromatic atom must lie in a ring: write it as a capital with its bonds")]
    AromaticOutsideRing,
    /// `:` outside rings.
    #[error("an aromatic bond must lie in a ring")]
    AromaticBondOutsideRing,
    /// `/` and `\` that contradict each other.
    #[error("the bond directions round this double bond contradict each other")]
    DirectionsContradict,
    /// A direction mark at one end of a double bond only.
    #[error("this bond direction says nothing: the other end of the double bond has none")]
    DirectionAlone,
    /// `@` with the wrong number of neighbours.
    #[error("the chirality mark needs {needs} neighbours, the atom has {has}")]
    ChiralNeighbours {
        /// Neighbours that the geometry has.
        needs: usize,
        /// Neighbours drawn, the hydrogen included.
        has: usize,
    },
    /// An entry of an extended tail that cannot be read or passed over.
    #[error("the entry '{entry}' of the tail between bars {why}")]
    Tail {
        /// As written.
        entry: String,
        /// What is wrong and what to do.
        why: &'static str,
    },
    /// A radical mark of an extended tail that does not fit its atom.
    #[error("the tail marks {electrons} at atom {atom}, which as drawn has {has}")]
    RadicalMark {
        /// The atom, counted from 1.
        atom: usize,
        /// Marked: `1 unpaired electron`.
        electrons: String,
        /// Drawn.
        has: String,
    },
    /// A cap of `limits`.
    #[error("the structure passes the limit of {limit} {what}")]
    Limit {
        /// What is counted.
        what: &'static str,
        /// The cap.
        limit: usize,
    },
}
