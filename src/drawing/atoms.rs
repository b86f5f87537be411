//! What is written at atoms: symbols, hydrogens on the free side, isotopes, charges upper right.

use super::canvas::{SMALL, TEXT, width};
use super::figure::{Area, Figure, Run, Writing};
use super::geometry::Position;
use crate::structure::electrons::{Electrons, unpaired};
use crate::structure::{Atom, AtomId, Element, Structure};
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

/// Lone pairs and unpaired electrons of an atom; none where electrons are not judged.
pub(super) fn electrons(structure: &Structure, atom: AtomId) -> (usize, usize) {
    let unpaired = unpaired(structure, atom).clamp(0, 8);
    let count = Electrons::of(structure, atom).non_bonding().unwrap_or(0).clamp(0, 16);
    let size = |number: i32| usize::try_from(number).unwrap_or(0);
    (size((count - unpaired) / 2), size(unpaired))
}

/// Where the hydrogens of a written atom go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    Right,
    Left,
    Above,
    Below,
}

/// The writing of one atom.
pub(super) fn write(figure: &Figure, atom: AtomId, pairs: usize) -> Writing {
    let own = figure.structure.atom(atom);
    let bonds = figure.bond_directions(atom);
    if is_bare(figure, atom, pairs, &bonds) {
        bare(figure.at(atom), own, &bonds)
    } else {
        written(figure.at(atom), own, &bonds)
    }
}

/// Whether an atom is a bare corner: a carbon whose hydrogens follow from its bonds, its charge and its drawn electrons.
fn is_bare(figure: &Figure, atom: AtomId, pairs: usize, bonds: &[f64]) -> bool {
    let own = figure.structure.atom(atom);
    if own.element != Element::CARBON || own.isotope.is_some() || bonds.is_empty() {
        return false;
    }
    let lone_end = own.charge != 0
        && bonds.len() == 1
        && figure.structure.neighbours(atom).any(|(_, bond)| figure.structure.bond(bond).order > 2);
    let straight = match bonds {
        [a, b] => ((a - b).cos() + 1.0).abs() < 0.02 && cumulated(figure.structure, atom),
        _ => false,
    };
    let electrons = Electrons::of(figure.structure, atom);
    let hidden = electrons.bonds - i32::from(own.hydrogens);
    let (lone, single) = self::electrons(figure.structure, atom);
    let number = |count: usize| i32::try_from(count).unwrap_or(i32::MAX / 8);
    let shown_pairs = if own.charge < 0 { lone.max(pairs) } else { pairs };
    let implied = match own.charge {
        // A carbanion's charge implies one pair, a cation's none.
        -1 => 3 - hidden - number(single) - 2 * (number(shown_pairs) - 1).max(0),
        0 => 4 - hidden - number(single) - 2 * number(shown_pairs),
        1 => 3 - hidden - number(single) - 2 * number(shown_pairs),
        _ => return false,
    };
    !straight && !lone_end && implied == i32::from(own.hydrogens)
}

/// Whether a corner in a straight line is the middle of a cumulene, where nothing else shows it.
fn cumulated(structure: &Structure, atom: AtomId) -> bool {
    structure.neighbours(atom).all(|(_, bond)| structure.bond(bond).order == 2)
}

fn bare(at: Position, own: &Atom, bonds: &[f64]) -> Writing {
    let mut writing = Writing::default();
    if own.charge != 0 {
        let direction = free_direction(bonds, FRAC_PI_4);
        put_charge(&mut writing, at + Position::towards(direction) * 0.3, own.charge);
    }
    writing
}

/// The direction farthest from all bonds, as near to the wanted one as that allows.
fn free_direction(bonds: &[f64], wanted: f64) -> f64 {
    let nearest = |angle: f64| bonds.iter().map(|bond| (angle - bond).cos().acos()).fold(PI, f64::min);
    let worth = |angle: f64| nearest(angle).min(1.25) + 0.12 * (angle - wanted).cos();
    let choices = (0..24).map(|step| wanted + f64::from(step) * PI / 12.0);
    choices
        .fold(
            (wanted, f64::NEG_INFINITY),
            |best, angle| {
                if worth(angle) > best.1 + 1e-9 { (angle, worth(angle)) } else { best }
            },
        )
        .0
}

fn written(at: Position, own: &Atom, bonds: &[f64]) -> Writing {
    let mut writing = Writing { element: true, ..Writing::default() };
    let symbol = own.element.symbol();
    let half = width(symbol) * TEXT / 2.0;
    put(&mut writing, at, TEXT, symbol);
    let (mut left, mut right) = (at.x - half, at.x + half);
    if let Some(isotope) = own.isotope {
        let text = isotope.to_string();
        let half = width(&text) * SMALL / 2.0;
        put(&mut writing, Position::new(left - half, at.y + 0.17), SMALL, &text);
        left -= 2.0 * half;
    }
    if own.hydrogens > 0 {
        let side = hydrogen_side(own, bonds);
        put_hydrogens(&mut writing, at, (&mut left, &mut right), side, own.hydrogens);
    }
    if own.charge != 0 {
        let text = charge_text(own.charge);
        let spot = charge_spot(&writing, at, (left, right, half), &text, bonds);
        put_charge(&mut writing, spot, own.charge);
    }
    writing
}

