"""Self-test of real_records.py: invented answers that are as expected, and each of them made wrong once."""

import copy

from real_records import HALLS, Look, Row, Said, judge

CELLS = ("building", "kind", "room", "says", "from_utc", "to_utc", "value", "tolerance", "expectation")
ROWS = [
    Row.of(dict(zip(CELLS, cells, strict=True)))
    for cells in [
        ("hall_a", "draft", "", "", "", "", "0", "0", "rows for columns that are serial numbers"),
        ("hall_a", "draft", "", "", "", "", "0", "0", "rooms named after a column"),
        ("hall_a", "audit", "organ", "no doubt", "", "", "", "", ""),
        ("hall_a", "metrics", "organ", "hours_below 18 °C", "", "", "800", "8", ""),
        ("hall_b", "audit", "balcony_left", "handled", "2024-11-20T13:34", "2024-11-20T14:30", "", "", ""),
        ("hall_b", "audit", "", "together", "2024-11-20T19:00", "2024-11-21T11:30", "", "1 h", ""),
        ("hall_b", "audit", "under_piano", "copy", "", "", "", "", "older.csv holds a copy: told"),
        ("hall_b", "audit", "under_piano", "gap", "", "", "76", "2", ""),
        ("hall_b", "audit", "unknown_location", "heater or sun", "", "", "5", "", ""),
        ("hall_c", "audit", "eng3", "out of period", "", "", "", "", ""),
        ("hall_c", "audit", "", "coverage", "", "", "", "", ""),
        ("hall_c", "audit", "eng5_upper", "moved or handled", "2025-01-27T12:00", "2025-01-31T00:00", "", "1 d", ""),
        ("all", "inspect", "", "", "", "", "0", "0", ""),
    ]
]
SEEN = [Look("spikes", "hall_c", "hall", True, "single readings of 60 °C")]


def finding(rule, room="", since="", until="", shows="", observed="1", unit="h"):
    return {
        "rule": rule, "room": room, "from_utc": since, "to_utc": until, "shows": shows, "next_step": "",
        "observed": observed, "unit": unit,
    }  # fmt: skip


def number(room, metric, value, low="", high="", unit="%"):
    return {"room": room, "metric": metric, "slice": "all", "value": value, "low": low, "high": high, "unit": unit}


def as_expected():
    """Answers of which every row holds."""
    files = [file for _, file, _ in HALLS["hall_a"]]
    a = Said(
        metrics=[number("organ", "hours_below_band", "795.3", "700", "810", "h")],
        loggers=[{"file": files[0], "rows_set_aside": "0"}],
        draft=[{"room": file.removesuffix(".csv"), "file": file, "column": "3"} for file in files],
        expected_files=files,
        headers={file: ["E1", "Time", "Celsius", "Serial Number"] for file in files},
        inspected={files[0]: (0, 0)},
    )
    b = Said(
        metrics=[number(room, "coverage", "99") for room, _, _ in HALLS["hall_b"]],
        findings=[
            finding("logger-handled", "balcony_left", "2024-11-20T13:34:45Z", "2024-11-20T14:24:45Z"),
            finding("loggers-together", "", "2024-11-20T19:30:00Z", "2024-11-21T11:00:00Z", "paste: [colocation]"),
            finding("same-readings", "under_piano", shows="older.csv is a copy"),
            finding("hole", "under_piano", observed="1824", unit="h"),
            finding("heat-on-logger", "unknown_location"),
            finding("room-cold", "balcony_left"),
        ],
    )
    c = Said(
        metrics=[number("hall", "coverage", "99")],
        findings=[
            finding("out-of-period", "eng3"),
            finding("thin-coverage", "eng3"),
            finding("logger-elsewhere", "eng5_upper", "2025-01-27T17:50:00Z", "2025-01-28T20:00:00Z"),
            finding("logger-elsewhere", "eng5_upper", "2025-01-29T08:00:00Z", "2025-01-30T12:00:00Z"),
            finding("spikes", "hall"),
        ],
    )
    return {"hall_a": a, "hall_b": b, "hall_c": c}


def at(said, building, rule):
    return next(f for f in said[building].findings if f["rule"] == rule)


