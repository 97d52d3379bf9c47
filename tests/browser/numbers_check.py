"""Holds every number of a report's tables and sentences against the tables beside it, to the printed digits:
numbers_check.py SITE.toml FOLDER_OF_RESULTS

Means of days and hours off the band are made anew from aligned.parquet and weather.parquet. What is held against nothing is
counted at the end: it must be none of the tables that the page has.
"""

import csv
import re
import sys
import tomllib
from collections import defaultdict
from html.parser import HTMLParser
from pathlib import Path
from zoneinfo import ZoneInfo

import pyarrow.parquet as pq

from report_check import anchor

VOID = {"meta", "br", "rect", "path", "circle", "line", "use", "link", "img"}
# Captions of tables that are drawn from curves or lines of regression, which no table of results has; and lists of words.
DRAWN = ("Criteria", "Temperature in ", "Home ", "Rooms on the weather", "To do", "What to do", "Metrics", "Loggers", "Humidity")
NUMBER = re.compile(r"[−-]?\d+(?:\.\d+)?")


class Page(HTMLParser):
    """Tables with the home whose section they stand in, sentences of homes, and the line of the judged period."""

    def __init__(self):
        super().__init__()
        self.tables, self.told, self.judged = [], [], ""
        self.home = self.table = self.row = self.cell = None
        self.caption = self.sentence = self.line = False

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        classes = (attributes.get("class") or "").split()
        if tag == "section":
            self.home = attributes.get("id") if "home" in classes else None
        elif tag == "table":
            self.table = {"home": self.home, "caption": "", "rows": [], "classes": classes}
            self.tables.append(self.table)
        elif tag == "caption":
            self.caption = True
        elif tag == "tr" and self.table is not None:
            self.row = []
            self.table["rows"].append(self.row)
        elif tag in ("td", "th") and self.row is not None:
            self.row.append("")
            self.cell = True
        elif tag == "ul":
            self.sentence = "told" in classes
        elif tag == "li" and self.sentence:
            self.told.append([self.home, ""])
        elif tag == "p" and "judged" in classes:
            self.line = True

    def handle_endtag(self, tag):
        if tag in ("td", "th"):
            self.cell = None
        elif tag == "caption":
            self.caption = False
        elif tag == "table":
            self.table = self.row = None
        elif tag == "ul":
            self.sentence = False
        elif tag == "p":
            self.line = False

    def handle_data(self, text):
        if self.caption:
            self.table["caption"] += text
        elif self.cell and self.row:
            self.row[-1] += text
        elif self.sentence and self.told:
            self.told[-1][1] += text
        elif self.line:
            self.judged += text


class Results:
    """The tables of an audit, and how its numbers are printed for people."""

    def __init__(self, site, folder):
        self.site, self.folder = tomllib.loads(site.read_text(encoding="utf-8")), folder
        self.fahrenheit = self.site["site"].get("units", "C") == "F"
        self.zone = ZoneInfo(self.site["site"]["time_zone"])
        self.metrics = {}
        self.of_home = defaultdict(list)
        for row in self.rows("metrics"):
            if row["slice"] == "all":
                self.metrics[row["home"], row["room"], row["period"], row["metric"]] = row
                self.of_home[row["home"]].append(row)
        self.homes = {anchor(home)[1:]: home for home in {row["home"] for row in self.rows("acceptance")}}
        self.periods = [period["name"] for period in self.site.get("period", [])] or ["whole record"]
        self.period = self.site.get("acceptance", {}).get("period", self.periods[-1])

    def rows(self, table):
        with open(self.folder / f"{table}.csv", newline="", encoding="utf-8") as file:
            return [{k: v.removeprefix("'") for k, v in row.items()} for row in csv.DictReader(file)]

    def degrees(self, degc):
        return degc * 9 / 5 + 32 if self.fahrenheit else degc

    def difference(self, k):
        return k * 9 / 5 if self.fahrenheit else k

    def value(self, home, room, metric, end="value", period=None):
        row = self.metrics.get((home, room, period or self.period, metric))
        return float(row[end]) if row and row[end] not in ("", None) else None

    def temperature(self, text):
        number, unit = float(NUMBER.search(text).group().replace("−", "-")), text.strip()[-1]
        return number if unit == "C" else (number - 32) * 5 / 9


def printed(text):
    """The numbers of a cell, with as many decimals as they have."""
    return [(float(n.replace("−", "-")), len(n.partition(".")[2])) for n in NUMBER.findall(text)]


def is_printed(number, decimals, value):
    """Whether a value is printed so; half of the last digit, and what single precision leaves open."""
    return value is not None and abs(number - value) <= 0.5 * 10**-decimals + 2e-4


