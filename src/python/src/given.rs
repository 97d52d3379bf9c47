//! What an audit gives Python: tables, notes, and a line for each home.

use evenrooms::console;
use evenrooms::error;
use evenrooms::run::Audited;
use pyo3::exceptions::PyKeyError;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyIterator};

use super::table::Table;

/// Something about the data that a reader of the results must know.
#[pyclass(frozen, module = "evenrooms")]
pub(crate) struct Note(error::Note);

#[pymethods]
impl Note {
    /// The file, or the home and room, that it is about.
    #[getter]
    fn place(&self) -> &str {
        &self.0.place
    }

    /// Line of the file, from 1; `None` where there is none.
    #[getter]
    fn line(&self) -> Option<u32> {
        self.0.line
    }

    /// What was found and what was done about it.
    #[getter]
    fn what(&self) -> String {
        self.0.what.told()
    }

    /// The next step, for a person who wants it otherwise.
    #[getter]
    fn hint(&self) -> &str {
        &self.0.hint
    }

    /// Whether some input could not be read because of it.
    #[getter]
    fn unreadable(&self) -> bool {
        self.0.unreadable
    }

    fn __str__(&self) -> String {
        self.0.to_string()
    }

    fn __repr__(&self) -> String {
        format!("<evenrooms.Note {}>", self.0)
    }
}

/// What an audit came to: its tables by name (`audit["metrics"]`), what a reader must know, and a line for each home.
#[pyclass(frozen, module = "evenrooms")]
pub(crate) struct Audit {
    audit: evenrooms::audit::Audit,
    tables: Py<PyDict>,
}

impl Audit {
    /// The same, for Python.
    ///
    /// # Errors
    /// Where Python has no memory.
    pub(crate) fn of(py: Python<'_>, audited: Audited) -> PyResult<Self> {
        let Audited { audit, tables } = audited;
        let by_name = PyDict::new(py);
        for (table, parts) in tables {
            by_name.set_item(table.name, Bound::new(py, Table::of(table, parts))?)?;
        }
        Ok(Self { audit, tables: by_name.unbind() })
    }
}

#[pymethods]
impl Audit {
    /// The tables by their names, those of a folder of results: `cases`, `acceptance`, `readings`, `set_aside`, `aligned`,
    /// `weather`, `metrics`, `events`, `findings`, `not_judged`, `loggers`, `rooms`; where `tables` named some, those.
    #[getter]
    fn tables<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        self.tables.bind(py).copy()
    }

    /// What a reader of the results must know about the input: of the site, of the weather, of the homes.
    #[getter]
    fn notes(&self) -> Vec<Note> {
        self.audit.notes().cloned().map(Note).collect()
    }

    /// A line for each home, the worst first, as the command prints it; `details`: with its cases, and what to do.
    #[pyo3(signature = (details = false))]
    fn summary(&self, details: bool) -> String {
        console::homes_told(&self.audit, details)
    }

    fn __getitem__<'py>(&self, py: Python<'py>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        let table = self.tables.bind(py).get_item(name)?;
        table.ok_or_else(|| {
            let there: Vec<String> =
                self.tables.bind(py).keys().iter().map(|name| name.to_string()).collect();
            PyKeyError::new_err(format!("found \"{name}\", expected one of {}", there.join(", ")))
        })
    }

    fn __contains__(&self, py: Python<'_>, name: &Bound<'_, PyAny>) -> PyResult<bool> {
        self.tables.bind(py).contains(name)
    }

    fn __iter__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyIterator>> {
        self.tables.bind(py).try_iter()
    }

    fn __len__(&self, py: Python<'_>) -> usize {
        self.tables.bind(py).len()
    }

    fn __str__(&self) -> String {
        self.summary(false)
    }

    fn __repr__(&self, py: Python<'_>) -> String {
        let (homes, tables) = (self.audit.homes.len(), self.tables.bind(py).len());
        format!("<evenrooms.Audit of {}: {homes} homes, {tables} tables>", self.audit.site.name)
    }
}
