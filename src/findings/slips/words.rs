//! How slips are said.

use super::case::Case;
use super::table::Slip;
use crate::arrows::Place;
use crate::compare::Difference;
use crate::compare::difference::order;
use crate::source::{counted, signed};
use crate::structure::{AtomId, Structure};

/// A place in words: `C4` or `between C4 and O5`.
pub(super) fn place(structure: &Structure, place: Place<AtomId>) -> String {
    match place {
        Place::Atom(a) => structure.call(a),
        Place::Bond(a, b) => format!("between {} and {}", structure.call(a), structure.call(b)),
    }
}

/// What was drawn otherwise, in words that follow "what the arrows give". `covers` begins with the difference that the slip is about.
pub(super) fn drawing(case: &Case<'_>, slip: Slip, covers: &[Difference]) -> String {
    let call = |atom| case.product.call(atom);
    match *covers {
        [Difference::Charge(a, was, is), ..] => charge(&call(a), slip, was, is),
        [Difference::Hydrogens(a, was, is), ..] => {
            let (count, kind) = (was.abs_diff(is), if is > was { "many" } else { "few" });
            let noun = if count == 1 { "hydrogen" } else { "hydrogens" };
            format!("with {count} {noun} too {kind} on {}", call(a))
        }
        [Difference::Bond(a, b, from, 0), Difference::Bond(c, d, 0, _), ..] if from > 0 => {
            let (kept, left, new) =
                if a == c || a == d { (a, b, if a == c { d } else { c }) } else { (b, a, if b == c { d } else { c }) };
            format!("with {} bonded to {}, not to {}", call(kept), call(new), call(left))
        }
        [Difference::Bond(a, b, _, 0), ..] => format!("without the bond {}-{}", call(a), call(b)),
        [Difference::Bond(a, b, 0, is), ..] => {
            format!("with a {} bond {}-{} that is not there", order(is), call(a), call(b))
        }
        [Difference::Bond(a, b, was, is), ..] => {
            format!("with the bond {}-{} drawn {}, not {}", call(a), call(b), order(is), order(was))
        }
        [Difference::Element(a, _, is), ..] => format!("with {} drawn as {}", call(a), is.name()),
        [Difference::Missing(a), ..] => format!("without {}", call(a)),
        [Difference::Extra(x), ..] => format!("with one atom too many, {}", case.stated.call(x)),
        [Difference::Isotope(a, ..), ..] => format!("with another isotope at {}", call(a)),
        [Difference::Unpaired(a, _, is), ..] => format!("with {} on {}", counted(is, "unpaired electron"), call(a)),
        [] => String::new(),
    }
}

fn charge(atom: &str, slip: Slip, was: i16, is: i16) -> String {
    let is = signed(is);
    match slip {
        Slip::TailChargeKept => format!("with the charge on {atom} left at {is}, as it was before its pair went"),
        Slip::HeadChargeKept => format!("with the charge on {atom} left at {is}, as it was before the pair came"),
        Slip::ChargeSignFlipped => format!("with {is} written for {} on {atom}", signed(was)),
        Slip::MiddleChargeChanged => format!("with charge {is} on {atom}, through which the electrons only pass"),
        _ => format!("with charge {is} on {atom}, which no arrow touches"),
    }
}
