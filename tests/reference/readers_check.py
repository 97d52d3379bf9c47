"""Read result tables with pyarrow, pandas, polars and duckdb, and hold what they see against each other and the CSV files.

    python readers_check.py OUT_DIR...
    python readers_check.py --self-test

Of every Parquet file: all four read the same values in every column (numbers to the bit), texts come as plain strings, no zero
has a sign; the file tells description and unit of each column as datapackage.json does, the order that it declares holds,
and pages have an index. A CSV or JSON file of the same table has the same values, instants to the second. A question for one home reads the row
groups that hold this home and no other, counted as pyarrow's dataset plans it. Of several folders, with sites of different
names, no two rows of metrics have one key. Exit code 1 when something differs or nothing was compared.
"""

import argparse
import csv
import json
import re
import sys
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pyarrow.dataset as ds
import pyarrow.parquet as pq

from ledger import Ledger

GUARDED = re.compile("'+[=+\\-\u2212@\uff1d\uff0b\uff0d\uff20\t\r\n]")  # an apostrophe that a CSV text has for spreadsheets
BY_HOME = ("readings", "aligned")  # tables of which a row group holds one home
KEY = ["site", "home", "room", "period", "slice", "metric"]


def columns_of(table):
    """Each column as its values, and which of them are missing; times in ms, numbers as their bits."""
    out = {}
    for name, column in zip(table.column_names, table.columns):
        column = column.combine_chunks() if isinstance(column, pa.ChunkedArray) else column
        missing = np.asarray(column.is_null(nan_is_null=True))
        if pa.types.is_timestamp(column.type):
            values = column.cast(pa.timestamp("ms", "UTC")).cast(pa.int64()).fill_null(0).to_numpy()
        elif pa.types.is_floating(column.type):
            wide = "float64" if pa.types.is_float64(column.type) else "float32"
            values = np.where(missing, 0, column.to_numpy(zero_copy_only=False)).astype(wide)
        elif pa.types.is_boolean(column.type) or pa.types.is_integer(column.type):
            values = np.array(column.cast(pa.uint64()).fill_null(0))
        else:
            values = np.array(column.cast(pa.string()).fill_null("").to_pylist(), dtype=object)
        out[name] = values, missing
    return out


def same(ledger, family, got, want, place):
    ledger.compare(family, len(got), len(want), 0, lambda _: f"{place}: number of columns")
    for name, (values, missing) in want.items():
        theirs, gaps = got.get(name, (np.array([]), np.array([])))
        equal = len(theirs) == len(values) and (gaps == missing).all() and (theirs[~gaps] == values[~missing]).all()
        ledger.compare(family, 0 if equal else 1, 0, 0, lambda _: f"{place}: {name} differs")


def through_pandas(path):
    """What pandas makes of a file; a column of whole numbers with gaps comes as real numbers."""
    frame, kinds = pd.read_parquet(path), pq.read_schema(path)
    columns = {}
    for field in kinds:
        column = frame[field.name]
        if pa.types.is_integer(field.type):
            column = column.astype("UInt64")
        columns[field.name] = pa.array(column, type=field.type, from_pandas=True)
    return columns_of(pa.table(columns))


def ask(question, values=None):
    """What duckdb answers, on a connection of its own."""
    with duckdb.connect() as connection:
        return connection.sql(question, params=values).to_arrow_table()


def check_readers(ledger, path, place):
    ours = pq.read_table(path)
    want = columns_of(ours)
    for name, (values, missing) in want.items():
        kind = ours.schema.field(name).type
        if pa.types.is_floating(kind):
            signed = np.signbit(values) & (values == 0) & ~missing
            ledger.compare("zeros without a sign", int(signed.sum()), 0, 0, lambda _: f"{place} {name}")
        plain = not pa.types.is_dictionary(kind)
        ledger.compare("plain strings", int(plain), 1, 0, lambda _: f"{place} {name}: {kind}")
    same(ledger, "pandas", through_pandas(path), want, place)
    same(ledger, "polars", columns_of(pl.read_parquet(path).to_arrow()), want, place)
    same(ledger, "duckdb", columns_of(ask(f"select * from read_parquet('{path}')")), want, place)
    return want


