//! Numbers as CML writes them, read without floating point.

use crate::structure::Element;
use std::cmp::Ordering;

/// Parts of the unit in which coordinates are kept (see [`Point`](crate::structure::Point)).
const PARTS: u32 = 10_000;
/// Decimal places of one part.
const PLACES: i64 = 4;

/// A whole number; a sign and a fraction of zeros (`+2`, `1.0`) are accepted, as programs write them.
pub(super) fn whole(text: &str) -> Option<i64> {
    let text = match text.split_once('.') {
        Some((whole, fraction)) if !fraction.is_empty() && fraction.bytes().all(|b| b == b'0') => whole,
        _ => text,
    };
    text.strip_prefix('+').filter(|rest| !rest.starts_with('-')).unwrap_or(text).parse().ok()
}

/// A decimal number (`-1.25`, `3e-2`) in parts of 1/10,000, rounded half away from zero; `None` where it is none or does
/// not fit.
pub(super) fn decimal(text: &str) -> Option<i32> {
    let (negative, digits) = match text.as_bytes().first()? {
        b'-' => (true, &text[1..]),
        b'+' => (false, &text[1..]),
        _ => (false, text),
    };
    let (digits, exponent) = match digits.split_once(['e', 'E']) {
        Some((digits, exponent)) => (digits, whole(exponent).filter(|exponent| exponent.abs() < 1_000)?),
        None => (digits, 0),
    };
    let (before, after) = digits.split_once('.').unwrap_or((digits, ""));
    let well_formed = before.len() + after.len() > 0 && before.bytes().chain(after.bytes()).all(|b| b.is_ascii_digit());
    if !well_formed {
        return None;
    }
    // The number is the digits before and after the point, shifted; the place of the last one kept is `PLACES`.
    let keep = i64::try_from(before.len()).ok()? + exponent + PLACES;
    let mut value: i64 = 0;
    for at in 0..keep.max(0) {
        let digit = digit_at(before, after, at);
        value = value.checked_mul(10)?.checked_add(i64::from(digit))?;
        if value > i64::from(i32::MAX) {
            return None;
        }
    }
    if keep >= 0 && digit_at(before, after, keep) >= 5 {
        value += 1;
    }
    i32::try_from(if negative { -value } else { value }).ok()
}

/// The sign of a decimal number; `None` where it is none.
pub(super) fn sign(text: &str) -> Option<Ordering> {
    let digits = text.strip_prefix(['-', '+']).unwrap_or(text);
    let mantissa = digits.split(['e', 'E']).next()?;
    let numeric = !mantissa.is_empty() && mantissa.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    let nought = mantissa.bytes().all(|b| matches!(b, b'0' | b'.'));
    let sign = if text.starts_with('-') { Ordering::Less } else { Ordering::Greater };
    numeric.then_some(if nought { Ordering::Equal } else { sign })
}

fn digit_at(before: &str, after: &str, at: i64) -> u8 {
    let Ok(at) = usize::try_from(at) else { return 0 };
    let byte = match before.as_bytes().get(at) {
        Some(byte) => Some(byte),
        None => after.as_bytes().get(at - before.len()),
    };
    byte.map_or(0, |byte| byte - b'0')
}

/// A coordinate as a decimal number.
pub(super) fn write_decimal(value: i32) -> String {
    let (whole, part) = (value.unsigned_abs() / PARTS, value.unsigned_abs() % PARTS);
    let sign = if value < 0 { "-" } else { "" };
    format!("{sign}{whole}.{part:04}")
}

/// What an `elementType` names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Named {
    /// An element, or the unspecified atom where a generic group (`R`) is drawn.
    Element(Element),
    /// The dummy `Du`, which stands for no atom.
    Dummy,
    /// Nothing.
    Unknown,
}

/// The two types that the schema allows beside the elements, `R` and `Du`.
const GENERIC: [(&str, Named); 2] = [("R", Named::Element(Element::ANY)), ("Du", Named::Dummy)];

/// The `elementType` of the unspecified atom.
pub(super) const GENERIC_GROUP: &str = "R";

pub(super) fn element(text: &str) -> Named {
    if let Some((_, named)) = GENERIC.iter().find(|(name, _)| *name == text) {
        return *named;
    }
    Element::from_symbol(text.as_bytes()).map_or(Named::Unknown, Named::Element)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_exactly() {
        let cases: [(&str, Option<i32>); 22] = [
            ("0", Some(0)),
            ("1", Some(10_000)),
            ("-1.25", Some(-12_500)),
            ("+0.5", Some(5_000)),
            (".5", Some(5_000)),
            ("5.", Some(50_000)),
            ("0.00005", Some(1)),
            ("0.00004999", Some(0)),
            ("-0.00005", Some(-1)),
            ("1e2", Some(1_000_000)),
            ("1.5E-2", Some(150)),
            ("1e-9", Some(0)),
            ("123456.78915", Some(1_234_567_892)),
            ("999999", None),
            ("1e99", None),
            ("", None),
            (".", None),
            ("-", None),
            ("1,5", None),
            ("NaN", None),
            ("1e", None),
            ("0x10", None),
        ];
        let wrong: Vec<_> = cases.iter().filter(|(text, want)| decimal(text) != *want).collect();
        assert!(wrong.is_empty(), "{wrong:?}");
        for value in [0, 1, -1, 12_345, -98_765_432] {
            assert_eq!(decimal(&write_decimal(value)), Some(value));
        }
        let cases = [("2", Some(2)), ("+1", Some(1)), ("-1", Some(-1)), ("1.0", Some(1)), ("+-1", None), ("1.5", None)];
        for (text, want) in cases {
            assert_eq!(whole(text), want, "{text}");
        }
    }
}
