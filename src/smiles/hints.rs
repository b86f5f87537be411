//! What to say of a text that is no SMILES but nearly something that people write.

use crate::structure::Element;

/// What the text at a place that cannot be read was probably meant to be, and how that is written.
pub(super) fn hint(text: &str, at: usize) -> String {
    let (before, rest) = text.split_at(at.min(text.len()));
    let last = before.as_bytes().last().copied().unwrap_or(0);
    match rest.as_bytes() {
        [b'>', ..] if last == b'-' => DATIVE.to_owned(),
        [b'<', b'-', ..] => DATIVE.to_owned(),
        [b'>', ..] => REACTION.to_owned(),
        [b'~', ..] => "; any kind of bond ('~') is not electrons: write -, =, # or $".to_owned(),
        [first, ..] if first.is_ascii_alphabetic() => of_letters(before, rest),
        [] if matches!(last, b'-' | b'+') => CHARGE.to_owned(),
        [b'+', ..] => CHARGE.to_owned(),
        [b' ', ..] => of_space(before, rest),
        _ => String::new(),
    }
}

/// A space: species that were set apart as in print.
fn of_space(before: &str, rest: &str) -> String {
    let next = rest.trim_start().chars().next();
    let is_between = matches!(next, Some('.' | '+')) || before.ends_with('.');
    if is_between { SPECIES.to_owned() } else { String::new() }
}

const SPECIES: &str = "; species stand side by side with a '.' and no spaces: [OH-].CBr";
const DATIVE: &str = "; a dative bond is written as a single bond with the charges at its two ends: [NH3+][BH3-]";
const REACTION: &str = "; a field holds one structure: start, arrows and answer stand in fields of their own (or start>>answer in a .smi file)";
const CHARGE: &str = "; a charge stands with its atom in brackets: [O-], [NH4+]";
const CONDENSED: &str = "; hydrogens are not written outside brackets: CH3COO- is CC(=O)[O-], H2O is O, H+ is [H+]";

const GROUP: &str = "; an abbreviation of a group is no SMILES: draw the group's atoms, or * for any";

/// Letters: hydrogens of a condensed formula, an element without its brackets, a group's abbreviation.
fn of_letters(before: &str, rest: &str) -> String {
    let bytes = rest.as_bytes();
    let capital = bytes[0].is_ascii_uppercase();
    let small = bytes.get(1).is_some_and(u8::is_ascii_lowercase);
    // Na, Mg and other symbols of which the first letter was read as an atom: BrNa, ClAl(Cl)Cl.
    if !capital && let Some(first) = before.chars().next_back().filter(char::is_ascii_uppercase) {
        let symbol = format!("{first}{}", char::from(bytes[0]));
        let is_element = Element::from_symbol(symbol.as_bytes()).is_some();
        return if is_element { element(&symbol) } else { GROUP.to_owned() };
    }
    if capital && small && Element::from_symbol(&bytes[..2]).is_some() {
        return element(&rest[..2]);
    }
    match bytes[0] {
        b'H' => CONDENSED.to_owned(),
        b'D' => "; deuterium is written [2H]".to_owned(),
        b'T' => "; tritium is written [3H]".to_owned(),
        first if capital && !small && Element::from_symbol(&[first]).is_some() => element(&rest[..1]),
        _ if capital => GROUP.to_owned(),
        _ => String::new(),
    }
}

fn element(symbol: &str) -> String {
    format!("; is {symbol} meant? An element outside the organic subset stands in brackets: [{symbol}], [{symbol}+]")
}

#[cfg(test)]
mod tests {
    use super::super::read;

    #[test]
    fn refusals_say_how_it_is_written() {
        let cases = [
            ("N->B", "dative bond"),
            ("B<-N", "dative bond"),
            ("CC(=O)O>>CCO", "start>>answer"),
            ("CC>[Na+]>CO", "start>>answer"),
            ("CH3COO-", "CC(=O)[O-]"),
            ("H2O", "H2O is O"),
            ("H+", "[H+]"),
            ("CC(=O)O-", "[O-]"),
            ("NH4+", "outside brackets"),
            ("C+", "[NH4+]"),
            ("BrNa", "[Na]"),
            ("ClAl(Cl)Cl", "[Al]"),
            ("CLi", "[Li]"),
            ("ClMgC", "[Mg]"),
            ("PhMgBr", "draw the group"),
            ("CCMe", "draw the group"),
            ("[H2]", "[H][H]"),
            ("DO", "[2H]"),
            ("C~C", "any kind of bond"),
            ("[HO-]", "write [OH-]"),
            ("[H3C:2]Br", "write [CH3:2]"),
            ("[13HC]", "write [13CH]"),
            ("[HCl]", "write [ClH]"),
            ("[HHe]", "write [HeH]"),
            ("[H4N+]", "write [NH4+]"),
            ("[OH-] . CBr", "no spaces"),
            ("[OH-]. CBr", "no spaces"),
            ("CO + [Br-]", "no spaces"),
            ("CO |C:0.1|", "coordinate bond"),
            ("CO |m:0:1.2|", "bond to several"),
        ];
        let mut failures = Vec::new();
        for (text, word) in cases {
            let told: Vec<String> = read(text).faults.iter().map(|error| error.fault.to_string()).collect();
            if !told.iter().any(|told| told.contains(word)) {
                failures.push(format!("{text}: {told:?}"));
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }
}
