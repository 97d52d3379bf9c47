"""Read result folders with frictionless, the reference program for Data Packages, and hold every file against its description.

    python package_check.py OUT_DIR...
    python package_check.py --self-test

The descriptor and every resource are validated as they stand: path, size, SHA-256, each row of each CSV table, and the keys between them. JSON
lists are then read row by row by their schema, and so are the first rows of each Parquet table. Each file of the folder
must be a resource, under a name of its own: tables, pages, the workbook, the provenance. Exit code 1 when something does not fit or nothing was read.
"""

import argparse
import json
import sys
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
from frictionless import FrictionlessException, Package, Resource

OWN = "datapackage.json"
PROVENANCE = "provenance.json"  # holds the SHA-256 of the descriptor, so that its own cannot stand there
ROWS_OF_PARQUET = 1000  # frictionless takes about a millisecond for a row of a data frame
FITS = {
    "string": pa.types.is_string, "number": pa.types.is_floating, "integer": pa.types.is_unsigned_integer,
    "datetime": lambda kind: kind == pa.timestamp("ms", "UTC"), "boolean": pa.types.is_boolean,
}  # fmt: skip


class Account:
    """What was read, and what did not fit."""

    def __init__(self):
        self.rows, self.wrong = {}, []

    def take(self, place, report):
        """One report of frictionless."""
        self.wrong += [f"{place}: {error.message}" for error in report.errors]
        for task in report.tasks:
            self.wrong += [f"{place} {task.name}: {error.message}" for error in task.errors[:5]]
            if "rows" in task.stats:
                self.rows[f"{place} {task.name}"] = task.stats["rows"]

    def expect(self, holds, text):
        if not holds:
            self.wrong.append(text)

    def finish(self):
        for place, rows in self.rows.items():
            print(f"{place}: {rows} rows as described")
        for text in self.wrong[:20]:
            print(f"does not fit: {text}")
        if not self.rows:
            print("nothing was read")
        return 1 if self.wrong or not self.rows else 0


def as_table(folder, resource):
    """The same file as a table: frictionless checks size and SHA-256 only of files that it reads as bytes."""
    plain = {k: v for k, v in resource.items() if k not in ("hash", "bytes", "profile")}
    return Resource.from_descriptor({**plain, "type": "table"}, basepath=str(folder))


def check_folder(account, folder):
    described = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    resources = described["resources"]
    try:
        account.take(folder.name, Package(str(folder / "datapackage.json")).validate())
    except FrictionlessException as refused:
        account.wrong.append(f"{folder.name}: the descriptor is none: {refused}")
        return
    names = [r["name"] for r in resources]
    account.expect(len(set(names)) == len(names), f"{folder.name}: a name stands for two files: {sorted(names)}")
    there = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file() and not p.name.startswith(".")} - {OWN}
    listed = {r["path"] for r in resources}
    account.expect(there == listed, f"{folder.name}: described and there are not the same: {sorted(there ^ listed)}")
    for r in resources:
        place = f"{folder.name} {r['path']}"
        account.expect(r.get("mediatype") or "schema" in r, f"{place}: neither a schema nor a media type")
        if r["path"] == PROVENANCE:
            continue
        account.expect(r.get("hash", "").startswith("sha256:") and r.get("bytes"), f"{place}: no SHA-256 or size")
        if r["format"] == "json" and "schema" in r:
            rows = len(json.loads((folder / r["path"]).read_text(encoding="utf-8")))
            # Of a list without rows frictionless says that it is no table.
            if rows:
                account.take(folder.name, as_table(folder, r).validate())
                read = account.rows.get(f"{folder.name} {r['name']}")
                account.expect(read == rows, f"{place}: {read} of {rows} rows were read")
        if r["format"] == "parquet":
            check_parquet(account, folder, r, place)


def check_parquet(account, folder, resource, place):
    columns, declared = pq.read_schema(folder / resource["path"]), resource["schema"]["fields"]
    account.expect(columns.names == [f["name"] for f in declared], f"{place}: columns are {columns.names}")
    for column, field in zip(columns, declared):
        fits = FITS[field["type"]](column.type) and column.nullable == (not field["constraints"]["required"])
        account.expect(fits, f"{place} {column.name}: {column.type}, declared {field['type']} {field['constraints']}")
    if pq.read_metadata(folder / resource["path"]).num_rows:
        account.take(folder.name, as_table(folder, resource).validate(limit_rows=ROWS_OF_PARQUET))


# --- the check of the check ---


