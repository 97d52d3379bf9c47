"""Metrics of aligned rows: those of the audit, home by home, as a cluster asks for them."""

import polars
import pyarrow
import pytest

import evenrooms
from conftest import SAMPLE
from small import EXPORTS, ROSTER, SITE

# What the rest of the building says of a home, and verdicts that it may take back.
OF_BUILDING = ("offset_from_building", "offset_from_floor", "offset_from_line", "even_p_adjusted", "uneven_p_adjusted")


def rows_of(table, home):
    rows = [row for row in pyarrow.table(table).to_pylist() if row["home"] == home]
    rows = [row for row in rows if not row["metric"].startswith(OF_BUILDING)]
    return sorted(rows, key=lambda row: [str(row[key]) for key in ("room", "period", "slice", "metric")])


def test_each_home_by_itself_has_the_rows_of_the_audit(audit):
    aligned, weather = audit["aligned"].to_polars(), audit["weather"]
    for home in aligned["home"].unique().sort():
        own = aligned.filter(polars.col("home") == home)
        metrics = evenrooms.metrics(own, SAMPLE / "site.toml", weather=weather)
        assert metrics.name == "metrics" and len(metrics) > 500
        found, expected = rows_of(metrics, home), rows_of(audit["metrics"], home)
        keys = [[row[key] for key in ("room", "period", "slice", "metric")] for row in expected]
        assert [[row[key] for key in ("room", "period", "slice", "metric")] for row in found] == keys, home
        # Grid values are kept in single precision, and the audit had them in double.
        for one, other in zip(found, expected):
            assert one["value"] == pytest.approx(other["value"], rel=2e-3, abs=2e-3), (one, other)


def test_types_of_other_libraries_are_taken():
    own = evenrooms.audit(SITE, EXPORTS, roster=ROSTER)
    plain = pyarrow.table(evenrooms.metrics(own["aligned"], SITE, roster=ROSTER))
    frame = own["aligned"].to_pandas()
    frame["time_utc"] = frame["time_utc"].astype("datetime64[ns, America/Chicago]")
    for rows in (frame, own["aligned"].to_polars(), own["aligned"].to_arrow()):
        assert pyarrow.table(evenrooms.metrics(rows, SITE, roster=ROSTER)).equals(plain)
    none = evenrooms.metrics(own["aligned"].to_arrow().slice(0, 0), SITE, roster=ROSTER)
    assert len(none) == 0 and pyarrow.table(none).schema.equals(plain.schema)


def test_what_does_not_fit_is_refused(audit):
    own = evenrooms.audit(SITE, EXPORTS, roster=ROSTER)
    with pytest.raises(evenrooms.Error, match="weather table: the site file names an outdoor series"):
        evenrooms.metrics(audit["aligned"], SAMPLE / "site.toml")
    with pytest.raises(evenrooms.Error, match="aligned table: found no column time_utc"):
        evenrooms.metrics(own["metrics"], SITE, roster=ROSTER)
    with pytest.raises(evenrooms.Error, match="aligned table: "):
        evenrooms.metrics(audit["aligned"], SITE, roster=ROSTER)
    with pytest.raises(TypeError, match="found list as aligned"):
        evenrooms.metrics([], SITE, roster=ROSTER)
