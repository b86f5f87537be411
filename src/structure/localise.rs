//! Localised forms (stub, being written).
