//! Recomputed against stated: by labels where the answer has them, else under the correspondence of the atoms that
//! explains the answer with the fewest differences.

mod as_drawn;
mod between;
pub mod closest;
pub mod correspond;
pub mod difference;
mod distance;
mod forms;
pub mod kekule;
mod leavings;
mod matching;
mod rings;
mod sigma;
pub mod stereo;
mod tally;

pub use between::{arrows_between, arrows_under};
pub use difference::{Difference, Differences, Mapping, differences};
pub use leavings::with_what_is_left_out;
pub use matching::{Search, correspondence, same_drawing};
pub use sigma::{may_be_one_compound, one_compound, sigma_skeleton};
pub(crate) use tally::{kind_with, kinds_of};

use crate::structure::{AtomId, LabelIndex, Structure};
use difference::is_folded;
use matching::{Best, best, equal, equal_beyond_sums};

/// How the stated answer compares with the product.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Agreement {
    /// It is the product, but for whole species left out.
    Equal,
    /// It is not.
    Different,
    /// That could not be decided within the step limit.
    Undecided,
}

/// How far the answer carries the labels of the start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Labelled {
    /// Every atom.
    Wholly,
    /// Some atoms.
    Partly,
    /// None.
    Not,
}

/// A comparison with its evidence.
#[derive(Debug, Clone)]
pub struct Compared {
    /// The result.
    pub agreement: Agreement,
    /// How far the answer is labelled.
    pub labelled: Labelled,
    /// Which atom stands for which.
    pub mapping: Mapping,
    /// What differs under that correspondence, and which species are left out.
    pub differences: Differences,
    /// Whether no other correspondence has fewer differences.
    pub smallest: bool,
    /// Product and answer in the localised forms that agree best, where either is drawn delocalised.
    pub forms: Option<Box<(Structure, Structure)>>,
    /// Whether nothing differs but the Kekulé forms in which rings are drawn.
    pub other_form: bool,
}

impl Compared {
    /// Product and answer as they were compared: in the localised forms that agree best, or as they are.
    #[must_use]
    pub fn drawings<'s>(&'s self, product: &'s Structure, answer: &'s Structure) -> (&'s Structure, &'s Structure) {
        self.forms.as_ref().map_or((product, answer), |forms| (&forms.0, &forms.1))
    }

    /// Whether the answer is the product.
    #[must_use]
    pub fn is_equal(&self) -> bool {
        self.agreement == Agreement::Equal
    }
}

/// Compares a product, whose atoms are those of the start, with a stated answer.
///
/// `labels` are the labels of the start; `limit` bounds each search. Both structures are localised; bonds that are
/// marked as delocalised may take any localised form.
#[must_use]
pub fn compare(computed: &Structure, stated: &Structure, labels: &LabelIndex, limit: u64) -> Compared {
    let (labelled, fixed) = map_by_labels(computed, stated, labels);
    if labelled == Labelled::Wholly {
        return explained(computed, stated, labelled, fixed, false);
    }
    match best(computed, stated, &fixed, limit) {
        Best::Equal(mapping) => explained(computed, stated, labelled, mapping, true),
        Best::Closest { mapping, smallest, differ } => {
            let (found, forms) = forms::differences_in_best_forms(computed, stated, &mapping);
            let agreement = if differ { Agreement::Different } else { Agreement::Undecided };
            Compared { agreement, labelled, mapping, differences: found, smallest, forms, other_form: false }
        }
    }
}

/// The differences under a correspondence that is known; where either side is drawn delocalised, those of the forms
/// that agree best.
#[must_use]
pub fn differences_under(computed: &Structure, stated: &Structure, mapping: &Mapping) -> Differences {
    forms::differences_in_best_forms(computed, stated, mapping).0
}

/// Whether an answer is the product, with no more explanation than comes by the way.
#[derive(Debug, Clone)]
#[allow(clippy::large_enum_variant, reason = "the large variant is the usual one and is moved once")]
pub enum Decision {
    /// Equal, or differing under the labels of the answer.
    Explained(Compared),
    /// Not equal; which correspondence explains it best is another search.
    Bare {
        /// The result.
        agreement: Agreement,
        /// How far the answer is labelled.
        labelled: Labelled,
        /// What the labels fix.
        fixed: Mapping,
    },
}

impl Decision {
    /// The result.
    #[must_use]
    pub fn agreement(&self) -> Agreement {
        match self {
            Self::Explained(compared) => compared.agreement,
            Self::Bare { agreement, .. } => *agreement,
        }
    }

    /// How far the answer is labelled.
    #[must_use]
    pub fn labelled(&self) -> Labelled {
        match self {
            Self::Explained(compared) => compared.labelled,
            Self::Bare { labelled, .. } => *labelled,
        }
    }

    /// The whole species left out of an answer that is equal otherwise; `None` for one that is not.
    #[must_use]
    pub fn left_out(&self) -> Option<&[Vec<AtomId>]> {
        match self {
            Self::Explained(compared) if compared.is_equal() => Some(&compared.differences.omitted),
            _ => None,
        }
    }
}

/// As [`compare`], without the search for the correspondence that explains a difference.
#[must_use]
pub fn decide(computed: &Structure, stated: &Structure, labels: &LabelIndex, limit: u64) -> Decision {
    let (labelled, mapping) = map_by_labels(computed, stated, labels);
    if labelled == Labelled::Wholly {
        return Decision::Explained(explained(computed, stated, labelled, mapping, false));
    }
    match equal(computed, stated, &mapping, true, limit) {
        Search::Found(mapping) => Decision::Explained(explained(computed, stated, labelled, mapping, true)),
        Search::None => Decision::Bare { agreement: Agreement::Different, labelled, fixed: mapping },
        Search::OutOfSteps => Decision::Bare { agreement: Agreement::Undecided, labelled, fixed: mapping },
    }
}

