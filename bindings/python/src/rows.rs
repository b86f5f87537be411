//! Python values as rows: mappings, one a row, or lists of cells, one a column.

use keyassay::{Given, Giver, Rows};
use pyo3::exceptions::{PyTypeError, PyValueError};
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyBytes, PyDict, PyFloat, PyInt, PyList, PyMapping, PyString, PyTuple};
use std::fmt;
use std::io;
use std::sync::{Arc, Mutex};

/// Rows that are written before other threads of Python have a turn.
const AT_ONCE: usize = 512;

/// A table that Python gives: something that makes an iterator, each time it is called.
#[derive(Clone)]
pub(crate) struct Table {
    begin: Arc<Py<PyAny>>,
    /// The columns, where the iterator gives lists of cells by column; else it gives mappings.
    columns: Option<Vec<String>>,
    /// Whether it can be begun again.
    stays: bool,
    /// What went wrong in Python while rows were read.
    pub(crate) fault: Arc<Mutex<Option<PyErr>>>,
}

impl fmt::Debug for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Table").field("columns", &self.columns).finish_non_exhaustive()
    }
}

impl Table {
    pub(crate) fn new(begin: Py<PyAny>, columns: Option<Vec<String>>, stays: bool) -> Self {
        Self { begin: Arc::new(begin), columns, stays, fault: Arc::default() }
    }
}

impl Given for Table {
    fn stays(&self) -> bool {
        self.stays
    }

    fn begin(&self) -> io::Result<Box<dyn Giver>> {
        let iterator = Python::attach(|py| self.begin.bind(py).call0().map(Bound::unbind));
        let rows = iterator.map_err(|error| kept(&self.fault, error))?;
        Ok(Box::new(Reading { rows, columns: self.columns.clone(), has_header: false, fault: Arc::clone(&self.fault) }))
    }
}

/// Keeps an exception, which comes back out of Python's call, and gives the one that ends the reading.
fn kept(fault: &Mutex<Option<PyErr>>, error: PyErr) -> io::Error {
    let told = io::Error::other(error.to_string());
    if let Ok(mut own) = fault.lock() {
        own.get_or_insert(error);
    }
    told
}

struct Reading {
    rows: Py<PyAny>,
    columns: Option<Vec<String>>,
    has_header: bool,
    fault: Arc<Mutex<Option<PyErr>>>,
}

impl Giver for Reading {
    fn give(&mut self, rows: &mut Rows) -> io::Result<bool> {
        if let (Some(columns), false) = (&self.columns, self.has_header) {
            rows.header(columns)?;
        }
        self.has_header = true;
        let given = Python::attach(|py| match &self.columns {
            Some(columns) => give_columns(self.rows.bind(py), columns.len(), rows),
            None => give_mappings(self.rows.bind(py), rows),
        });
        given.map_err(|error| kept(&self.fault, error))
    }
}

/// One piece of a table by columns: a list of cells for each.
fn give_columns(pieces: &Bound<'_, PyAny>, count: usize, rows: &mut Rows) -> PyResult<bool> {
    let mut iterator = pieces.try_iter()?;
    let Some(piece) = iterator.next() else { return Ok(false) };
    let piece = piece?;
    let columns: Vec<Bound<'_, PyList>> = piece.extract()?;
    let length = columns.first().map_or(0, |own| own.len());
    if columns.len() != count || columns.iter().any(|own| own.len() != length) {
        return Err(PyValueError::new_err("the columns of a table are of different lengths"));
    }
    for row in 0..length {
        let mut nested = None;
        for (at, column) in columns.iter().enumerate() {
            let cell = column.get_item(row)?;
            if !write(&cell, rows.cell(at))? {
                nested = Some(at);
                break;
            }
        }
        if nested.is_some() {
            return Err(PyTypeError::new_err(format!(
                "row {} holds a list or another object in a column of a table: give the rows as dicts",
                row + 1
            )));
        }
        rows.end_row();
    }
    Ok(true)
}

/// Some mappings, one a row.
fn give_mappings(mappings: &Bound<'_, PyAny>, rows: &mut Rows) -> PyResult<bool> {
    let mut iterator = mappings.try_iter()?;
    for _ in 0..AT_ONCE {
        let Some(row) = iterator.next() else { return Ok(false) };
        let row = row?;
        if !flat(&row, rows)? {
            rows.clear();
            let text: String = row.py().import("keyassay._rows")?.call_method1("nested", (&row,))?.extract()?;
            rows.nested(&text);
            continue;
        }
        rows.end_row();
    }
    Ok(true)
}

/// Writes a mapping whose values are texts and numbers; `false` where it nests.
fn flat(row: &Bound<'_, PyAny>, rows: &mut Rows) -> PyResult<bool> {
    if let Ok(dict) = row.cast::<PyDict>() {
        for (near, (key, value)) in dict.iter().enumerate() {
            if !cell(&key, &value, near, rows)? {
                return Ok(false);
            }
        }
        return Ok(true);
    }
    let Ok(mapping) = row.cast::<PyMapping>() else {
        let kind = row.get_type().name()?;
        return Err(PyTypeError::new_err(format!("an item is a mapping of its fields, not {kind}")));
    };
    for (near, pair) in mapping.items()?.iter().enumerate() {
        let (key, value): (Bound<'_, PyAny>, Bound<'_, PyAny>) = pair.extract()?;
        if !cell(&key, &value, near, rows)? {
            return Ok(false);
        }
    }
    Ok(true)
}

fn cell(key: &Bound<'_, PyAny>, value: &Bound<'_, PyAny>, near: usize, rows: &mut Rows) -> PyResult<bool> {
    let Ok(key) = key.cast::<PyString>() else {
        return Err(PyTypeError::new_err("the fields of an item are named by strings"));
    };
    let column = rows.column(&key.to_cow()?, near).map_err(|error| PyValueError::new_err(error.to_string()))?;
    write(value, rows.cell(column))
}

/// Writes a value as the cell of a table; `false` where it is none.
fn write(value: &Bound<'_, PyAny>, cell: &mut String) -> PyResult<bool> {
    cell.clear();
    if let Ok(text) = value.cast::<PyString>() {
        match text.to_cow() {
            Ok(text) => cell.push_str(&text),
            // Halves of characters: whatever they are, they are none of a structure.
            Err(_) => cell.push_str(&text.to_string_lossy()),
        }
        return Ok(true);
    }
    if value.is_none() {
        return Ok(true);
    }
    if let Ok(number) = value.cast::<PyFloat>() {
        let number = number.value();
        // A column of whole numbers with gaps is one of floats; a gap is not a number.
        if !number.is_nan() {
            *cell = number.to_string();
        }
        return Ok(true);
    }
    if value.is_instance_of::<PyList>()
        || value.is_instance_of::<PyTuple>()
        || value.is_instance_of::<PyDict>()
        || value.is_instance_of::<PyBytes>()
    {
        return Ok(false);
    }
    if value.is_instance_of::<PyBool>() || value.is_instance_of::<PyInt>() {
        cell.push_str(&value.str()?.to_cow()?);
        return Ok(true);
    }
    if value.cast::<PyMapping>().is_ok() || value.hasattr("__array__")? && value.try_iter().is_ok() {
        return Ok(false);
    }
    // What data frames have for a gap (NA, NaT, a null scalar), and dates, decimals, numbers of numpy.
    let text = value.str()?;
    let text = text.to_cow()?;
    if !matches!(&*text, "<NA>" | "NaT" | "nan" | "None") {
        cell.push_str(&text);
    }
    Ok(true)
}
