//! The bracket atom: `[isotope symbol chirality hydrogens charge :class]`, in nom.

use super::error::SmilesFault;
use crate::structure::stereo::Geometry;
use crate::structure::{Atom, Element};
use nom::branch::alt;
use nom::bytes::complete::{tag, take_while, take_while_m_n, take_while1};
use nom::combinator::opt;
use nom::sequence::preceded;
use nom::{IResult, Parser};

type Parsed<'a, T> = IResult<&'a [u8], T, ()>;

/// A chirality mark as written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Mark {
    /// The geometry; `None` for plain `@` and `@@`, which mean what the number of neighbours says.
    pub(super) geometry: Option<Geometry>,
    /// Clockwise for `@@`.
    pub(super) clockwise: bool,
}

/// A fault inside a bracket and the bytes of the text it stands on, counted from the bracket.
pub(super) struct BracketFault {
    pub(super) start: usize,
    pub(super) end: usize,
    pub(super) fault: SmilesFault,
}

/// Reads the text between `[` and `]`. Each step is one production of the grammar; the offset of a fault follows from
/// what is left.
pub(super) fn bracket_atom(inner: &[u8]) -> Result<(Atom, Option<Mark>), BracketFault> {
    let at = |rest: &[u8]| inner.len() - rest.len();
    let (rest, digits) = digits0(inner);
    let isotope = number(digits).filter(|mass| *mass <= 999);
    if !digits.is_empty() && isotope.is_none() {
        return Err(range(0, digits, "isotope", "0 to 999"));
    }
    let symbol_at = at(rest);
    let (rest, (element, aromatic)) = symbol(rest).map_err(|_| unknown_symbol(rest, symbol_at))?;
    let mut atom = Atom { aromatic, isotope: isotope.map(|mass| mass as u16), ..Atom::new(element) };

    let (rest, mark) = chirality(rest).unwrap_or((rest, None));
    let hydrogens_at = at(rest);
    let (rest, hydrogens) = hydrogen_count(rest).unwrap_or((rest, 0));
    // One is hydrogen gas in one bracket, which the reader takes apart.
    if hydrogens > 1 && element == Element::HYDROGEN {
        return Err(BracketFault { start: hydrogens_at, end: at(rest), fault: SmilesFault::HydrogenOnHydrogen });
    }
    atom.hydrogens = hydrogens;
    let charge_at = at(rest);
    let (rest, charge) = charge(rest).unwrap_or((rest, 0));
    if !(-15..=15).contains(&charge) {
        return Err(range(charge_at, &inner[charge_at..at(rest)], "charge", "-15 to +15"));
    }
    if charge != 0 && hydrogens > 0 && element == Element::HYDROGEN {
        return Err(BracketFault { start: hydrogens_at, end: charge_at, fault: SmilesFault::HydrogenOnHydrogen });
    }
    atom.charge = charge as i16;
    let class_at = at(rest);
    let (rest, class) = class(rest).unwrap_or((rest, None));
    if let Some(digits) = class {
        atom.class = number(digits);
        if atom.class.is_none() {
            return Err(range(class_at + 1, digits, "atom class", "at most nine digits"));
        }
        // OpenSMILES 1.0, 3.1.7: an atom class that is not given is 0.
        atom.class = atom.class.filter(|class| *class > 0);
    }
    if rest.is_empty() { Ok((atom, mark)) } else { Err(left_over(inner, rest, element)) }
}

/// The fault of text that none of the productions has taken.
fn left_over(inner: &[u8], rest: &[u8], element: Element) -> BracketFault {
    let (start, end) = (inner.len() - rest.len(), inner.len());
    if let Some(meant) = hydrogens_behind(inner) {
        return BracketFault { start: 0, end, fault: SmilesFault::HydrogensFirst(meant) };
    }
    if element == Element::HYDROGEN && rest.first().is_some_and(u8::is_ascii_digit) {
        return BracketFault { start, end, fault: SmilesFault::HydrogenOnHydrogen };
    }
    let text = String::from_utf8_lossy(rest).into_owned();
    BracketFault { start, end, fault: SmilesFault::BracketOrder(text) }
}

/// What is meant where hydrogens stand before the atom that they are on, as people write formulas: `OH-` for `HO-`.
fn hydrogens_behind(inner: &[u8]) -> Option<String> {
    let (rest, isotope) = digits0(inner);
    let (rest, count) = digits0(rest.strip_prefix(b"H")?);
    let letters = rest.iter().take_while(|byte| byte.is_ascii_alphabetic()).count();
    let (symbol, rest) = rest.split_at(letters);
    let other = Element::from_symbol(symbol).filter(|own| *own != Element::HYDROGEN);
    let meant = [isotope, symbol, b"H", count, rest].concat();
    other.filter(|_| bracket_atom(&meant).is_ok())?;
    String::from_utf8(meant).ok()
}

fn range(start: usize, text: &[u8], what: &'static str, range: &'static str) -> BracketFault {
    let written = String::from_utf8_lossy(text).into_owned();
    BracketFault { start, end: start + text.len(), fault: SmilesFault::OutOfRange { what, text: written, range } }
}

fn unknown_symbol(rest: &[u8], start: usize) -> BracketFault {
    let letters = rest.iter().take_while(|byte| byte.is_ascii_alphabetic()).count();
    if letters == 0 {
        let expected = "an element symbol";
        let fault = match std::str::from_utf8(rest).ok().and_then(|text| text.chars().next()) {
            Some(found) => SmilesFault::Unexpected { found, expected, hint: String::new() },
            None => SmilesFault::Ends { expected, hint: String::new() },
        };
        return BracketFault { start, end: start + rest.len().min(1), fault };
    }
    let text = String::from_utf8_lossy(&rest[..letters]).into_owned();
    BracketFault { start, end: start + letters, fault: SmilesFault::UnknownElement(text) }
}

