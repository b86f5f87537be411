//! Errors as exceptions.

use keyassay::Error;
use pyo3::prelude::*;

/// The exception for an error: the same sentence, under a name that says what it is about.
pub(crate) fn of(py: Python<'_>, error: &Error) -> PyErr {
    let (name, message, column) = match error {
        Error::Structure { message, column } => ("StructureError", message.clone(), Some(*column)),
        Error::Arrows { message, column } => ("ArrowsError", message.clone(), Some(*column)),
        other => ("KeyassayError", other.to_string(), None),
    };
    let made = py.import("keyassay._errors").and_then(|module| match column {
        Some(column) => module.getattr(name)?.call1((message, (column > 0).then_some(column))),
        None => module.getattr(name)?.call1((message,)),
    });
    made.map_or_else(|error| error, PyErr::from_value)
}

/// A job that could not be done.
pub(crate) fn job(py: Python<'_>, told: String) -> PyErr {
    of(py, &Error::Job(told))
}
