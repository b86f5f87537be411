//! Values as people read them.

use super::{Move, Value};
use crate::structure::Element;

/// One arrow in words: `lone pair to pi bond`.
#[must_use]
pub fn of_move((tail, head): Move) -> String {
    format!("{} to {}", tail.name(), head.name())
}

/// A value in words.
#[must_use]
pub fn of_value(value: &Value) -> String {
    match value {
        Value::Number(number) => number.to_string(),
        Value::Charge(0) => "0".to_owned(),
        Value::Charge(charge) => format!("{}{}", charge.unsigned_abs(), if *charge < 0 { '-' } else { '+' }),
        Value::Word(word) => (*word).to_owned(),
        Value::Element(number, sign) => {
            let symbol = Element::from_number(*number).map_or("*", Element::symbol);
            match sign {
                0 => symbol.to_owned(),
                1.. => format!("{symbol}+"),
                _ => format!("{symbol}-"),
            }
        }
        Value::Moves(moves) => of_moves(moves),
    }
}

/// The moves of a step, equal ones counted: `2 × lone pair to pi bond; pi bond to atom`.
fn of_moves(moves: &[Move]) -> String {
    let runs = moves.chunk_by(|a, b| a == b).map(|run| match run {
        [own] => of_move(*own),
        [own, ..] => format!("{} \u{d7} {}", run.len(), of_move(*own)),
        [] => String::new(),
    });
    runs.collect::<Vec<_>>().join("; ")
}
