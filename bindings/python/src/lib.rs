//! The Python module `keyassay._keyassay`: what the package in `keyassay/` is made of.

mod audit;
mod errors;
mod rows;
mod structures;

use pyo3::prelude::*;
use std::ffi::OsString;

/// Runs the program with these arguments, its name first; gives its exit status.
#[pyfunction]
fn main(py: Python<'_>, arguments: Vec<OsString>) -> u8 {
    py.detach(|| keyassay::cli::status(arguments.into_iter()))
}

/// The style of the audit's page.
#[pyfunction]
fn style() -> &'static str {
    keyassay::report::html::STYLE
}

#[pymodule]
mod _keyassay {
    #[pymodule_export]
    use super::audit::{PyAudit, PyBank, PyFinding};
    #[pymodule_export]
    use super::structures::{PyJudge, contributors, draw, infer, push};
    #[pymodule_export]
    use super::{main, style};
}
