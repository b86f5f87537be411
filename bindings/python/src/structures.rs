//! Structures and arrows without a bank, and one item at a time.

use crate::audit::{PyFinding, options};
use crate::errors;
use crate::rows::Table;
use keyassay::{Class, Given as _, Judge, Picture, Verdict};
use pyo3::prelude::*;
use std::path::PathBuf;

/// Product, ledger, charges, drawing and findings of a push.
type Pushed = (String, Vec<String>, Vec<(String, i16, i16)>, String, Vec<PyFinding>);

/// Pushes arrows on a start.
#[pyfunction]
pub(crate) fn push(py: Python<'_>, start: &str, arrows: &str) -> PyResult<Pushed> {
    let push = py.detach(|| keyassay::push(start, arrows)).map_err(|error| errors::of(py, &error))?;
    let charges = push.charges.into_iter().map(|own| (own.atom, own.before, own.after)).collect();
    let findings = push.findings.iter().map(|own| PyFinding::at("", 0, "", own)).collect();
    Ok((push.product, push.ledger, charges, push.drawing, findings))
}

/// The fewest arrows from one structure to another.
#[pyfunction]
pub(crate) fn infer(py: Python<'_>, start: &str, answer: &str) -> PyResult<Vec<String>> {
    py.detach(|| keyassay::infer(start, answer)).map_err(|error| errors::of(py, &error))
}

/// Rank, structure and arrows of each contributor, and their picture.
type Contributors = (Vec<(u32, String, String)>, String);

/// The resonance contributors of a structure.
#[pyfunction]
pub(crate) fn contributors(py: Python<'_>, structure: &str) -> PyResult<Contributors> {
    let (list, picture) = py.detach(|| keyassay::contributors(structure)).map_err(|error| errors::of(py, &error))?;
    Ok((list.into_iter().map(|own| (own.rank, own.structure, own.arrows)).collect(), picture))
}

/// A structure with its arrows as SVG.
#[pyfunction]
#[pyo3(signature = (start, arrows=None, product=false, all_pairs=false, numbers=false))]
pub(crate) fn draw(
    py: Python<'_>,
    start: &str,
    arrows: Option<&str>,
    product: bool,
    all_pairs: bool,
    numbers: bool,
) -> PyResult<String> {
    let look = Picture::default().with_product(product).with_all_pairs(all_pairs).with_numbers(numbers);
    py.detach(|| keyassay::draw(start, arrows, look)).map_err(|error| errors::of(py, &error))
}

/// Judges items one by one.
#[pyclass(frozen, module = "keyassay._keyassay", name = "Judge")]
pub(crate) struct PyJudge(Judge);

/// Id, row, class, findings and digest of one item; the digest is none where nothing is asked.
type Judged = (String, u32, &'static str, Vec<PyFinding>, Option<(u64, u64)>);

#[pymethods]
impl PyJudge {
    /// Judges under these options.
    #[new]
    #[pyo3(signature = (*, profile=None, octet="usual"))]
    fn new(py: Python<'_>, profile: Option<PathBuf>, octet: &str) -> PyResult<Self> {
        Judge::new(&options(profile, octet, None)?).map(Self).map_err(|error| errors::of(py, &error))
    }

    /// Judges rows, as a bank of them is given.
    #[pyo3(signature = (rows, columns=None))]
    fn rows(&self, py: Python<'_>, rows: Py<PyAny>, columns: Option<Vec<String>>) -> PyResult<Vec<Judged>> {
        let table = Table::new(rows, columns, false);
        let own = table.clone();
        let judged = py.detach(|| {
            let giver = own.begin().map_err(|error| error.to_string())?;
            self.0.rows(giver).map_err(|error| error.to_string())
        });
        if let Some(error) = table.fault.lock().ok().and_then(|mut fault| fault.take()) {
            return Err(error);
        }
        let verdicts = judged.map_err(|told| errors::job(py, told))?;
        Ok(verdicts.iter().map(of_verdict).collect())
    }
}

fn of_verdict(verdict: &Verdict) -> Judged {
    let class = match verdict.class {
        Class::Sound => "sound",
        Class::Faulty => "faulty",
        Class::Undecided => "undecided",
        Class::Unreadable => "unreadable",
    };
    let findings = verdict.findings.iter().map(|own| PyFinding::at("", verdict.row, &verdict.id, own)).collect();
    (verdict.id.clone(), verdict.row, class, findings, verdict.question.map(|question| (question, verdict.answer)))
}
