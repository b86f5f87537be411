//! Whether an answer that is not the product can be meant as well as the arrows.

use super::{AnswerContext, Sides};
use crate::compare::{Agreement, Compared};
use crate::findings::settle::Taken;
use crate::findings::slips::{self, OneArrow};
use crate::findings::{Correction, Target};
use crate::smiles::{self, Labels};
use crate::structure::Structure;
use std::cell::OnceCell;

/// Other arrows that lead to an answer which is not the product.
pub(crate) struct Meant {
    pub(crate) arrows: Correction,
    /// Whether they are the author's but for one.
    pub(crate) is_one: bool,
}

/// Other arrows, where the answer can be meant as well as the arrows that are drawn.
pub(crate) fn arrows_meant(
    own: &AnswerContext<'_>,
    taken: &Taken,
    answer: &Structure,
    compared: &Compared,
) -> Option<Meant> {
    let (product, stated) = compared.drawings(&taken.pushed.product, answer);
    let sides = Sides { own, taken, product, stated, compared, written: OnceCell::new() };
    if compared.agreement != Agreement::Different || compared.differences.list.is_empty() {
        return None;
    }
    let case = sides.case();
    let shift = own.shift(&taken.start);
    let one_arrow = OneArrow::new(shift, case.arrows, case.product, case.stated);
    let slip = slips::find(&case, &shift, &one_arrow);
    let as_drawn = smiles::write(product, Labels::Classes);
    let mismatch = sides.to_correct(&one_arrow);
    let fix = mismatch.correction(slip.as_ref(), &as_drawn);
    let is_one = || mismatch.one_arrow(slip.as_ref()).is_some();
    (fix.field == Target::Arrows).then(|| Meant { is_one: is_one(), arrows: Correction { instead: None, ..fix } })
}