def check_told(ledger, path, declared, place):
    """What the file says of itself, by the schema that the Data Package has for it."""
    schema, metadata = pq.read_schema(path), pq.read_metadata(path)
    for field, described in zip(schema, declared["schema"]["fields"]):
        told = {k.decode(): v.decode() for k, v in (field.metadata or {}).items() if not k.startswith(b"PARQUET:")}
        wanted = {k: described[k] for k in ("description", "unit") if k in described}
        ledger.compare("told of columns", int(told == wanted), 1, 0, lambda _: f"{place} {field.name}: {told}")
    of_file = (metadata.metadata or {}).get(b"table_schema", b"null")
    ledger.compare("told of files", int(json.loads(of_file) == declared["schema"]), 1, 0, lambda _: place)
    for number in range(metadata.num_row_groups):
        group = metadata.row_group(number)
        indexed = all(group.column(c).has_column_index and group.column(c).has_offset_index for c in range(group.num_columns))
        ledger.compare("page index", int(indexed), 1, 0, lambda _: f"{place} row group {number}")
        by = [schema.names[c.column_index] for c in group.sorting_columns]
        if by:
            rows = pq.ParquetFile(path).read_row_group(number, columns=by)
            keys = list(zip(*(rows.column(name).to_pylist() for name in by)))
            sorted_ = all(a <= b for a, b in zip(keys, keys[1:]))
            ledger.compare("declared order", int(sorted_), 1, 0, lambda _: f"{place} row group {number}: {by}")
    return metadata


def cells_of(column, kind):
    """Cells of a CSV column as the Parquet column would have them."""
    missing = np.array([cell == "" for cell in column], dtype=bool)
    if pa.types.is_string(kind) or pa.types.is_dictionary(kind):
        return np.array([c[1:] if GUARDED.match(c) else c for c in column], dtype=object), missing
    if pa.types.is_timestamp(kind):
        times = pd.to_datetime(pd.Series(column).replace("", None), utc=True).astype("datetime64[ms, UTC]")
        return np.where(missing, 0, times.astype("int64")), missing
    if pa.types.is_boolean(kind):
        return np.array([int(cell == "true") for cell in column]), missing
    number = float if pa.types.is_floating(kind) else int
    return np.array([number(cell or 0) for cell in column]), missing