/// A comparison under a correspondence that needs no search, or that is `certain` to have no differences.
fn explained(
    computed: &Structure,
    stated: &Structure,
    labelled: Labelled,
    mapping: Mapping,
    certain: bool,
) -> Compared {
    let (found, forms) = forms::differences_in_best_forms(computed, stated, &mapping);
    let equal = certain || found.list.is_empty();
    let agreement = if equal { Agreement::Equal } else { Agreement::Different };
    Compared { agreement, labelled, mapping, differences: found, smallest: true, forms, other_form: false }
}

/// The whole species that an answer leaves out which is the product otherwise; `None` for one that is not or of which that is
/// not known. As [`Decision::left_out`], for when nothing else is wanted.
#[must_use]
pub fn left_out(computed: &Structure, stated: &Structure, labels: &LabelIndex, limit: u64) -> Option<Vec<Vec<AtomId>>> {
    if same_in_order(computed, stated, labels) {
        return Some(Vec::new());
    }
    compare_equal(computed, stated, labels, limit).map(|compared| compared.differences.omitted)
}

/// Whether two drawings are one, atom by atom in the order in which they are drawn, as most answers are; labels do not say otherwise.
fn same_in_order(computed: &Structure, stated: &Structure, labels: &LabelIndex) -> bool {
    tally::same_in_order(computed, stated)
        && stated.atom_ids().all(|atom| {
            let named = stated.label(atom).and_then(|label| labels.get(&label));
            named.is_none_or(|named| named == atom)
        })
}

/// As [`compare`], for when only an answer that is the product is of interest: what explains a difference is not looked for.
#[must_use]
pub fn compare_equal(computed: &Structure, stated: &Structure, labels: &LabelIndex, limit: u64) -> Option<Compared> {
    if tally::differ(computed, stated, true) {
        return None;
    }
    let (labelled, mapping) = map_by_labels(computed, stated, labels);
    let (mapping, certain) = if labelled == Labelled::Wholly {
        if tally::differ_under(computed, stated, &mapping) {
            return None;
        }
        (mapping, false)
    } else {
        match equal_beyond_sums(computed, stated, &mapping, limit) {
            Search::Found(mapping) => (mapping, true),
            Search::None | Search::OutOfSteps => return None,
        }
    };
    let compared = explained(computed, stated, labelled, mapping, certain);
    compared.is_equal().then_some(compared)
}

/// The whole species that an answer leaves out which is the product otherwise under a correspondence that is known; `None` for one
/// that is not.
#[must_use]
pub fn omitted_under(computed: &Structure, stated: &Structure, mapping: &Mapping) -> Option<Vec<Vec<AtomId>>> {
    if tally::same_under(computed, stated, mapping) {
        return Some(Vec::new());
    }
    if tally::differ_under(computed, stated, mapping) {
        return None;
    }
    let found = differences_under(computed, stated, mapping);
    found.list.is_empty().then_some(found.omitted)
}

/// Whether a look that costs next to nothing leaves it open that two drawings are one.
#[must_use]
pub fn may_be_same(a: &Structure, b: &Structure) -> bool {
    !tally::differ(a, b, false)
}

/// Whether a look that costs next to nothing leaves it open that two drawings have the same atoms.
#[must_use]
pub fn may_have_same_atoms(a: &Structure, b: &Structure) -> bool {
    !tally::differ_in_atoms(a, b, false)
}

/// As [`differences_under`], with the localised forms that agree best where either side is drawn delocalised.
#[must_use]
pub fn explained_under(
    computed: &Structure,
    stated: &Structure,
    mapping: &Mapping,
) -> (Differences, Option<Box<(Structure, Structure)>>) {
    forms::differences_in_best_forms(computed, stated, mapping)
}

/// The pairs of atoms that share a label; nothing else is paired.
#[must_use]
pub fn pairs_by_label(computed: &Structure, stated: &Structure, labels: &LabelIndex) -> Mapping {
    map_by_labels(computed, stated, labels).1
}

/// Pairs the atoms that share a label. Hydrogens that only draw a count out are compared by count.
fn map_by_labels(computed: &Structure, stated: &Structure, labels: &LabelIndex) -> (Labelled, Mapping) {
    let mut mapping = Mapping::new(computed, stated);
    let (mut paired, mut unpaired) = (0, 0);
    for id in stated.atom_ids() {
        if is_folded(stated, id) {
            continue;
        }
        let partner = stated.label(id).and_then(|label| labels.get(&label));
        match partner.filter(|atom| is_free(computed, *atom, &mapping)) {
            Some(atom) => {
                mapping.pair(atom, id);
                paired += 1;
            }
            None => unpaired += 1,
        }
    }
    let labelled = match (paired, unpaired) {
        (0, _) => Labelled::Not,
        (_, 0) => Labelled::Wholly,
        _ => Labelled::Partly,
    };
    (labelled, mapping)
}

fn is_free(computed: &Structure, atom: AtomId, mapping: &Mapping) -> bool {
    atom.index() < computed.atom_count() && mapping.stated(atom).is_none() && !is_folded(computed, atom)
}
