"""Many sites over many machines: audits spread over executors, and metrics of every home from aligned tables.

Printed by `evenrooms portfolio --spark-job`. It needs PySpark 4.0 or later with pyarrow and pandas, and the program and all files
under the same paths on every machine (a shared file system).

    spark-submit job.py audit   --evenrooms /usr/local/bin/evenrooms --out RESULTS SITE.toml ...
    spark-submit job.py metrics --evenrooms /usr/local/bin/evenrooms --out METRICS SITE.toml=RESULTS ...

`audit` audits each site as a task of its own, as on one machine, and puts the results together into RESULTS/portfolio.
`metrics` takes the aligned tables of audits and computes the metrics of each home anew, as `evenrooms audit --from-aligned` does,
with the limits that the site file has now; what a building says of its homes (offset_from_building, homes_...) is not among them.

A site or home that fails is named on standard error, the others are done, and the exit code is 1; 2: nothing was done.
"""

import argparse
import io
import json
import subprocess
import sys
from pathlib import Path

# Exit codes of an audit that left whole results: done, something unreadable, a case reached --fail-on.
WHOLE = (0, 1, 3)


def audit_one(evenrooms, site, out):
    """One site, audited on an executor: its site file, the folder of its results, and what went wrong, if anything."""
    command = [evenrooms, "audit", site, "--out", out, "--no-report", "--quiet", "--threads", "1"]
    try:
        ran = subprocess.run(command, capture_output=True, text=True)
    except OSError as error:
        return site, out, f"{evenrooms} could not be started: {error}"
    return site, out, None if ran.returncode in WHOLE else ran.stderr.strip() or f"exit code {ran.returncode}"


def audit(spark, args):
    folders = {site: str(Path(args.out) / f"site-{number:05d}") for number, site in enumerate(sorted(args.sites), 1)}
    Path(args.out).mkdir(parents=True, exist_ok=True)
    evenrooms = args.evenrooms
    tasks = spark.sparkContext.parallelize(sorted(folders.items()), len(folders))
    done = tasks.map(lambda task: audit_one(evenrooms, *task)).collect()
    failed = [(site, why) for site, _, why in done if why]
    for site, why in failed:
        print(f"set aside: {site}: {why}", file=sys.stderr)
    whole = [out for _, out, why in done if not why]
    if not whole:
        return 2
    merged = subprocess.run([evenrooms, "portfolio", *whole, "--out", str(Path(args.out) / "portfolio")])
    return max(merged.returncode, 1 if failed else 0)


def worker(evenrooms, site_file, results, table):
    """Metric rows of the homes of a site, of their aligned rows: Arrow tables through pipes."""
    import pyarrow as pa

    rows = io.BytesIO()
    with pa.ipc.new_stream(rows, table.schema) as stream:
        stream.write_table(table)
    command = [evenrooms, "worker", site_file]
    if Path(results, "weather.parquet").exists():
        command += ["--weather", results]
    ran = subprocess.run(command, input=rows.getvalue(), capture_output=True)
    if ran.returncode != 0:
        raise RuntimeError(ran.stderr.decode(errors="replace").strip() or f"exit code {ran.returncode}")
    return pa.ipc.open_stream(ran.stdout).read_all()


def metrics_schema():
    """Columns of the metrics table, and why there are none of a home."""
    import pyarrow as pa

    text, number = pa.string(), pa.float64()
    columns = [("site", text), ("home", text), ("room", text), ("period", text), ("slice", text), ("metric", text)]
    columns += [("value", number), ("unit", text), ("low", number), ("high", number), ("interval", text)]
    columns += [("sensor", number), ("days", number), ("hours_observed", number), ("failed", text)]
    return pa.schema(columns)


def of_home(evenrooms, sources):
    """What is done with the rows of one home, wherever it is done."""

    def compute(key, table):
        import pyarrow as pa

        site, home = (value.as_py() for value in key)
        schema = metrics_schema()
        try:
            if site not in sources:
                raise RuntimeError("no results of this site were named")
            # Rows come as they were spread: in no order.
            rows = table.sort_by([("room", "ascending"), ("time_utc", "ascending")])
            found = worker(evenrooms, *sources[site], rows)
        except Exception as error:  # whatever it is, it is this home's, and the others go on
            row = {name: None for name in schema.names} | {"site": site, "home": home, "failed": str(error)}
            return pa.Table.from_pylist([row], schema=schema)
        return found.append_column("failed", pa.nulls(len(found), pa.string())).cast(schema)

    return compute


def metrics(spark, args):
    sources, failed = {}, 0
    for pair in args.sites:
        site_file, _, results = pair.partition("=")
        try:
            name = json.loads(Path(results, "provenance.json").read_text(encoding="utf-8"))["settings"]["site"]
            if name in sources:
                raise ValueError(f"{name} is the site of {sources[name][1]} too")
            if not Path(results, "aligned.parquet").exists():
                raise ValueError("no aligned.parquet")
            sources[name] = (site_file, results)
        except (OSError, ValueError, KeyError) as error:
            print(f"set aside: {pair}: {error}", file=sys.stderr)
            failed += 1
    if not sources:
        return 2
    tables = [str(Path(results, "aligned.parquet")) for _, results in sources.values()]
    aligned = spark.read.parquet(*tables)
    ddl = ", ".join(f"{field.name} {'double' if str(field.type) == 'double' else 'string'}" for field in metrics_schema())
    computed = aligned.groupBy("site", "home").applyInArrow(of_home(args.evenrooms, sources), ddl).cache()
    for row in computed.where("failed is not null").select("site", "home", "failed").orderBy("site", "home").collect():
        print(f"set aside: {row.site}, home {row.home}: {row.failed}", file=sys.stderr)
        failed += 1
    whole = computed.where("failed is null").drop("failed")
    whole.write.mode("overwrite").partitionBy("site").parquet(args.out)
    print(f"{whole.count()} rows of {whole.select('site', 'home').distinct().count()} homes: {args.out}")
    return 1 if failed else 0


def main(arguments=None, spark=None):
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("job", choices=["audit", "metrics"])
    parser.add_argument("sites", nargs="+", help="SITE.toml; for metrics SITE.toml=RESULTS")
    parser.add_argument("--out", required=True)
    parser.add_argument("--evenrooms", default="evenrooms", help="the program, by its path on every machine")
    args = parser.parse_args(arguments)
    if spark is None:
        from pyspark.sql import SparkSession

        spark = SparkSession.builder.appName("evenrooms").getOrCreate()
    # Instants are UTC everywhere.
    spark.conf.set("spark.sql.session.timeZone", "UTC")
    # Homes are few rows and much work: each stays a task of its own.
    spark.conf.set("spark.sql.adaptive.coalescePartitions.enabled", "false")
    # Temperatures are split by byte (BYTE_STREAM_SPLIT), which Spark's column reader does not know and its row reader does.
    spark.conf.set("spark.sql.parquet.enableVectorizedReader", "false")
    return {"audit": audit, "metrics": metrics}[args.job](spark, args)


if __name__ == "__main__":
    sys.exit(main())