/// The side that no bond uses: right, else left, else above or below. Alone, as formulae are written: H before group 16, 17.
fn hydrogen_side(own: &Atom, bonds: &[f64]) -> Side {
    if bonds.is_empty() {
        let before = own.element.valence_electrons().is_some_and(|valence| valence >= 6);
        return if before { Side::Left } else { Side::Right };
    }
    match bonds {
        [only] if only.cos() > 0.2 => return Side::Left,
        [_] => return Side::Right,
        _ => {}
    }
    // The side farthest from all bonds; right and left read best and win where they are nearly as free.
    let free = |angle: f64| bonds.iter().map(|bond| (angle - bond).cos().acos()).fold(PI, f64::min).min(1.2);
    let sides = [
        (Side::Right, 0.0, 0.3),
        (Side::Left, PI, 0.25),
        (Side::Below, -FRAC_PI_2, 0.0),
        (Side::Above, FRAC_PI_2, 0.0),
    ];
    let best = sides.into_iter().map(|(side, angle, bias)| (side, free(angle) + bias));
    best.fold((Side::Right, 0.0), |best, next| if next.1 > best.1 + 1e-9 { next } else { best }).0
}

fn put_hydrogens(writing: &mut Writing, at: Position, (left, right): (&mut f64, &mut f64), side: Side, count: u16) {
    let digits = if count > 1 { count.to_string() } else { String::new() };
    let (letter, number) = (width("H") * TEXT, width(&digits) * SMALL);
    let (start, y) = match side {
        Side::Right => (*right, at.y),
        Side::Left => (*left - letter - number, at.y),
        Side::Above => (at.x - letter / 2.0, at.y + TEXT * 0.92),
        Side::Below => (at.x - letter / 2.0, at.y - TEXT * 0.92),
    };
    put(writing, Position::new(start + letter / 2.0, y), TEXT, "H");
    if count > 1 {
        put(writing, Position::new(start + letter + number / 2.0, y - 0.13), SMALL, &digits);
    }
    match side {
        Side::Right => *right += letter + number,
        Side::Left => *left -= letter + number,
        Side::Above | Side::Below => {}
    }
}

fn charge_text(charge: i16) -> String {
    let sign = if charge > 0 { '+' } else { '\u{2212}' };
    match charge.unsigned_abs() {
        1 => sign.to_string(),
        more => format!("{more}{sign}"),
    }
}

/// Upper right of the symbol and its hydrogens; where a bond or text is there, the nearest corner that is free.
fn charge_spot(
    writing: &Writing,
    at: Position,
    (left, right, symbol): (f64, f64, f64),
    text: &str,
    bonds: &[f64],
) -> Position {
    let half = width(text) * SMALL / 2.0;
    let hydrogens_before = left < at.x - symbol - 1e-9;
    // Between hydrogens and their atom a sign reads as that of neither.
    let inner_left = if hydrogens_before { left - half } else { at.x - symbol - half };
    let spots = [
        Position::new(at.x + symbol + half, at.y + 0.19),
        Position::new(right + half, at.y + 0.19),
        Position::new(at.x, at.y + 0.42),
        Position::new(inner_left, at.y + 0.19),
        Position::new(left - half, at.y + 0.19),
        Position::new(right + half, at.y - 0.19),
        Position::new(at.x, at.y - 0.42),
        Position::new(left - half, at.y - 0.19),
    ];
    let blocked = |spot: &Position| {
        let off = *spot - at;
        let on = |bond: Position| off.dot(bond) > 0.0 && bond.cross(off).abs() < 0.09 + half;
        let bond = bonds.iter().any(|bond| on(Position::towards(*bond)));
        let over = writing.areas.iter().any(|area| area.meets(*spot, Position::new(half * 0.9, 0.1)));
        bond || over
    };
    spots.iter().find(|spot| !blocked(spot)).or(spots.first()).copied().unwrap_or(at)
}

fn put_charge(writing: &mut Writing, at: Position, charge: i16) {
    put(writing, at, SMALL, &charge_text(charge));
    writing.charge = Some(at);
}

fn put(writing: &mut Writing, at: Position, size: f64, text: &str) {
    writing.runs.push(Run { at, size, text: text.to_owned() });
    writing.areas.push(Area { middle: at, half: Position::new(width(text) * size / 2.0, size * 0.37) });
}
