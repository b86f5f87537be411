//! The audit of a bank.

use crate::errors;
use crate::rows::Table;
use keyassay::report::COLUMNS;
use keyassay::{Audit, Audited, Bank, Finding, OctetRule, Options};
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, mpsc};
use std::time::Duration;

/// How often Python is asked whether somebody wants an end.
const WATCH: Duration = Duration::from_millis(50);
/// Items that a notebook shows with their cards.
const CARDS: usize = 8;

/// What an item is read from.
#[pyclass(frozen, skip_from_py_object, module = "keyassay._keyassay", name = "Bank")]
#[derive(Clone)]
pub(crate) struct PyBank {
    bank: Bank,
    options: Options,
    table: Option<Table>,
}

/// The options that all calls share.
pub(crate) fn options(profile: Option<PathBuf>, octet: &str, jobs: Option<usize>) -> PyResult<Options> {
    let mut options = Options::default();
    options.profile = profile;
    options.jobs = jobs;
    options.octet = match octet {
        "usual" => None,
        "strict" => Some(OctetRule::Strict),
        other => return Err(PyValueError::new_err(format!("octet is 'usual' or 'strict', not '{other}'"))),
    };
    Ok(options)
}

#[pymethods]
impl PyBank {
    /// A bank of files, of mappings or of columns; of none of them, the demonstration bank.
    #[new]
    #[pyo3(signature = (*, paths=None, rows=None, columns=None, profile=None, octet="usual", jobs=None, stays=true))]
    fn new(
        paths: Option<Vec<PathBuf>>,
        rows: Option<Py<PyAny>>,
        columns: Option<Vec<String>>,
        profile: Option<PathBuf>,
        octet: &str,
        jobs: Option<usize>,
        stays: bool,
    ) -> PyResult<Self> {
        let options = options(profile, octet, jobs)?;
        let table = rows.map(|rows| Table::new(rows, columns, stays));
        let bank = match (&table, paths) {
            (Some(table), _) => Bank::given(Arc::new(table.clone())),
            (None, Some(paths)) => Bank::paths(paths),
            (None, None) => Bank::demonstration(),
        };
        Ok(Self { bank, options, table })
    }

    /// Audits the bank; `progress` is called with the number of items from time to time.
    #[pyo3(signature = (progress=None, sound=false))]
    fn audit(&self, py: Python<'_>, progress: Option<Py<PyAny>>, sound: bool) -> PyResult<PyAudit> {
        let mut options = self.options.clone();
        options.cards = CARDS;
        options.sound = sound;
        let bank = self.bank.clone();
        let audit = self.watched(py, options, progress, move |options, count| {
            bank.audit(options, &mut |items| count.store(items, Ordering::Relaxed))
        })?;
        Ok(PyAudit { audit, bank: self.clone() })
    }

    /// Audits the bank and writes reports into a folder.
    fn write(&self, py: Python<'_>, folder: PathBuf, formats: Vec<String>) -> PyResult<()> {
        let bank = self.bank.clone();
        self.watched(py, self.options.clone(), None, move |options, _| {
            let formats: Vec<&str> = formats.iter().map(String::as_str).collect();
            bank.write(options, &folder, &formats)
        })?;
        Ok(())
    }
}

impl PyBank {
    /// Does work on a thread of its own, while this one listens for an interrupt.
    fn watched<T: Send + 'static>(
        &self,
        py: Python<'_>,
        mut options: Options,
        progress: Option<Py<PyAny>>,
        work: impl FnOnce(&Options, &AtomicU64) -> Result<T, keyassay::Error> + Send + 'static,
    ) -> PyResult<T> {
        let (stop, count) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicU64::new(0)));
        options.stop = Some(Arc::clone(&stop));
        let (sender, done) = mpsc::channel();
        let own_count = Arc::clone(&count);
        let thread = std::thread::Builder::new().name("keyassay".to_owned()).spawn(move || {
            // Nobody waits any more: nobody needs it.
            let _ = sender.send(work(&options, &own_count));
        })?;
        let done = Mutex::new(done);
        let mut ended = None;
        let mut told = 0;
        let result = loop {
            let waited = py.detach(|| done.lock().map_err(drop).map(|done| done.recv_timeout(WATCH)));
            match waited {
                Ok(Err(mpsc::RecvTimeoutError::Timeout)) => {}
                Ok(Ok(result)) => break Some(result),
                Ok(Err(mpsc::RecvTimeoutError::Disconnected)) | Err(_) => break None,
            }
            if ended.is_none() {
                let items = count.load(Ordering::Relaxed);
                let call = progress.as_ref().filter(|_| items != told);
                told = items;
                let said = call.map_or(Ok(()), |call| call.call1(py, (items,)).map(drop));
                if let Err(error) = py.check_signals().and(said) {
                    stop.store(true, Ordering::Relaxed);
                    ended = Some(error);
                }
            }
        };
        let _ = py.detach(|| thread.join());
        if let Some(error) = ended {
            return Err(error);
        }
        let fault = self.table.as_ref().and_then(|table| table.fault.lock().ok()?.take());
        if let Some(error) = fault {
            return Err(error);
        }
        let result =
            result.ok_or_else(|| pyo3::exceptions::PyRuntimeError::new_err("the audit ended without a result"))?;
        result.map_err(|error| errors::of(py, &error))
    }
}

