"""Temperature-logger exports of homes → aligned temperatures, comfort metrics with intervals, and what to look at.

    import evenrooms

    audit = evenrooms.audit("sample_data/site.toml")
    print(audit.summary())
    metrics = audit["metrics"].to_pandas()

Tables are handed over as Arrow has them in memory, without a copy: whatever knows the Arrow PyCapsule interface
(pyarrow, polars, pandas, duckdb) takes them as they are.
"""

from ._evenrooms import Audit, Error, Note, Table, __version__, audit, metrics

__all__ = ["Audit", "Error", "Note", "Table", "__version__", "audit", "metrics"]
