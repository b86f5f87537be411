//! How slips are said.

use super::case::Case;
use super::proton::ends;
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
        _ if slip == Slip::ProtonMoved => proton(case, covers),
        _ if slip == Slip::ChargesLeftOut => charges(case, covers),
        _ if slip == Slip::IsotopeLost => isotopes(case, covers),
        [Difference::Charge(a, was, is), ..] => charge(&call(a), slip, was, is),
        [Difference::Hydrogens(a, was, is), ..] => {
            let (count, kind) = (was.abs_diff(is), if is > was { "many" } else { "few" });
            let noun = if count == 1 { "hydrogen" } else { "hydrogens" };
            ["with ", &count.to_string(), " ", noun, " too ", kind, " on ", &call(a)].concat()
        }
        [Difference::Bond(a, b, from, 0), Difference::Bond(c, d, 0, _), ..] if from > 0 => {
            let (kept, left, new) =
                if a == c || a == d { (a, b, if a == c { d } else { c }) } else { (b, a, if b == c { d } else { c }) };
            ["with ", &call(kept), " bonded to ", &call(new), ", not to ", &call(left)].concat()
        }
        [Difference::Bond(a, b, _, 0), ..] => ["without the bond ", &call(a), "-", &call(b)].concat(),
        [Difference::Bond(a, b, 0, is), ..] => {
            ["with a ", order(is), " bond ", &call(a), "-", &call(b), " that is not there"].concat()
        }
        [Difference::Bond(a, b, was, is), ..] => {
            let bond = ["with the bond ", &call(a), "-", &call(b)].concat();
            [&bond, " drawn ", order(is), ", not ", order(was)].concat()
        }
        [Difference::Element(a, _, is), ..] => ["with ", &call(a), " drawn as ", is.name()].concat(),
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
        Slip::TailChargeKept => {
            ["with the charge on ", atom, " left at ", &is, ", as it was before its pair went"].concat()
        }
        Slip::HeadChargeKept => {
            ["with the charge on ", atom, " left at ", &is, ", as it was before the pair came"].concat()
        }
        Slip::ChargeSignFlipped => ["with ", &is, " written for ", &signed(was), " on ", atom].concat(),
        Slip::MiddleChargeChanged => {
            ["with charge ", &is, " on ", atom, ", through which the electrons only pass"].concat()
        }
        _ => ["with charge ", &is, " on ", atom, ", which no arrow touches"].concat(),
    }
}

fn proton(case: &Case<'_>, covers: &[Difference]) -> String {
    let Some((from, to)) = ends(covers) else { return String::new() };
    ["after a proton has passed from ", &case.product.call(from), " to ", &case.product.call(to)].concat()
}

fn charges(case: &Case<'_>, covers: &[Difference]) -> String {
    let named: Vec<String> = covers
        .iter()
        .filter_map(|own| match *own {
            Difference::Charge(atom, was, _) => Some([&signed(was), " on ", &case.product.call(atom)].concat()),
            _ => None,
        })
        .collect();
    ["without its charges, ", &named.join(" and ")].concat()
}

fn isotopes(case: &Case<'_>, covers: &[Difference]) -> String {
    let named: Vec<String> = covers
        .iter()
        .filter_map(|own| match *own {
            Difference::Isotope(atom, Some(mass), _) => Some((atom, mass)),
            Difference::Missing(atom) => Some((atom, case.product.atom(atom).isotope?)),
            _ => None,
        })
        .map(|(atom, mass)| [&mass.to_string(), " on ", &case.product.call(atom)].concat())
        .collect();
    let noun = if named.len() == 1 { "its isotope label " } else { "its isotope labels " };
    ["without ", noun, &named.join(" and ")].concat()
}