# What is made wrong, and words that must be printed then.
PLANTED = {
    "a drafted serial number": (lambda s: s["hall_a"].draft[0].update(column="4"), "DOES NOT HOLD: hall_a draft rows"),
    "a room named after a column": (lambda s: s["hall_a"].draft[0].update(room="Celsius 2"), "DOES NOT HOLD: hall_a draft rooms"),
    "a file that is not drafted": (lambda s: s["hall_a"].draft.pop(), "no row for homebuilt.csv"),
    "a draft that fails": (lambda s: setattr(s["hall_a"], "draft_code", 2), "exit code 2"),
    "a doubt of a sound logger": (lambda s: s["hall_a"].findings.append(finding("stuck", "organ")), "wrong: hall_a organ stuck"),
    "hours that are lost": (lambda s: s["hall_a"].metrics[0].update(value="631.5"), "DOES NOT HOLD: hall_a metrics"),
    "hours outside low and high": (lambda s: s["hall_a"].metrics[0].update(high="799"), "DOES NOT HOLD: hall_a metrics"),
    "a span that ends too late": (
        lambda s: at(s, "hall_b", "logger-handled").update(to_utc="2024-11-20T15:31:00Z"), "missed: hall_b audit balcony_left handled"),
    "a span without an end": (lambda s: at(s, "hall_b", "logger-handled").update(to_utc=""), "missed: hall_b audit balcony_left handled"),
    "another room": (lambda s: at(s, "hall_b", "logger-handled").update(room="balcony_right"), "open: hall_b balcony_right"),
    "no lines to paste": (lambda s: at(s, "hall_b", "loggers-together").update(shows=""), "no lines to paste"),
    "a copy that is not named": (lambda s: at(s, "hall_b", "same-readings").update(shows=""), "DOES NOT HOLD: hall_b audit under_piano copy"),
    "a hole of another length": (lambda s: at(s, "hall_b", "hole").update(observed="1440"), "DOES NOT HOLD: hall_b audit under_piano gap"),
    "a hole that stretches the period": (lambda s: s["hall_b"].metrics[0].update(value="8"), "stretches the period of balcony_left"),
    "a heater that is not seen": (
        lambda s: s["hall_b"].findings.remove(at(s, "hall_b", "heat-on-logger")), "missed: hall_b audit unknown_location"),
    "a record of another time that is not told": (
        lambda s: s["hall_c"].findings.remove(at(s, "hall_c", "out-of-period")), "missed: hall_c audit eng3"),
    "a thin record that is whole": (lambda s: s["hall_c"].findings.append(finding("thin-coverage", "eng6")), "wrong: hall_c eng6"),
    "a thin home that is whole": (lambda s: s["hall_c"].findings.append(finding("thin-coverage")), "DOES NOT HOLD: hall_c audit coverage"),
    "a logger that came home too late": (
        lambda s: s["hall_c"].findings[3].update(to_utc="2025-02-02T00:00:00Z"), "missed: hall_c audit eng5_upper"),
    "a finding that nobody looked at": (lambda s: s["hall_c"].findings.append(finding("stuck", "hall")), "open: hall_c hall stuck"),
    "a rule that nobody knows": (lambda s: s["hall_c"].findings.append(finding("odd", "hall")), "a rule that this script does not know"),
    "an inspection that sets rows aside": (lambda s: s["hall_a"].inspected.update({"x.csv": (1, 9)}), "DOES NOT HOLD: all inspect"),
    "an audit that sets rows aside": (lambda s: s["hall_a"].loggers[0].update(rows_set_aside="9"), "DOES NOT HOLD: all inspect"),
    "an audit that fails": (lambda s: setattr(s["hall_b"], "audit_code", 2), "NO RESULTS: hall_b"),
    "a building that was not run": (lambda s: s.pop("hall_c"), "nothing was run for hall_c"),
}  # fmt: skip


def told(rows, said, looked_at):
    lines = []
    return judge(rows, said, looked_at, lines.append), "\n".join(lines)


def run():
    code, text = told(ROWS, as_expected(), SEEN)
    # The thin record of another time is looked at by nobody: everything else is as expected.
    assert code == 1 and text.count("DOES NOT HOLD") == 0 and text.count("\nopen: ") == 1, text
    seen = [*SEEN, Look("thin-coverage", "hall_c", "eng3", True, "its record is short")]
    code, text = told(ROWS, as_expected(), seen)
    assert code == 0 and "\nmissed: " not in text and "| all | 10 | 10 | 0 | 0 | 0 |" in text, text
    for name, (make_wrong, words) in PLANTED.items():
        said = copy.deepcopy(as_expected())
        make_wrong(said)
        code, text = told(ROWS, said, seen)
        assert code == 1 and words in text, f"{name} is not seen:\n{text}"
    unseen = [Look("stuck", "hall_a", "organ", True, "it stood still"), *seen]
    assert "missed: hall_a organ stuck" in told(ROWS, as_expected(), unseen)[1]
    wrong = [Look("spikes", "hall_c", "hall", False, "a door"), *seen[1:]]
    said = as_expected()
    said["hall_c"].findings.append(copy.copy(at(said, "hall_c", "spikes")))
    assert told(ROWS, said, wrong)[0] == 1, "two wrong of eleven pass"
    odd = Row.of(dict(zip(CELLS, ("hall_a", "audit", "organ", "haunted", "", "", "", "", ""), strict=True)))
    assert told([*ROWS, odd], as_expected(), seen)[0] == 1, "a row that is not understood passes"
    assert told([], as_expected(), seen)[0] == 1, "no expectation at all passes"
    print(f"self-test: {len(PLANTED)} wrong answers planted, every one seen")
    return 0
