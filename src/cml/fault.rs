//! What can be wrong with a CML document, in sentences, and which finding each is.

use crate::source::Span;
use crate::xml::XmlProblem;

/// The findings that a document can give rise to while it is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum FaultKind {
    /// `unreadable-record`: the element is not well formed, or a limit was met.
    Record,
    /// `unreadable-structure`: a structure breaks the format or contradicts itself.
    Structure,
    /// `unreadable-arrows`: the arrows cannot be told.
    Arrows,
    /// `repeated-label`: two atoms carry one id.
    RepeatedLabel,
    /// `impossible-electrons`: drawn electrons or spins contradict charge and bonds.
    Electrons,
    /// `idle-stereo`: a mark of stereochemistry that cannot mean anything.
    IdleStereo,
}

/// The part of a reaction that a fault belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Part {
    /// The record as a whole.
    Whole,
    /// Reactants or spectators: the starting structure.
    Start,
    /// Products: the stated answer.
    Answer,
    /// Maps and electron identities: the arrows.
    Arrows,
}

/// A fault and where it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// What is wrong.
    pub problem: Problem,
    /// Where, in the text of the record.
    pub span: Span,
    /// In which part of the reaction.
    pub part: Part,
}

impl Fault {
    pub(crate) fn new(problem: Problem, span: Span) -> Self {
        Self { problem, span, part: Part::Whole }
    }
}

/// The faults found so far, up to a number that nobody reads to the end of. A document can repeat a fault a million times.
#[derive(Debug, Clone, Default)]
pub(crate) struct Faults(Vec<Fault>);

impl Faults {
    const MOST_KEPT: usize = 1_000;

    pub(crate) fn push(&mut self, problem: Problem, span: Span) {
        self.take(Fault::new(problem, span));
    }

    pub(crate) fn take(&mut self, fault: Fault) {
        if self.0.len() < Self::MOST_KEPT {
            self.0.push(fault);
        }
    }