def write_folder(folder, change=None):
    """A small result folder with a table in each format; `change` is laid over its descriptor's resources."""
    import hashlib

    rows = [{"site": "A", "home": "1A", "value": 1.5, "flag": 1}, {"site": "A", "home": None, "value": 0, "flag": None}]
    (folder / "t.csv").write_text("site,home,value,flag\nA,1A,1.5,1\nA,,0,\n")
    (folder / "t.json").write_text(json.dumps(rows))
    text, optional = pa.field("site", pa.string(), nullable=False), pa.field("home", pa.string())
    kinds = pa.schema([text, optional, pa.field("value", pa.float64(), nullable=False), pa.field("flag", pa.uint8())])
    pq.write_table(pa.Table.from_pylist(rows, schema=kinds), folder / "t.parquet")
    kinds = (("site", "string", True), ("home", "string", False), ("value", "number", True), ("flag", "integer", False))
    resources = []
    for ending, kind in (("csv", "table"), ("json", "json"), ("parquet", "file")):
        bytes_ = (folder / f"t.{ending}").read_bytes()
        fields = [{"name": n, "type": t, "constraints": {"required": r}} for n, t, r in kinds]
        if ending == "parquet":
            fields[3]["missingValues"] = ["", "nan"]
        resources.append({
            "name": f"t-{ending}", "type": kind, "path": f"t.{ending}", "format": ending, "bytes": len(bytes_),
            "hash": "sha256:" + hashlib.sha256(bytes_).hexdigest(), "schema": {"fields": fields, "missingValues": [""]},
        })  # fmt: skip
    (folder / "t.html").write_text("<p>1.5</p>")
    page = (folder / "t.html").read_bytes()
    resources.append({
        "name": "t-html", "type": "file", "path": "t.html", "format": "html", "mediatype": "text/html", "bytes": len(page),
        "hash": "sha256:" + hashlib.sha256(page).hexdigest(),
    })  # fmt: skip
    if change:
        change(resources, folder)
    (folder / "datapackage.json").write_text(json.dumps({"name": "a", "resources": resources}))


def self_test():
    import tempfile

    def one_name(resources, _):
        resources[1]["name"] = resources[0]["name"]

    def changed(ending):
        def other(_, folder):
            path = folder / f"t.{ending}"
            path.write_text(path.read_text().replace("1.5", "1.7"))

        return other

    def value(number, key, to):
        return lambda resources, _: resources[number]["schema"]["fields"][2].__setitem__(key, to)

    def leads_to(site):
        """A key out of the CSV table, to a table whose only row is that of a site."""

        def other(resources, folder):
            import hashlib

            text = f"site\n{site}\n"
            (folder / "r.csv").write_text(text)
            fields = [{"name": "site", "type": "string", "constraints": {"required": True}}]
            resources.append({
                "name": "r-csv", "type": "table", "path": "r.csv", "format": "csv", "bytes": len(text),
                "hash": "sha256:" + hashlib.sha256(text.encode()).hexdigest(), "schema": {"fields": fields, "primaryKey": ["site"]},
            })  # fmt: skip
            key = {"fields": ["site"], "reference": {"resource": "r-csv", "fields": ["site"]}}
            resources[0]["schema"]["foreignKeys"] = [key]

        return other

    def without(key):
        return lambda resources, _: resources[2].pop(key)

    cases = [
        ("a folder as it should be", None, 0), ("two files of one name", one_name, 1), ("a changed CSV file", changed("csv"), 1),
        ("a changed JSON file", changed("json"), 1), ("a changed page", changed("html"), 1),
        ("a page that is not described", lambda resources, _: resources.pop(3), 1), ("no size", without("bytes"), 1), ("no SHA-256", without("hash"), 1),
        ("another kind in CSV", value(0, "type", "datetime"), 1), ("another kind in JSON", value(1, "type", "datetime"), 1),
        ("another kind in Parquet", value(2, "type", "integer"), 1), ("another column in Parquet", value(2, "name", "x"), 1),
        ("a key that leads to a row", leads_to("A"), 0), ("a key that leads nowhere", leads_to("B"), 1),
        ("a file that is not described", lambda resources, _: resources.pop(1), 1),
        ("a missing value in a column that has all", lambda r, _: r[0]["schema"]["fields"][1]["constraints"].update(required=True), 1),
    ]  # fmt: skip
    for name, change, want in cases:
        with tempfile.TemporaryDirectory() as folder:
            write_folder(Path(folder), change)
            account = Account()
            check_folder(account, Path(folder))
            code = 1 if account.wrong or not account.rows else 0
            assert code == want, (name, account.wrong)
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
    account = Account()
    for folder in args.out:
        check_folder(account, folder)
    return account.finish()


if __name__ == "__main__":
    sys.exit(main())
