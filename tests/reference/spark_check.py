"""The job for many machines against one process: twenty simulated sites, two workers of a cluster on this machine.

    python3 -m venv VENV && VENV/bin/pip install -r tests/reference/spark_requirements.txt
    VENV/bin/python tests/reference/spark_check.py EVENROOMS FOLDER

It needs Java 17. The job is what `evenrooms portfolio --spark-job` prints, in a cluster of two workers with a core and 1 GB each
(local-cluster[2,1,1024]); then with one. It fails where a number differs from that of one process by a bit, where a site that is
broken on purpose is not named, or where it takes another with it. It prints aligned rows per second of one process, one worker, two.
"""

import contextlib
import io
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq

SITES, HOMES, DAYS = 20, 2, 10
KEY = ["site", "home", "room", "period", "slice", "metric"]
# What the building says of its homes, which no worker can know.
OF_BUILDING = ("offset_from_building", "offset_from_floor", "offset_from_line", "even_p_adjusted", "uneven_p_adjusted")


def run(*command):
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True)
    assert done.returncode in (0, 1), f"{command}: {done.stderr}"
    return done


def simulated(evenrooms, folder):
    sites = []
    for seed in range(1, SITES + 1):
        site = folder / f"site{seed}"
        run(evenrooms, "simulate", "--out", site, "--seed", seed, "--homes", HOMES, "--days", DAYS, "--interval", "15 min", "--quiet")
        file = site / "site.toml"
        lines = file.read_text(encoding="utf-8").splitlines()
        file.write_text("\n".join(f'name = "Site {seed}"' if line.startswith("name = ") else line for line in lines), encoding="utf-8")
        sites.append(file)
    return sites


def alone(evenrooms, sites, folder):
    """Each site audited here, one after another by one thread, and all of them put together."""
    start = time.monotonic()
    results = [folder / f"alone-{number:05d}" for number in range(len(sites))]
    for site, out in zip(sites, results):
        run(evenrooms, "audit", site, "--out", out, "--no-report", "--quiet", "--threads", 1)
    took = time.monotonic() - start
    run(evenrooms, "portfolio", *results, "--out", folder / "alone")
    return results, took


def job(path):
    """The printed job, as a module."""
    import types

    module = types.ModuleType("job")
    exec(compile(path.read_text(encoding="utf-8"), str(path), "exec"), module.__dict__)
    return module


def cluster(workers):
    from pyspark.sql import SparkSession

    # What executors read of the job comes from its functions alone: they hold its code, no file of it.
    builder = SparkSession.builder.master(f"local-cluster[{workers},1,1024]").appName("evenrooms")
    settings = {"spark.ui.enabled": "false", "spark.executor.memory": "900m", "spark.sql.shuffle.partitions": "40", "spark.log.level": "ERROR",
                "spark.sql.execution.arrow.maxRecordsPerBatch": "1000000"}
    for name, value in settings.items():
        builder = builder.config(name, value)
    return builder.getOrCreate()


def rows(results):
    """Metric rows of homes."""
    table = pd.concat([pq.read_table(out / "metrics.parquet").to_pandas() for out in results])
    return table[table.home.notna() & ~table.metric.isin(OF_BUILDING)]


def in_order(table, columns):
    return table.sort_values(KEY)[columns].astype({c: "object" for c in KEY}).reset_index(drop=True)


def same_files(a, b):
    of = lambda folder: {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}
    a, b = of(a), of(b)
    assert a.keys() == b.keys(), a.keys() ^ b.keys()
    return [name for name in a if a[name] != b[name]]


def said(call, *args):
    """What a call answers, and what it said on standard error."""
    heard = io.StringIO()
    with contextlib.redirect_stderr(heard):
        answer = call(*args)
    return answer, heard.getvalue()


def check(evenrooms, folder):
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    sites = simulated(evenrooms, folder)
    results, took = alone(evenrooms, sites, folder)
    aligned = sum(pq.ParquetFile(out / "aligned.parquet").metadata.num_rows for out in results)
    print(f"{SITES} sites, {SITES * HOMES} homes, {aligned} aligned rows")
    print(f"audit, one process, one thread: {aligned / took:,.0f} rows/s")
    text = subprocess.run([evenrooms, "portfolio", "--spark-job"], capture_output=True, check=True).stdout
    path = folder / "job.py"
    path.write_bytes(text)
    theirs = job(path)
    broken = folder / "broken" / "site.toml"
    broken.parent.mkdir()
    broken.write_text("[site]\nname = \"Broken\"\n", encoding="utf-8")
    own = rows(results)
    for workers in (1, 2):
        spark = cluster(workers)
        spark.sparkContext.parallelize(range(workers), workers).count()  # the workers are there before the clock starts
        out = folder / f"spark-{workers}"
        named = [str(site) for site in (*sites, broken)]
        start = time.monotonic()
        code, heard = said(theirs.main, ["audit", *named, "--out", str(out), "--evenrooms", str(evenrooms)], spark)
        took = time.monotonic() - start
        print(f"audit, {workers} worker(s): {aligned / took:,.0f} rows/s")
        assert code == 1 and heard.count("set aside: ") == 1 and str(broken) in heard, (code, heard)
        assert same_files(out / "portfolio", folder / "alone") == [], "the portfolios differ"
        # A home of which the rows do not fit, and a site that is named without results.
        pairs = [f"{site}={result}" for site, result in zip(sites, results)]
        unfit = folder / "unfit"
        shutil.rmtree(unfit, ignore_errors=True)
        shutil.copytree(sites[0].parent, unfit)
        roster = (unfit / "roster.csv").read_text(encoding="utf-8").splitlines()
        kept = [line for line in roster if not line.startswith("1B,")]
        (unfit / "roster.csv").write_text("\n".join(kept) + "\n", encoding="utf-8")
        pairs[0] = f"{unfit / 'site.toml'}={results[0]}"
        out = folder / f"metrics-{workers}"
        arguments = ["metrics", *pairs, f"{broken}={broken.parent}", "--out", str(out), "--evenrooms", str(evenrooms)]
        start = time.monotonic()
        code, heard = said(theirs.main, arguments, spark)
        took = time.monotonic() - start
        print(f"metrics of aligned rows, {workers} worker(s): {aligned / took:,.0f} rows/s")
        assert code == 1 and heard.count("set aside: ") == 2, (code, heard)
        assert "Site 1, home 1B: " in heard and str(broken.parent) in heard, heard
        found = spark.read.parquet(str(out)).toPandas()
        spark.stop()
        columns = [column for column in own.columns]
        expected = own[~((own.site == "Site 1") & (own.home == "1B"))]
        expected, found = in_order(expected, columns), in_order(found, columns)
        pd.testing.assert_frame_equal(found.fillna(-999.25), expected.fillna(-999.25), check_exact=True, check_dtype=False)
        print(f"{len(found)} metric rows are those of one process, to the last bit")


if __name__ == "__main__":
    os.environ.setdefault("SPARK_LOCAL_IP", "127.0.0.1")
    os.environ.setdefault("PYSPARK_PYTHON", sys.executable)
    check(Path(sys.argv[1]).resolve(), Path(sys.argv[2]).resolve())
