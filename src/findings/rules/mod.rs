//! The rules, one file a family: what is found in drawings, arrows and answers, each from what was worked out.

pub(super) mod accept;
pub(super) mod answer;
pub(super) mod arrows;
pub mod content;
pub(super) mod context;
pub(super) mod drawing;
pub(super) mod loose;
pub(super) mod mend;
pub(super) mod omits;
pub(super) mod several;
pub(super) mod stereo;
pub(super) mod unpaired;
