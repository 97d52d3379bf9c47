//! What Python asks for: an audit, or metrics of an aligned table.

use std::collections::BTreeMap;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;

use arrow::error::ArrowError;
use arrow::ffi_stream::ArrowArrayStreamReader;
use arrow::ipc::writer::FileWriter;
use arrow::record_batch::RecordBatchReader;
use arrow_pyarrow::FromPyArrow;
use bytes::Bytes;
use evenrooms::error::{Error, Result};
use evenrooms::run::{Asked, Subject};
use evenrooms::tables::METRICS;
use pyo3::exceptions::{PyTypeError, PyValueError};
use pyo3::prelude::*;
use pyo3::pybacked::{PyBackedBytes, PyBackedStr};
use pyo3::types::PyMapping;

use super::given::Audit;
use super::raised;
use super::table::Table;

/// Audits a site: from the exports of its loggers to tables in memory, the rows of which are those of `evenrooms audit`.
///
/// Args:
///     site: path of a site file; where `roster` is given, the text of one.
///     exports: `None`: the folder that the site file names. Else the path of a folder, or a mapping of the roster's file names to
///         what each export holds: bytes, text, or a table (of polars, pandas, pyarrow) with a column of times and one of
///         temperatures, the header of which tells its unit.
///     roster: text of a roster, or bytes (CSV, or a workbook); `None`: the file that the site file names.
///     tables: names of the tables that are made; `None`: all of them. `readings` and `aligned` have a row for each reading and
///         grid value: of a large building ask for what you need.
///     threads: how many homes are audited side by side; `None`: one for each core.
///
/// Other Python threads run meanwhile. An interrupt from the keyboard is seen between homes.
///
/// Returns:
///     An `Audit`: `audit["metrics"]` is a table, `audit.notes` what a reader must know, `audit.summary()` a line for each home.
///
/// Raises:
///     evenrooms.Error: where nothing can be audited, in the words of the command. What of an export could not be read is no
///         error: notes and the table `set_aside` tell it.
#[pyfunction]
#[pyo3(signature = (site, exports = None, *, roster = None, tables = None, threads = None))]
pub(crate) fn audit(
    py: Python<'_>,
    site: &Bound<'_, PyAny>,
    exports: Option<&Bound<'_, PyAny>>,
    roster: Option<&Bound<'_, PyAny>>,
    tables: Option<Vec<String>>,
    threads: Option<u16>,
) -> PyResult<Audit> {
    let site = SiteAt::of(site, roster)?;
    let exports = exports.map(ExportsAt::of).transpose()?;
    let mut interrupted = None;
    let audited = py.detach(|| {
        let mut go_on = || match Python::attach(|py| py.check_signals()) {
            Ok(()) => true,
            Err(signal) => {
                interrupted = Some(signal);
                false
            }
        };
        let asked = Asked { tables: tables.as_deref(), threads, go_on: &mut go_on };
        guarded(|| ExportsAt::added(exports, site.open()?).audit(asked))
    });
    match (audited, interrupted) {
        (_, Some(signal)) => Err(signal),
        (audited, None) => Audit::of(py, audited.map_err(|error| raised(&error))?),
    }
}

/// Metric rows of homes from their rows of the aligned table: of one home or of many, one after another.
///
/// For machinery that spreads homes over many machines: the rows of a home are enough, and what comes back are its rows of the
/// metrics table. What the building says of its homes (offsets from the other homes, means over homes) is not among them.
///
/// Args:
///     aligned: rows of the aligned table of an audit of this site, sorted by home, room and time_utc: any table with the Arrow
///         PyCapsule interface.
///     site: path of the site file of that audit; where `roster` is given, its text.
///     roster: as of `audit`.
///     weather: the weather table of that audit; a site with weather is not judged without it.
///
/// Returns:
///     A `Table` with the columns of `metrics`.
///
/// Raises:
///     evenrooms.Error: where columns are missing, or rows do not fit the site.
#[pyfunction]
#[pyo3(signature = (aligned, site, *, roster = None, weather = None))]
pub(crate) fn metrics(
    py: Python<'_>,
    aligned: &Bound<'_, PyAny>,
    site: &Bound<'_, PyAny>,
    roster: Option<&Bound<'_, PyAny>>,
    weather: Option<&Bound<'_, PyAny>>,
) -> PyResult<Table> {
    let site = SiteAt::of(site, roster)?;
    let aligned = stream(aligned, "aligned")?;
    let weather = weather.map(|weather| stream(weather, "weather")).transpose()?;
    let rows = py.detach(|| guarded(|| site.open()?.metrics(aligned, weather)));
    Ok(Table::of(&METRICS, rows.map_err(|error| raised(&error))?))
}

