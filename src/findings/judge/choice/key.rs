//! What a key should say, where the keyed option is not the product, and how sure that is.

use super::Opt;
use super::ground::Ground;
use crate::compare::Compared;
use crate::findings::correction::IS_PRODUCT;
use crate::findings::rules::answer::arrows_meant;
use crate::findings::{Correction, Grade, Target};

/// The correction of a key to `proposed`. A distractor is what a slip leads to: where one arrow changed, added or taken out leads to
/// the keyed option, the arrows are as suspect as the key. `is_open` where more options than one could be keyed instead.
pub(super) fn correction(
    ground: &Ground<'_>,
    option: &Opt<'_>,
    compared: &Compared,
    proposed: &str,
    is_open: bool,
) -> Correction {
    let key = |grade, why| Correction::new(Target::Key, proposed.to_owned(), grade, why);
    let meant = arrows_meant(&ground.answering(Some(option)), &ground.taken, &option.structure, compared);
    let own = match &meant {
        _ if is_open => key(Grade::None, OPEN),
        Some(meant) if meant.is_one => key(Grade::None, EQUALLY),
        Some(_) => key(Grade::Likely, IS_PRODUCT),
        None => key(Grade::Certain, IS_PRODUCT),
    };
    let instead = meant.map(|meant| {
        let arrows = Correction { grade: Grade::None, ..meant.arrows };
        Box::new(Correction { why: LEADS.to_owned(), ..arrows })
    });
    Correction { instead, ..own }
}

/// Why it is not, where others are right, too.
const OPEN: &str = "several options are the product: all but one have to be drawn otherwise first";
/// Why it is not, where one arrow leads to the keyed option.
const EQUALLY: &str =
    "one arrow more or less, or another one, leads to the keyed option: arrows and key are equally suspect";
/// Why other arrows are shown beside it.
const LEADS: &str = "these arrows lead to the keyed option, which can be meant";