class Check:
    def __init__(self, results):
        self.results, self.problems, self.held = results, [], 0

    def cell(self, where, text, *values):
        """Every number of a cell beside the values that it should print, in their order; a dash where there is none."""
        numbers, values = printed(text), [v for v in values if v is not None]
        self.held += len(numbers)
        if len(numbers) != len(values) or not all(is_printed(n, d, v) for (n, d), v in zip(numbers, values)):
            self.problems.append(f"{where}: printed {text.strip()!r}, the tables have {values}")

    def acceptance(self, home, rows):
        unit = {"%": lambda x: x, "d": lambda x: x, "K": self.results.difference}
        criteria = [row for row in self.results.rows("acceptance") if row["home"] == home]
        if len(criteria) != len(rows):
            self.problems.append(f"{home}: {len(rows)} criteria on the page, {len(criteria)} in the table")
        for row, own in zip(rows, criteria):
            show = unit[own["unit"]]
            number = lambda name: show(float(own[name])) if own[name] else None
            for cell, names in ((row[2], ["limit"]), (row[3], ["measured"]), (row[4], ["low", "high"])):
                self.cell(f"{home}, {row[0]}", cell, *[number(name) for name in names])
            if not row[5].strip().startswith(own["answer"]):
                self.problems.append(f"{home}, {row[0]}: {row[5]!r}, the table has {own['answer']}")

    def metrics(self, home, room, cells, show, period=None):
        for text, metric, ends in cells:
            values = [self.results.value(home, room, metric, end, period) for end in ends]
            self.cell(f"{home} {room} {metric}", text, *[None if v is None else show(v) for v in values])

    def offsets(self, home, rows):
        for row in rows:
            cells = [(row[1], "offset_from_reference", ["value"]), (row[2], "offset_from_reference", ["low", "high"])]
            self.metrics(home, row[0], cells, self.results.difference)

    def rooms_on_one_axis(self, rows):
        for home, room, _, *cells in rows:
            named = zip(cells, ["p05", "median", "p95"], [["value"]] * 3)
            self.metrics(home, room, named, self.results.degrees)

    def spreads(self, rows):
        for home, median, sure, p95, p95_sure, floor in rows:
            both = ["low", "high"]
            cells = [(median, "spread_median", ["value"]), (sure, "spread_median", both), (p95, "spread_p95", ["value"])]
            cells += [(p95_sure, "spread_p95", both), (floor, "spread_noise_floor", ["value"])]
            self.metrics(home, "", cells, self.results.difference)

    def rooms(self, home, period, rows):
        for room, _, coverage, low, median, high, below, below_range, above, above_range in rows:
            of = lambda cells, show: self.metrics(home, room, cells, show, period)
            of([(coverage, "coverage", ["value"])], lambda x: x)
            of([(low, "minimum", ["value"]), (median, "median", ["value"]), (high, "maximum", ["value"])], self.results.degrees)
            both = ["low", "high"]
            hours = [(below, "hours_below_band", ["value"]), (below_range, "hours_below_band", both)]
            of(hours + [(above, "hours_above_band", ["value"]), (above_range, "hours_above_band", both)], lambda x: x)

    def sentences(self, told):
        """Every number of a sentence is one of the home's, of the site's, or a share in words."""
        r = self.results
        design = r.site["site"].get("design_outdoor")
        margin = r.site.get("spread", {}).get("margin", "2 K")
        of_site = [r.difference(float(NUMBER.search(margin).group())), r.degrees(16.0), r.degrees(5.0), 95.0]
        of_site += [r.degrees(r.temperature(design))] if design else []
        for section, text in told:
            home = r.homes[section]
            values = list(of_site)
            for row in (row for row in r.of_home[home] if row["period"] == r.period):
                for x in (float(row[end]) for end in ("value", "low", "high") if row[end]):
                    show = {"°C": r.degrees, "K": r.difference}.get(row["unit"], lambda x: x)
                    values += [show(x), abs(show(x)), 100 * x]
            # Rooms may have numbers in their names.
            for room in {row["room"] for row in r.of_home[home] if row["room"]}:
                text = text.replace(room, "")
            for number, decimals in printed(text):
                self.held += 1
                if not any(is_printed(number, decimals, v) for v in values):
                    self.problems.append(f"{home}: {number} of {text!r} is in no table")

    def happened(self, rows):
        """What the list says of a case is what the table of cases says."""
        cases = defaultdict(str)
        acting = set()
        for row in self.results.rows("cases"):
            if row["severity"] in ("urgent", "act") and row["course"] != "over":
                acting.add(row["home"])
            cases[row["home"]] += " " + " ".join(row.values())
        for row in rows:
            amount = row[2].split("First:")[0].partition(": ")[2]
            self.held += len(printed(amount))
            if row[0].strip() in acting and amount.strip() not in cases[row[0].strip()]:
                self.problems.append(f"{row[0]}: {amount!r} is said of no case")
            sure = row[6].strip()
            self.held += len(printed(sure))
            if row[0].strip() in acting and sure not in cases[row[0].strip()]:
                self.problems.append(f"{row[0]}: {sure!r} is said of no case")


def by_day(table, zone, series):
    """Values of each series (its columns are named) and local day, each with its local time."""
    days = defaultdict(list)
    columns = [*series, "time_utc", "temperature_degc"]
    for *of, time, degc in zip(*(table.column(name).to_pylist() for name in columns)):
        local = time.astimezone(zone)
        if degc is not None:
            days[*of, local.date()].append((local, degc))
    return days