/// A panic is a bug of ours, and an error for Python.
fn guarded<T>(work: impl FnOnce() -> Result<T>) -> Result<T> {
    catch_unwind(AssertUnwindSafe(work)).unwrap_or(Err(Error::Panicked))
}

/// Where site file and roster are had.
enum SiteAt {
    Path(PathBuf),
    Texts(String, Vec<u8>),
}

impl SiteAt {
    fn of(site: &Bound<'_, PyAny>, roster: Option<&Bound<'_, PyAny>>) -> PyResult<Self> {
        let Some(roster) = roster else { return Ok(Self::Path(site.extract()?)) };
        let roster = match roster.extract::<PyBackedStr>() {
            Ok(text) => text.as_bytes().to_vec(),
            Err(_) => roster.extract::<PyBackedBytes>()?.to_vec(),
        };
        Ok(Self::Texts(site.extract()?, roster))
    }

    fn open(&self) -> Result<Subject> {
        match self {
            Self::Path(path) => Subject::open(path),
            Self::Texts(site, roster) => Subject::of_texts(site, roster),
        }
    }
}

/// Where exports are had.
enum ExportsAt {
    Folder(PathBuf),
    Memory(BTreeMap<String, Bytes>),
}

impl ExportsAt {
    fn of(exports: &Bound<'_, PyAny>) -> PyResult<Self> {
        let Ok(mapping) = exports.cast::<PyMapping>() else { return Ok(Self::Folder(exports.extract()?)) };
        let mut held = BTreeMap::new();
        for item in mapping.items()?.iter() {
            let (name, export): (String, Bound<'_, PyAny>) = item.extract()?;
            held.insert(name, bytes_of(&export)?);
        }
        Ok(Self::Memory(held))
    }

    fn added(exports: Option<Self>, subject: Subject) -> Subject {
        match exports {
            None => subject,
            Some(Self::Folder(folder)) => subject.with_folder(folder),
            Some(Self::Memory(held)) => subject.with_exports(held),
        }
    }
}

/// What an export holds: bytes and texts as they are, tables as the file that Arrow has for them.
fn bytes_of(export: &Bound<'_, PyAny>) -> PyResult<Bytes> {
    if let Ok(bytes) = export.extract::<PyBackedBytes>() {
        return Ok(Bytes::from_owner(bytes));
    }
    if let Ok(text) = export.extract::<PyBackedStr>() {
        return Ok(Bytes::copy_from_slice(text.as_bytes()));
    }
    let rows = stream(export, "an export")?;
    file_of(rows).map_err(|error| PyValueError::new_err(error.to_string()))
}

fn file_of(rows: ArrowArrayStreamReader) -> std::result::Result<Bytes, ArrowError> {
    let mut writer = FileWriter::try_new(Cursor::new(Vec::new()), &rows.schema())?;
    for batch in rows {
        writer.write(&batch?)?;
    }
    Ok(writer.into_inner()?.into_inner().into())
}

/// The rows of a table of any library.
fn stream(table: &Bound<'_, PyAny>, what: &str) -> PyResult<ArrowArrayStreamReader> {
    if !table.hasattr("__arrow_c_stream__")? {
        let found = table.get_type().qualname()?;
        return Err(PyTypeError::new_err(format!(
            "found {found} as {what}, expected a table with the Arrow PyCapsule interface (of pyarrow, polars, pandas)"
        )));
    }
    ArrowArrayStreamReader::from_pyarrow_bound(table)
}
