//! A table as Python sees it: Arrow's memory, handed over without a copy.

use arrow::array::{RecordBatchIterator, RecordBatchReader};
use arrow::datatypes::SchemaRef;
use arrow::error::ArrowError;
use arrow::ffi::FFI_ArrowSchema;
use arrow::ffi_stream::FFI_ArrowArrayStream;
use arrow::record_batch::RecordBatch;
use evenrooms::tables;
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use pyo3::types::{PyCapsule, PyDict};

/// Rows in memory, as Arrow has them.
///
/// Whatever knows the Arrow PyCapsule interface takes it as it is, without a copy: `pyarrow.table(t)`, `polars.DataFrame(t)`,
/// `pandas.DataFrame.from_arrow(t)`, a query of duckdb over `t.to_arrow()`. Instants are UTC, temperatures °C, differences K;
/// a missing value is null, never 0 or NaN.
#[pyclass(frozen, module = "evenrooms")]
pub(crate) struct Table {
    table: &'static tables::Table,
    schema: SchemaRef,
    parts: Vec<RecordBatch>,
}

impl Table {
    /// A table of one part at least.
    pub(crate) fn of(table: &'static tables::Table, parts: Vec<RecordBatch>) -> Self {
        Self { table, schema: table.schema().into(), parts }
    }

    fn rows(&self) -> usize {
        self.parts.iter().map(RecordBatch::num_rows).sum()
    }
}

fn arrow_error(error: ArrowError) -> PyErr {
    PyValueError::new_err(error.to_string())
}

#[pymethods]
impl Table {
    /// Its name, such as `metrics`.
    #[getter]
    fn name(&self) -> &'static str {
        self.table.name
    }

    /// What a row is.
    #[getter]
    fn about(&self) -> &'static str {
        self.table.about
    }

    /// What each column means, by its name, in order.
    #[getter]
    fn columns<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let columns = PyDict::new(py);
        self.table.columns.iter().try_for_each(|column| columns.set_item(column.name, column.about))?;
        Ok(columns)
    }

    /// The unit of each column that has one in all rows, by its name.
    #[getter]
    fn units<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let units = PyDict::new(py);
        let known = self.table.columns.iter().filter_map(|column| Some((column.name, column.unit?)));
        known.into_iter().try_for_each(|(name, unit)| units.set_item(name, unit))?;
        Ok(units)
    }

    fn __len__(&self) -> usize {
        self.rows()
    }

    fn __repr__(&self) -> String {
        format!(
            "<evenrooms.Table {}: {} rows, {} columns>",
            self.table.name,
            self.rows(),
            self.table.columns.len()
        )
    }

    /// The columns and their types, for the Arrow PyCapsule interface.
    fn __arrow_c_schema__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyCapsule>> {
        let schema = FFI_ArrowSchema::try_from(self.schema.as_ref()).map_err(arrow_error)?;
        PyCapsule::new_with_value(py, schema, c"arrow_schema")
    }

    /// The rows, for the Arrow PyCapsule interface; they come in the table's own types whatever is requested.
    #[pyo3(signature = (requested_schema = None))]
    fn __arrow_c_stream__<'py>(
        &self,
        py: Python<'py>,
        requested_schema: Option<Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyCapsule>> {
        let _ = requested_schema;
        let parts: Vec<Result<RecordBatch, ArrowError>> = self.parts.iter().cloned().map(Ok).collect();
        let reader: Box<dyn RecordBatchReader + Send> =
            Box::new(RecordBatchIterator::new(parts, self.schema.clone()));
        PyCapsule::new_with_value(py, FFI_ArrowArrayStream::new(reader), c"arrow_array_stream")
    }

    /// A `pyarrow.Table` of the same memory.
    fn to_arrow<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        slf.py().import("pyarrow")?.call_method1("table", (slf,))
    }

    /// A `pandas.DataFrame`.
    fn to_pandas<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        Self::to_arrow(slf)?.call_method0("to_pandas")
    }

    /// A `polars.DataFrame`.
    fn to_polars<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        slf.py().import("polars")?.call_method1("DataFrame", (slf,))
    }
}
