//! keyassay audits banks of curved-arrow questions: it recomputes every stated answer from its arrows.

pub mod arrows;
pub mod bank;
pub mod drawing;
pub mod limits;
pub mod smiles;
pub mod source;
pub mod structure;