def as_text(kinds, want):
    """The same values as texts have them: instants to the second."""
    cut = {f.name for f in kinds if pa.types.is_timestamp(f.type)}
    return {n: (v // 1000 * 1000 if n in cut else v, missing) for n, (v, missing) in want.items()}


def check_csv(ledger, path, kinds, want, place):
    with path.open(encoding="utf-8", newline="") as file:
        header, *rows = list(csv.reader(file))
    got = {name: cells_of([row[i] for row in rows], kinds.field(name).type) for i, name in enumerate(header)}
    same(ledger, "CSV", got, as_text(kinds, want), place)


def check_json(ledger, path, kinds, want, place):
    rows = json.loads(path.read_text(encoding="utf-8"))
    texts = {n: ["" if r[n] is None else str(r[n]) for r in rows] for n in kinds.names}
    got = {name: cells_of([("'" + t if GUARDED.match(t) else t) for t in texts[name]], kinds.field(name).type) for name in kinds.names}
    same(ledger, "JSON", got, as_text(kinds, want), place)


def check_pruning(ledger, path, place, metadata):
    """Row groups that a question for one home reads, as pyarrow plans it, and what other readers answer."""
    homes = pq.read_table(path, columns=["home"]).column("home").to_pylist()
    ends = np.cumsum([0] + [metadata.row_group(g).num_rows for g in range(metadata.num_row_groups)])
    there = [set(homes[a:b]) for a, b in zip(ends, ends[1:])]
    fragment = next(ds.dataset(path).get_fragments())
    most = 0
    for home in sorted(set(homes)):
        read = [g.id for g in fragment.subset(ds.field("home") == home).row_groups]
        holding = [g for g, names in enumerate(there) if home in names]
        most = max(most, len(read))
        ledger.compare("row groups read for a home", len(read), 1, 0, lambda _: f"{place} {home}: {read}, it is in {holding}")
        rows = homes.count(home)
        asked = ask(f"select count(*) as n from read_parquet('{path}') where home = ?", [home])["n"][0].as_py()
        lazy = pl.scan_parquet(path).filter(pl.col("home") == home).select(pl.len()).collect().item()
        ledger.compare("rows of a home", [asked, lazy], [rows, rows], 0, lambda _: f"{place} {home}")
    print(f"{place}: a question for one home reads {most} of {metadata.num_row_groups} row groups at most")


def check_folder(ledger, folder):
    package = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    declared = {r["path"]: r for r in package["resources"]}
    for path in sorted(folder.glob("*.parquet")):
        place = f"{folder.name} {path.name}"
        want = check_readers(ledger, path, place)
        metadata = check_told(ledger, path, declared[path.name], place)
        kinds = pq.read_schema(path)
        if path.with_suffix(".csv").exists():
            check_csv(ledger, path.with_suffix(".csv"), kinds, want, place)
        if path.with_suffix(".json").exists():
            check_json(ledger, path.with_suffix(".json"), kinds, want, place)
        if path.stem in BY_HOME:
            check_pruning(ledger, path, place, metadata)


def check_together(ledger, folders):
    """Metrics of several sites in one table: no key comes twice."""
    paths = [str(f / "metrics.parquet") for f in folders if (f / "metrics.parquet").exists()]
    if len(paths) > 1:
        rows = pl.read_parquet(paths).select(KEY)
        ledger.compare("keys of several sites", rows.n_unique(), rows.height, 0, lambda _: ", ".join(paths))


# --- the check of the check ---


def write_folder(folder, change=None):
    """Three small tables as pyarrow writes them; `change` may damage them before."""
    note = [{b"description": name.encode()} for name in ("site", "home", "time_utc", "value", "flag")]
    kinds = [pa.string(), pa.string(), pa.timestamp("ms", "UTC"), pa.float64(), pa.uint8()]
    fields = [pa.field(m[b"description"].decode(), k, metadata=m) for m, k in zip(note, kinds)]
    schema = {"fields": [{"name": f.name, "description": f.name} for f in fields]}
    columns = {
        "site": ["A"] * 4, "home": ["=1", "=1", "2", "2"], "time_utc": [0, 1000, 0, 1000],
        "value": [0.1, 0.0, None, -3.0], "flag": [1, None, 3, 4],
    }  # fmt: skip
    guarded = {**columns, "home": ["'=1", "'=1", "2", "2"]}
    made = {"columns": columns, "csv": guarded, "kinds": fields, "group": 2, "schema": schema, "index": True}
    if change:
        change(made)
    file_schema = pa.schema(made["kinds"], metadata={"table_schema": json.dumps(schema)})
    table = pa.table({n: pa.array(v).cast(f.type) for (n, v), f in zip(made["columns"].items(), made["kinds"])}, schema=file_schema)
    by = [pq.SortingColumn(1), pq.SortingColumn(2)]
    for name in ("readings", "events"):
        pq.write_table(table, folder / f"{name}.parquet", row_group_size=made["group"], sorting_columns=by, write_page_index=made["index"])
    with (folder / "events.csv").open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(made["csv"])
        for site, home, t, value, flag in zip(*made["csv"].values()):
            writer.writerow([site, home, f"1970-01-01T00:00:0{t // 1000}Z", "" if value is None else value, "" if flag is None else flag])
    resources = [{"path": f"{n}.parquet", "schema": made["schema"]} for n in ("readings", "events")]
    (folder / "datapackage.json").write_text(json.dumps({"resources": resources}))


def self_test():
    import contextlib
    import io
    import tempfile

    def put(part, column, at, value):
        return lambda made: made[part].__setitem__(column, [value if i == at else x for i, x in enumerate(made[part][column])])

    by_dictionary = pa.field("home", pa.dictionary(pa.int32(), pa.string()), metadata={"description": "home"})
    cases = [
        ("tables as they should be", None, ""), ("another number in CSV", put("csv", "value", 0, 0.2), "CSV"),
        ("a gap in CSV", put("csv", "flag", 0, None), "CSV"), ("a text without its guard", put("csv", "home", 0, "=2"), "CSV"),
        ("a zero with a sign", put("columns", "value", 1, -0.0), "zeros"), ("texts by dictionary", lambda m: m["kinds"].__setitem__(1, by_dictionary), "plain"),
        ("two homes in a row group", lambda m: m.update(group=3), "row groups"), ("another order", put("columns", "time_utc", 0, 2000), "declared order"),
        ("another description", lambda m: m.update(schema={"fields": [{"name": "site", "description": "x"}]}), "told"),
        ("no index of pages", lambda m: m.update(index=False), "page index"),
    ]  # fmt: skip
    for name, change, family in cases:
        with tempfile.TemporaryDirectory() as folder, contextlib.redirect_stdout(io.StringIO()):
            ledger = Ledger()
            write_folder(Path(folder), change)
            check_folder(ledger, Path(folder))
        assert bool(ledger.count) == bool(family), (name, ledger.first)
        assert any(text.startswith(family) for text in ledger.first) or not family, (name, ledger.first)
        print(f"passed: {name}")
    return 0


def main(argv=None):
    parse = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parse.add_argument("out", nargs="*", type=Path)
    parse.add_argument("--self-test", action="store_true")
    args = parse.parse_args(argv)
    if args.self_test:
        return self_test()
    if not args.out:
        parse.error("OUT_DIR is missing")
    ledger = Ledger()
    for folder in args.out:
        check_folder(ledger, folder)
    check_together(ledger, args.out)
    return ledger.finish()


if __name__ == "__main__":
    sys.exit(main())