    pub(crate) fn extend(&mut self, faults: impl IntoIterator<Item = Fault>) {
        let room = Self::MOST_KEPT - self.0.len();
        self.0.extend(faults.into_iter().take(room));
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = &Fault> {
        self.0.iter()
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether the latest fault is this one: a limit is reported where it is met, not for each atom past it.
    pub(crate) fn ends_with(&self, problem: &Problem) -> bool {
        self.0.last().is_some_and(|fault| fault.problem == *problem)
    }

    pub(crate) fn into_vec(self) -> Vec<Fault> {
        self.0
    }
}

/// What is wrong. Elements are named as the document names them.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Problem {
    /// The XML itself.
    #[error(transparent)]
    Xml(#[from] XmlProblem),
    /// A reaction inside a reaction.
    #[error("a reaction inside a reaction is not read; put the two side by side in a reactionScheme")]
    NestedReaction,
    /// A limit on what is drawn.
    #[error("the drawing passes the limit `{limit}` of {cap}")]
    Limit {
        /// The limit's name in a profile.
        limit: &'static str,
        /// Its value.
        cap: usize,
    },
    /// Text that holds no molecule.
    #[error("there is no molecule in this CML")]
    NoMolecule,
    /// A reaction where a structure is expected.
    #[error("<{0}> is no structure; a structure is a <molecule>")]
    NoStructure(&'static str),
    /// A species without a drawing.
    #[error("<{0}> has no drawn atoms; a name or a formula is no structure")]
    NotDrawn(&'static str),
    /// A value that cannot be read.
    #[error("{key}=\"{value}\" of <{element}> is not {wanted}")]
    Value {
        /// The attribute.
        key: &'static str,
        /// Its value.
        value: String,
        /// Its element.
        element: &'static str,
        /// What it should be.
        wanted: &'static str,
    },
    /// An atom of no element.
    #[error("atom {0} has no elementType")]
    NoElement(String),
    /// A dummy atom, which marks a place and has no nucleus.
    #[error("atom {0} is a dummy (Du): a place, not an atom; delete it or draw what stands there")]
    Dummy(String),
    /// Not a symbol of the periodic table.
    #[error("\"{0}\" is no element of the periodic table")]
    UnknownElement(String),
    /// A bond whose order is not one that electrons can be counted from.
    #[error("the bond order \"{0}\" says nothing of electrons; write S, D, T or A")]
    Order(String),
    /// A bond without an order.
    #[error("the bond {0} has no order; write S, D, T or A")]
    NoOrder(String),
    /// A bond that does not lie between two atoms.
    #[error("a bond needs two atoms in atomRefs2; {0} are named")]
    BondEnds(usize),
    /// A bond between more than two atoms.
    #[error("a bond of more than two centres (atomRefs) is not read; draw two-centre bonds")]
    MultiCentre,
    /// A bond from an atom to itself.
    #[error("the bond leads from atom {0} to itself")]
    SelfBond(String),
    /// Two bonds between the same atoms.
    #[error("atoms {0} and {1} are bonded twice; draw one bond of the order meant")]
    RepeatedBond(String, String),
    /// Two atoms with one id in one molecule.
    #[error("two atoms carry the id {0}")]
    RepeatedAtom(String),
    /// Two bonds with one id in one molecule.
    #[error("two bonds carry the id {0}")]
    RepeatedBondId(String),
    /// A reference to an atom that is not there.
    #[error("no atom of the molecule has the id {0}")]
    DanglingAtom(String),
    /// A reference to a bond that is not there.
    #[error("no bond of the molecule has the id {0}")]
    DanglingBond(String),
    /// A reference to a molecule that is not there.
    #[error("no molecule with the id {0} is found")]
    DanglingMolecule(String),
    /// A reference to a molecule that is there twice.
    #[error("several molecules have the id {0}; the reference does not tell which")]
    AmbiguousMolecule(String),
    /// A molecule that was left out of the store because the store was full.
    #[error("no molecule with the id {0} is kept: molecules to refer to pass the limit `{limit}` of {cap}", limit = .1, cap = .2)]
    NotKept(String, &'static str, usize),
    /// Arrays of one element that do not run side by side.
    #[error("{longer} has {long} values, {shorter} has {short}; the arrays of one element must be of equal length")]
    UnequalArrays {
        /// The longer array.
        longer: &'static str,
        /// Its length.
        long: usize,
        /// The shorter array.
        shorter: &'static str,
        /// Its length.
        short: usize,
    },
    /// Fewer hydrogens stated than drawn (an error by the schema).
    #[error("hydrogenCount of atom {atom} is {stated}, but {drawn} hydrogens are drawn on it")]
    Hydrogens {
        /// The atom.
        atom: String,
        /// The stated total.
        stated: u32,
        /// The hydrogens drawn as atoms.
        drawn: u32,
    },
    /// The molecule's own charge is not that of its atoms.
    #[error("the molecule states formalCharge {stated}, its atoms add up to {sum}")]
    Charge {
        /// What the molecule states.
        stated: i64,
        /// The sum over its atoms.
        sum: i64,
    },
    /// Drawn electrons that the atom cannot have.
    #[error("{drawn} electrons are drawn on atom {atom}; its charge and bonds leave it {left}")]
    Electrons {
        /// The atom.
        atom: String,
        /// The drawn electrons.
        drawn: i64,
        /// Non-bonding electrons that follow from charge and bonds.
        left: i64,
    },
    /// Unpaired electrons whose number does not fit the count.
    #[error("{unpaired} unpaired electrons are stated for atom {atom}; its charge and bonds leave it {left} electrons")]
    Unpaired {
        /// The atom.
        atom: String,
        /// The stated unpaired electrons.
        unpaired: i64,
        /// Non-bonding electrons that follow from charge and bonds.
        left: i64,
    },
    /// More electrons drawn in a bond than its order holds.
    #[error("{drawn} electrons are drawn in the bond between {a} and {b}, whose order holds {holds}")]
    BondElectrons {
        /// One end.
        a: String,
        /// The other end.
        b: String,
        /// The drawn electrons.
        drawn: i64,
        /// Twice the order.
        holds: i64,
    },
    /// A spin of the whole molecule that cannot be laid on its atoms in one way only.
    #[error(
        "spinMultiplicity {0} of the molecule does not tell which atoms carry the unpaired electrons; state it on the atoms"
    )]
    Spin(i64),
    /// A spin of the whole molecule that its atoms cannot have.
    #[error("spinMultiplicity {multiplicity} of the molecule does not fit its {found} unpaired electrons")]
    SpinCount {
        /// The stated multiplicity.
        multiplicity: i64,
        /// The unpaired electrons of its atoms.
        found: i64,
    },
    /// A link without one of its ends.
    #[error("the link has no {0}; an arrow needs both ends")]
    LinkEnd(&'static str),
    /// A link with two of one end.
    #[error("the link has both {0}: an arrow has one tail and one head")]
    LinkTwice(&'static str),
    /// A link's end that names neither one atom nor two.
    #[error("{0} ids are named; electrons sit on one atom or between two")]
    LinkAtoms(usize),
    /// An id that is neither atom, bond nor electron, where the type says that it is.
    #[error("there is no {kind} with the id {id}")]
    LinkTarget {
        /// What was to be found.
        kind: &'static str,
        /// Under which id.
        id: String,
    },
    /// An id that names two things.
    #[error(
        "the id {0} names several things; say which with fromType or toType, or name the atoms in fromSet or toSet"
    )]
    LinkAmbiguous(String),
    /// A type of link's end that holds no electrons.
    #[error("\"{0}\" is no type of place; write atom, bond or electron")]
    LinkType(String),
    /// A role that is no kind of arrow.
    #[error("the role \"{0}\" is no kind of arrow; write pair or single")]
    LinkRole(String),
    /// An electron map that is named but absent.
    #[error("the reaction has no map with the id {0}, which electronMap names")]
    NoElectronMap(String),
    /// Electrons that move, but neither two nor one.
    #[error("the electrons {id} are {count}; an arrow moves two or one")]
    ElectronCount {
        /// The id.
        id: String,
        /// Their number.
        count: i64,
    },
    /// Electrons whose place cannot be told.
    #[error("the electrons {0} are on no atom and in no bond")]
    ElectronPlace(String),
    /// Two electrons with one id on one side.
    #[error("two electrons of one side carry the id {0}")]
    RepeatedElectron(String),
    /// A mark of stereochemistry without a meaning.
    #[error("the stereo mark means nothing: {0}")]
    IdleStereo(&'static str),
}

impl Problem {
    /// The finding that the problem is.
    #[must_use]
    pub fn kind(&self) -> FaultKind {
        match self {
            Self::Xml(_) | Self::NestedReaction | Self::Limit { .. } => FaultKind::Record,
            Self::RepeatedAtom(_) => FaultKind::RepeatedLabel,
            Self::Electrons { .. } | Self::Unpaired { .. } | Self::BondElectrons { .. } | Self::SpinCount { .. } => {
                FaultKind::Electrons
            }
            Self::LinkEnd(_)
            | Self::LinkTwice(_)
            | Self::LinkAtoms(_)
            | Self::LinkTarget { .. }
            | Self::LinkAmbiguous(_)
            | Self::LinkType(_)
            | Self::LinkRole(_)
            | Self::NoElectronMap(_)
            | Self::ElectronCount { .. }
            | Self::ElectronPlace(_)
            | Self::RepeatedElectron(_) => FaultKind::Arrows,
            Self::IdleStereo(_) => FaultKind::IdleStereo,
            _ => FaultKind::Structure,
        }
    }
}