fn digits0(input: &[u8]) -> (&[u8], &[u8]) {
    let count = input.iter().take_while(|byte| byte.is_ascii_digit()).count();
    (&input[count..], &input[..count])
}

/// The number that up to nine digits spell; `None` for none or more, which no field of an atom can hold.
fn number(digits: &[u8]) -> Option<u32> {
    if digits.is_empty() || digits.len() > 9 {
        return None;
    }
    Some(digits.iter().fold(0, |sum, digit| sum * 10 + u32::from(digit - b'0')))
}

/// `symbol ::= element | aromatic | '*'`. The longest symbol wins: `[Sc]` is scandium, `[sH]` aromatic sulfur.
fn symbol(input: &[u8]) -> Parsed<'_, (Element, bool)> {
    if let Some(pair) = input.get(..2)
        && pair[1].is_ascii_lowercase()
    {
        let aromatic = match pair {
            b"se" => Element::from_symbol(b"Se"),
            b"as" => Element::from_symbol(b"As"),
            _ => None,
        };
        if let Some(element) = aromatic {
            return Ok((&input[2..], (element, true)));
        }
        if let Some(element) = Element::from_symbol(pair) {
            return Ok((&input[2..], (element, false)));
        }
    }
    let first = *input.first().ok_or(nom::Err::Error(()))?;
    let rest = &input[1..];
    let aromatic = match first {
        b'b' => Some(Element::BORON),
        b'c' => Some(Element::CARBON),
        b'n' => Some(Element::NITROGEN),
        b'o' => Some(Element::OXYGEN),
        b'p' => Some(Element::PHOSPHORUS),
        b's' => Some(Element::SULFUR),
        _ => None,
    };
    if let Some(element) = aromatic {
        return Ok((rest, (element, true)));
    }
    // A small letter that follows would belong to the symbol: `[Cx]` is a wrong symbol, not carbon and an `x`.
    if rest.first().is_some_and(u8::is_ascii_lowercase) {
        return Err(nom::Err::Error(()));
    }
    Element::from_symbol(&input[..1]).map(|element| (rest, (element, false))).ok_or(nom::Err::Error(()))
}

/// `chiral ::= '@' | '@@' | '@TH' n | '@AL' n | '@SP' n | '@TB' n | '@OH' n`.
fn chirality(input: &[u8]) -> Parsed<'_, Option<Mark>> {
    let (rest, _) = tag(&b"@"[..])(input)?;
    let class = alt((tag(&b"TH"[..]), tag(&b"AL"[..]), tag(&b"SP"[..]), tag(&b"TB"[..]), tag(&b"OH"[..])));
    let (rest, long) = opt((class, take_while_m_n(1, 2, |byte: u8| byte.is_ascii_digit()))).parse(rest)?;
    if let Some((class, digits)) = long {
        let count = number(digits).unwrap_or_default();
        let (geometry, most) = match class {
            b"TH" => (Geometry::Tetrahedral, 2),
            b"AL" => (Geometry::Allene, 2),
            b"SP" => (Geometry::Other(*b"SP", count as u8), 3),
            b"TB" => (Geometry::Other(*b"TB", count as u8), 20),
            _ => (Geometry::Other(*b"OH", count as u8), 30),
        };
        if !(1..=most).contains(&count) {
            return Err(nom::Err::Error(()));
        }
        return Ok((rest, Some(Mark { geometry: Some(geometry), clockwise: count == 2 })));
    }
    let (rest, second) = opt(tag(&b"@"[..])).parse(rest)?;
    Ok((rest, Some(Mark { geometry: None, clockwise: second.is_some() })))
}

/// `hcount ::= 'H' | 'H' digit`.
fn hydrogen_count(input: &[u8]) -> Parsed<'_, u16> {
    let (rest, digit) =
        preceded(tag(&b"H"[..]), take_while_m_n(0, 1, |byte: u8| byte.is_ascii_digit())).parse(input)?;
    Ok((rest, number(digit).map_or(1, |count| count as u16)))
}

/// `charge ::= '-' | '-' digit? digit | '+' | '+' digit? digit | '--' | '++'` (the doubled signs are deprecated).
fn charge(input: &[u8]) -> Parsed<'_, i32> {
    let (rest, sign) = alt((tag(&b"+"[..]), tag(&b"-"[..]))).parse(input)?;
    let unit = if sign == b"+" { 1 } else { -1 };
    let (after_digits, digits) = take_while(|byte: u8| byte.is_ascii_digit())(rest)?;
    if !digits.is_empty() {
        // Out of range is the caller's to say; a hundred is as wrong as a million.
        let size = number(digits).map_or(100, |size| size.min(100) as i32);
        return Ok((after_digits, unit * size));
    }
    let (rest, again) = opt(tag(sign)).parse(rest)?;
    Ok((rest, if again.is_some() { 2 * unit } else { unit }))
}

/// `class ::= ':' number`.
fn class(input: &[u8]) -> Parsed<'_, Option<&[u8]>> {
    let (rest, digits) = preceded(tag(&b":"[..]), take_while1(|byte: u8| byte.is_ascii_digit())).parse(input)?;
    Ok((rest, Some(digits)))
}
