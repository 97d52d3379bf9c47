"""Looks at the pages that stand alone in a headless browser: sheets_check.py COMPLAINT.html [PAGE.html ...]

Every page, at desktop and phone width, light and dark: no errors, nothing asked of the network, nothing wider than the page.
The complaint sheet, which has its numbers in a .json file beside it: one sheet of paper on A4 and on Letter, with the answer, both
sides' doubts and places to sign; every number of its table is that of the file, and every decimal of its words is found there.
"""

import json
import re
import sys
from pathlib import Path

from browser import PAPER, browser, open_at, pages_on

LOOK = """
const wide = document.documentElement.scrollWidth - document.documentElement.clientWidth;
return {
  wide,
  outside: performance.getEntriesByType('resource').map(e => e.name),
  text: document.body.innerText,
  ground: getComputedStyle(document.body).backgroundColor,
};
"""
SHEET = """
const rows = table => [...table.querySelectorAll('tbody tr')].map(tr => [...tr.children].map(td => td.innerText.trim()));
const table = [...document.querySelectorAll('table')].find(t => t.caption && t.caption.innerText.startsWith('Hours below'));
const words = [...document.querySelectorAll('main h1, main > p, main .two p, main .loggers td')].map(e => e.innerText);
return { rows: table ? rows(table) : [], words };
"""
MUST_SAY = ["was it warm enough", "no legal finding", "carbon monoxide", "Received for the owner, date", "Received for the household, date", "May not be said",
            "Why it may have been colder than shown", "Why it may have been warmer than shown"]


def look(driver, page, width, dark, problems):
    name = f"{page.name}, {width} px, {'dark' if dark else 'light'}"
    open_at(driver, page.as_uri(), (width, 900), dark=dark)
    seen = driver.execute_script(LOOK)
    problems += [f"{name}: {log['message']}" for log in driver.get_log("browser")]
    problems += [f"{name}: asks for {asked}" for asked in seen["outside"]]
    problems += [f"{name}: shows {word}" for word in ("NaN", "inf ", "null") if word in seen["text"]]
    if seen["wide"] > 0:
        problems.append(f"{name}: the page is {seen['wide']} px too wide")
    light_ground = sum(map(int, re.findall(r"\d+", seen["ground"])[:3])) > 380
    if light_ground == dark:
        problems.append(f"{name}: the ground is {seen['ground']}")
    return seen["text"]


def numbers_in(value):
    """All numbers of a JSON value."""
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        return [number for item in value for number in numbers_in(item)]
    return [float(value)] if isinstance(value, (int, float)) and not isinstance(value, bool) else []


def known(numbers, printed):
    """Whether a decimal is one of the numbers, as it is, as °F, or as a difference in °F."""
    decimals = len(printed.split(".")[1])
    wanted = float(printed)
    ways = (lambda x: x, lambda x: x * 9 / 5 + 32, lambda x: x * 9 / 5)
    half = 0.5 * 10**-decimals + 1e-9
    return any(abs(abs(way(x)) - wanted) <= half for x in numbers for way in ways)


def check_numbers(seen, beside, limits, problems):
    columns = ["as_read_h", "certain_h", "possible_h", "judged_h", "unjudged_h", "longest_h"]
    rooms = {room["room"] or "the mean of the rooms": room for room in beside["rooms"]}
    if [row[0] for row in seen["rows"]] != list(rooms):
        problems.append(f"the rooms of the table are {[row[0] for row in seen['rows']]}")
    for row in seen["rows"]:
        for column, cell in zip(columns, row[1:]):
            value = rooms[row[0]][column]
            if cell != "–" and (value is None or abs(float(cell) - value) > 0.05 + 1e-9):
                problems.append(f"{row[0]}, {column}: {cell} on the sheet, {value} in the file")
    # What a test of readings goes by is a setting, and stands with the settings of the same file.
    numbers = numbers_in(beside) + numbers_in(limits)
    printed = [p for words in seen["words"] for p in re.findall(r"(?<![\w.:/-])\d+\.\d+(?![\w.:/-]*\d)", words)]
    problems += [f"{number} is on the sheet, and in no number of the file" for number in printed if not known(numbers, number)]
    counted = [m for words in seen["words"] for m in re.findall(r"in (\d+) of (\d+) rooms", words)]
    of_all = beside["of_all_rooms"]
    if of_all and counted != [(str(of_all["rooms_judged"]), str(of_all["rooms"]))]:
        problems.append(f"rooms judged: {counted} on the sheet, {of_all}")
    print(f"{len(seen['rows'])} rooms, {len(printed)} decimals in words and tables")
    if not printed and of_all:
        problems.append("no number was found on the sheet")


def main():
    pages = [Path(name).resolve() for name in sys.argv[1:]]
    problems = []
    with browser() as driver:
        for page in pages:
            for width, dark in ((1280, False), (390, False), (1280, True)):
                text = look(driver, page, width, dark, problems)
            beside = page.with_suffix(".json")
            if beside.exists():
                problems += [f'does not say "{words}"' for words in MUST_SAY if words not in text]
                told = json.loads(beside.read_text())
                check_numbers(driver.execute_script(SHEET), told["sheet"], told["settings"]["quality"], problems)
                for paper in PAPER:
                    count = pages_on(driver, paper, preferCSSPageSize=True)
                    print(f"{page.name}: {count} page(s) of {paper}")
                    if count != 1:
                        problems.append(f"{page.name}: {count} pages of {paper}, expected one")
            else:
                print(f"{page.name}: {pages_on(driver, 'A4', preferCSSPageSize=True)} pages of A4")
    print("\n".join(problems) or "nothing wrong was seen")
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
