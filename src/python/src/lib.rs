//! `evenrooms` for Python: an audit of exports as tables in memory, metrics of an aligned table, and the command.

mod asked;
mod given;
mod table;

use std::ffi::OsString;

use evenrooms::error::Error as Stopped;
use pyo3::create_exception;
use pyo3::exceptions::PyException;
use pyo3::prelude::*;

create_exception!(
    evenrooms,
    Error,
    PyException,
    "What stops an audit, in the words of the command: the place, what was found, what was expected, and the next step."
);

/// What stopped the work, as Python raises it.
fn raised(error: &Stopped) -> PyErr {
    Error::new_err(error.to_string())
}

/// Runs a command line, of which the first word is the program's name, and gives its exit code. Signals end the process from
/// then on.
#[pyfunction]
fn _command_line(py: Python<'_>, words: Vec<OsString>) -> u8 {
    py.detach(|| evenrooms::run::command_line(words))
}

/// The compiled half of the package.
#[pymodule]
fn _evenrooms(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add("__version__", env!("CARGO_PKG_VERSION"))?;
    module.add("Error", module.py().get_type::<Error>())?;
    module.add_class::<table::Table>()?;
    module.add_class::<given::Note>()?;
    module.add_class::<given::Audit>()?;
    module.add_function(wrap_pyfunction!(asked::audit, module)?)?;
    module.add_function(wrap_pyfunction!(asked::metrics, module)?)?;
    module.add_function(wrap_pyfunction!(_command_line, module)?)
}