def day_number(date):
    return f"{date:%a} {date.day} {date:%b}"


def means_of_days(check, page, aligned, weather):
    """Means of days, from the rows of the aligned table and of the weather."""
    r = check.results
    means = {(h, room, day_number(d)): sum(v for _, v in x) / len(x) for (h, room, d), x in aligned.items()}
    outdoors = {day_number(d): sum(v for _, v in x) / len(x) for (d,), x in weather.items()}
    for table in (t for t in page.tables if t["caption"].startswith("Means of the days")):
        home, head, rows = r.homes[table["home"]], table["rows"][0], table["rows"][1:]
        for row in rows:
            for room, text in zip(head[1:], row[1:]):
                day = row[0].strip()
                if text.strip() != "–":
                    mean = outdoors[day] if room == "Outdoors" else means[home, room, day]
                    check.cell(f"{home} {room} {day}", text, r.degrees(mean))


def off_the_band(check, page, aligned, side):
    """Hours below the band of each day (or above it), and the most, from the rows of the aligned table."""
    r = check.results
    band = r.site.get("band", {})
    edge, sign = ("lower", 1) if side == "below" else ("upper", -1)
    if edge not in band:
        return
    clock = lambda text: int(text[:2]) * 60 + int(text[3:5])
    night = band.get("night")
    dark = (clock(night.get("from", "22:00")), clock(night.get("to", "06:00"))) if night else (0, 0)

    def limit(local):
        since = (local.hour * 60 + local.minute - dark[0]) % 1440
        return r.temperature((night if since < (dark[1] - dark[0]) % 1440 else band)[edge])

    step_h = float(NUMBER.search(r.site["site"].get("step", "5 min")).group()) / 60
    days = defaultdict(lambda: (0.0, 0.0))
    for (home, room, date), values in aligned.items():
        off = [k for k in (sign * (limit(t) - v) for t, v in values) if k > 0]
        days[home, room, day_number(date)] = (len(off) * step_h, max(off, default=0.0))
    for table in (t for t in page.tables if t["caption"].startswith(f"Days with hours {side}")):
        home = r.homes[table["home"]]
        rooms = {room for h, room, _ in days if h == home}
        rows = [(row[0].strip(), row) for row in table["rows"][1:]]
        fits = lambda room: all(is_printed(*printed(row[1])[0], days[home, room, day][0]) for day, row in rows)
        room = next((room for room in sorted(rooms) if fits(room)), None)
        if room is None:
            check.problems.append(f"{home}: the days {side} the band are those of no room")
            continue
        for day, row in rows:
            check.cell(f"{home} {room} {day}", row[2], r.difference(days[home, room, day][1]))


def tables(check, page):
    r, left = check.results, []
    for table in page.tables:
        caption, rows = table["caption"].strip(), table["rows"][1:]
        home = r.homes.get(table["home"])
        period = next((p for p in r.periods if caption == f"Rooms in {p}"), None)
        if caption.startswith("Acceptance"):
            check.acceptance(home, rows)
        elif caption.startswith("Offset from the heated rooms"):
            check.offsets(home, rows)
        elif caption.startswith("Spread in"):
            check.spreads(rows)
        elif period:
            check.rooms(home, period, rows)
        elif caption.startswith("Rooms in °"):
            check.rooms_on_one_axis(rows)
        elif "todo" in table["classes"]:
            check.happened(rows)
        elif not caption.startswith((*DRAWN, "Means of the days", "Days with hours ", "Evenness", "Warm again", "Hours below the minimum", "Longest times")):
            left.append(caption)
    return left


def main():
    site, folder = Path(sys.argv[1]), Path(sys.argv[2])
    results = Results(site, folder)
    page, check = Page(), Check(results)
    page.feed((folder / "report.html").read_text(encoding="utf-8"))
    left = tables(check, page)
    check.sentences(page.told)
    outdoors = [results.value("", "", f"outdoor_{end}") for end in ("minimum", "maximum")]
    if outdoors[0] is not None:
        check.cell("outdoors", page.judged.partition("outdoors ")[2].partition(" ·")[0], *map(results.degrees, outdoors))
    aligned = by_day(pq.read_table(folder / "aligned.parquet"), results.zone, ["home", "room"])
    weather = folder / "weather.parquet"
    weather = by_day(pq.read_table(weather), results.zone, []) if weather.exists() else {}
    means_of_days(check, page, aligned, weather)
    for side in ("below", "above"):
        off_the_band(check, page, aligned, side)
    check.problems += [f"nobody looks at the table {caption!r}" for caption in left]
    print(f"{check.held} numbers of {len(page.tables)} tables and {len(page.told)} sentences held against the results")
    print("\n".join(check.problems[:40]) or "nothing wrong was seen")
    return 1 if check.problems or check.held < 100 else 0


if __name__ == "__main__":
    sys.exit(main())
