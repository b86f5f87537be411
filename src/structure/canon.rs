//! Canonical form and symmetry classes (stub, being written).
