"""An audit from Python: the tables of the program, in whatever holds tables."""

import threading
import time

import duckdb
import pandas
import polars
import pyarrow
import pyarrow.parquet
import pytest

import evenrooms
from conftest import SAMPLE
from small import EXPORTS, ROSTER, SITE, values

NAMES = ["cases", "acceptance", "readings", "set_aside", "aligned", "weather"]
NAMES += ["metrics", "events", "findings", "not_judged", "loggers", "rooms"]


def hours_below(audit) -> dict[str, float]:
    rows = audit["metrics"].to_arrow().to_pylist()
    return {row["room"]: row["value"] for row in rows if row["metric"] == "hours_below_band" and row["slice"] == "all"}


def test_tables_are_those_that_the_program_writes(audit, results):
    assert list(audit) == NAMES and list(audit.tables) == NAMES
    in_parquet = 0
    for name, table in audit.tables.items():
        own = pyarrow.table(table)
        assert len(table) == own.num_rows and list(table.columns) == own.column_names
        if (results / f"{name}.parquet").exists():
            in_parquet += 1
            written = pyarrow.parquet.read_table(results / f"{name}.parquet")
            assert own.schema.equals(written.schema), name
            assert own.equals(written), name
        else:
            written = pandas.read_csv(results / f"{name}.csv", dtype=str)
            assert list(written["home"]) == own["home"].to_pylist(), name
    assert in_parquet == 10


def test_columns_say_what_they_mean(audit):
    table = audit["metrics"]
    assert table.name == "metrics" and "metric" in table.about
    assert table.columns["value"] == pyarrow.table(table).schema.field("value").metadata[b"description"].decode()
    assert audit["aligned"].units["temperature_degc"] == "°C"
    assert repr(table) == f"<evenrooms.Table metrics: {len(table)} rows, 14 columns>"


def test_every_library_sees_the_same_rows(audit):
    table = audit["aligned"]
    arrow = table.to_arrow()
    assert isinstance(arrow, pyarrow.Table)
    mean = pyarrow.compute.mean(arrow["temperature_degc"]).as_py()
    frames = {"pandas": table.to_pandas(), "pandas by itself": pandas.DataFrame.from_arrow(table)}
    for name, frame in frames.items():
        assert len(frame) == len(table), name
        assert str(frame["time_utc"].dtype) == "datetime64[ms, UTC]", name
        assert frame["temperature_degc"].astype(float).mean() == pytest.approx(mean), name
    frame = table.to_polars()
    assert isinstance(frame, polars.DataFrame) and frame.height == len(table)
    assert frame["time_utc"].dtype == polars.Datetime("ms", "UTC")
    assert frame["temperature_degc"].cast(polars.Float64).mean() == pytest.approx(mean)
    assert frame.equals(polars.DataFrame(arrow))
    rows = duckdb.sql("select count(*), avg(temperature_degc::double) from arrow").fetchall()
    assert rows == [(len(table), pytest.approx(mean))]


def test_missing_values_are_null(audit):
    room = pyarrow.table(audit["metrics"])["room"]
    assert 0 < room.null_count < len(room)
    assert pyarrow.table(audit["metrics"])["value"].null_count == 0


def test_memory_is_handed_over_and_not_copied(audit):
    def addresses(table):
        return [chunk.buffers()[1].address for chunk in pyarrow.table(table)["temperature_degc"].chunks]

    assert addresses(audit["readings"]) == addresses(audit["readings"])
    # A part for each home.
    assert len(addresses(audit["readings"])) == 6


def test_a_table_outlives_its_audit():
    own = evenrooms.audit(SITE, EXPORTS, roster=ROSTER)
    table = own["aligned"]
    arrow = pyarrow.table(table)
    before = arrow.to_pylist()
    del own, table
    assert arrow.to_pylist() == before and len(before) == 2 * 576


def test_exports_may_be_bytes_texts_and_tables_of_any_library():
    # 12 h and 3 h were cold; the grid's instants are those of the readings.
    expected = {"living": 12.0, "bedroom": 3.0}
    in_bytes = {name: text.encode() for name, text in EXPORTS.items()}
    assert hours_below(evenrooms.audit(SITE, EXPORTS, roster=ROSTER)) == expected
    assert hours_below(evenrooms.audit(SITE, in_bytes, roster=ROSTER.encode())) == expected
    frames = {}
    for name, library in (("living.csv", polars.DataFrame), ("bedroom.csv", pandas.DataFrame)):
        rows = values(12 if name == "living.csv" else 3)
        frames[name] = library({"time": [time for time, _ in rows], "temperature (°C)": [degc for _, degc in rows]})
    assert hours_below(evenrooms.audit(SITE, frames, roster=ROSTER)) == expected
    # Times as times too.
    frames = {
        name: polars.DataFrame(frame).with_columns(polars.col("time").str.to_datetime()) for name, frame in frames.items()
    }
    assert hours_below(evenrooms.audit(SITE, frames, roster=ROSTER)) == expected


