//! Pictures of structures and their curved arrows, as SVG.

pub mod geometry;
pub mod layout;