/// What an audit came to.
#[pyclass(frozen, module = "keyassay._keyassay", name = "Audit")]
pub(crate) struct PyAudit {
    audit: Audit,
    bank: PyBank,
}

#[pymethods]
impl PyAudit {
    /// The counts as audit.json has them, as JSON.
    #[getter]
    fn totals(&self) -> String {
        keyassay::report::json::totals(self.audit.totals()).to_string()
    }

    /// All findings in the order of the bank.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        self.audit.findings().map(|(item, finding)| PyFinding::of(item, finding)).collect()
    }

    /// What there is to say of files: not read, passed over, without a question.
    #[getter]
    fn notes(&self) -> Vec<String> {
        let summary = &self.audit.summary;
        let unread = summary.unread.iter().map(|(name, why)| format!("not read: {name}: {why}"));
        let without = summary.without_items.iter().map(|(name, what)| format!("no items: {name}: {what}"));
        let unasked = summary.unasked.iter().map(|(name, rows)| {
            let name = if name.is_empty() { "the rows" } else { name };
            format!("without a question: {name}: {rows}")
        });
        unread.chain(without).chain(unasked).chain(summary.notes.clone()).chain(self.audit.told.clone()).collect()
    }

    /// The findings by column, as audit.csv has them.
    fn columns<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let lists: Vec<Bound<'py, PyList>> = COLUMNS.iter().map(|_| PyList::empty(py)).collect();
        for (item, finding) in self.audit.findings() {
            let own = PyFinding::of(item, finding);
            lists[0].append(&own.file)?;
            lists[1].append(own.line)?;
            lists[2].append(&own.item)?;
            lists[3].append(own.step)?;
            lists[4].append(&own.severity)?;
            lists[5].append(&own.finding)?;
            lists[6].append(&own.atoms)?;
            lists[7].append(&own.stated)?;
            lists[8].append(&own.computed)?;
            lists[9].append(&own.message)?;
            lists[10].append(&own.slip)?;
            lists[11].append(&own.correction)?;
        }
        let dict = PyDict::new(py);
        for (name, list) in COLUMNS.iter().zip(lists) {
            dict.set_item(name, list)?;
        }
        Ok(dict)
    }

    /// File, line and id of the items that were kept.
    fn items(&self) -> Vec<(String, u32, String)> {
        self.audit.items.iter().map(|own| (own.file.to_string(), own.line, own.id.clone())).collect()
    }

    /// The cards of the first items with findings, as HTML.
    fn cards(&self) -> Vec<String> {
        self.audit.items.iter().map(|item| item.card.clone()).filter(|card| !card.is_empty()).collect()
    }

    /// How many items have findings.
    fn with_findings(&self) -> usize {
        self.audit.items.iter().filter(|item| !item.findings.is_empty()).count()
    }

    /// Audits the same bank again and writes reports into a folder.
    fn write(&self, py: Python<'_>, folder: PathBuf, formats: Vec<String>) -> PyResult<()> {
        self.bank.write(py, folder, formats)
    }
}

/// One finding of one item.
#[pyclass(frozen, eq, hash, get_all, skip_from_py_object, module = "keyassay._keyassay", name = "Finding")]
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(crate) struct PyFinding {
    file: String,
    line: u32,
    item: String,
    step: Option<u32>,
    severity: String,
    finding: String,
    atoms: String,
    stated: String,
    computed: String,
    message: String,
    slip: String,
    correction: String,
}

impl PyFinding {
    pub(crate) fn of(item: &Audited, finding: &Finding) -> Self {
        Self::at(&item.file, item.line, &item.id, finding)
    }

    pub(crate) fn at(file: &str, line: u32, item: &str, finding: &Finding) -> Self {
        Self {
            file: file.to_owned(),
            line,
            item: item.to_owned(),
            step: (finding.step > 0).then_some(finding.step),
            severity: finding.severity.name().to_owned(),
            finding: finding.name.entry().name.to_owned(),
            atoms: finding.atoms.join(" "),
            stated: finding.stated.clone(),
            computed: finding.computed.clone(),
            message: finding.told().into_owned(),
            slip: finding.slips.names().into_owned(),
            correction: finding.correction.clone(),
        }
    }
}

#[pymethods]
impl PyFinding {
    fn __repr__(&self) -> String {
        format!("<{} {} of {}: {}>", self.severity, self.finding, self.item, self.message)
    }
}