def test_a_folder_of_exports_of_its_own(tmp_path):
    for name, text in EXPORTS.items():
        (tmp_path / name).write_text(text)
    for folder in (tmp_path, str(tmp_path)):
        assert hours_below(evenrooms.audit(SITE, folder, roster=ROSTER)) == {"living": 12.0, "bedroom": 3.0}


def test_a_site_file_with_exports_in_memory(audit):
    folder = SAMPLE / "exports"
    files = [path for path in folder.rglob("*") if path.is_file()]
    exports = {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}
    own = evenrooms.audit(str(SAMPLE / "site.toml"), exports)
    for name in audit:
        assert own[name].to_arrow().equals(audit[name].to_arrow()), name


def test_only_the_tables_that_are_asked_for():
    own = evenrooms.audit(SITE, EXPORTS, roster=ROSTER, tables=["metrics"], threads=1)
    assert list(own) == ["metrics"] and "readings" not in own and len(own) == 1
    with pytest.raises(KeyError, match='found "readings", expected one of metrics'):
        own["readings"]
    # Nothing is lost of what it says.
    assert "1A" in own.summary() and own.notes is not None
    with pytest.raises(evenrooms.Error, match='found "metric", expected names of tables'):
        evenrooms.audit(SITE, EXPORTS, roster=ROSTER, tables=["metric"])


def test_the_summary_is_what_the_terminal_says(audit):
    lines = audit.summary().splitlines()
    assert lines[0].startswith("Alder Row: 6 homes")
    assert str(audit) == audit.summary() and len(audit.summary(details=True)) > 2 * len(audit.summary())
    assert repr(audit) == "<evenrooms.Audit of Alder Row: 6 homes, 12 tables>"


def test_notes_have_a_place_and_a_next_step(audit):
    missing = evenrooms.audit(SITE, {"living.csv": EXPORTS["living.csv"]}, roster=ROSTER)
    (note,) = [note for note in missing.notes if note.unreadable]
    assert "there is no such file in the exports in memory" in note.what and note.hint and "bedroom" in note.place
    assert str(note).startswith(note.place) and "hint: " in str(note) and note.line is None


def test_errors_are_the_command_s_words():
    with pytest.raises(evenrooms.Error) as told:
        evenrooms.audit(SITE.replace("20 °C", "20"), EXPORTS, roster=ROSTER.replace("yes", "perhaps"))
    # All mistakes of both at once, each with its line and remedy.
    words = str(told.value)
    assert "site file:7: found" in words and "roster:2: found" in words and words.count("hint: ") == 3, words
    with pytest.raises(evenrooms.Error, match="no exports were named"):
        evenrooms.audit(SITE, roster=ROSTER)
    with pytest.raises(evenrooms.Error, match="none of the roster's exports is there"):
        evenrooms.audit(SITE, {}, roster=ROSTER)
    with pytest.raises(evenrooms.Error, match="nowhere.toml: could not be read"):
        evenrooms.audit("nowhere.toml")
    with pytest.raises(TypeError, match="found int as an export, expected a table"):
        evenrooms.audit(SITE, {"living.csv": 3}, roster=ROSTER)
    with pytest.raises(TypeError):
        evenrooms.audit(7)


def test_other_threads_run_meanwhile():
    counted, going = [0], threading.Event()

    def count():
        while not going.is_set():
            counted[0] += 1
            time.sleep(0.001)

    thread = threading.Thread(target=count)
    thread.start()
    before = counted[0]
    began = time.monotonic()
    evenrooms.audit(SAMPLE / "site.toml", threads=1)
    took, while_auditing = time.monotonic() - began, counted[0] - before
    going.set()
    thread.join()
    # A thread that must wait for the lock would have counted once or twice.
    assert took > 0.05 and while_auditing > 10, (took, while_auditing)


def test_several_audits_at_once_are_each_their_own():
    found = {}

    def one(number):
        exports = {name: EXPORTS["living.csv" if number % 2 else "bedroom.csv"] for name in EXPORTS}
        found[number] = hours_below(evenrooms.audit(SITE, exports, roster=ROSTER, threads=1))

    threads = [threading.Thread(target=one, args=(number,)) for number in range(6)]
    [thread.start() for thread in threads]
    [thread.join() for thread in threads]
    assert all(found[n] == dict.fromkeys(["living", "bedroom"], 12.0 if n % 2 else 3.0) for n in range(6)), found
