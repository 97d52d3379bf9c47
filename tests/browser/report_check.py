"""Looks at a report in a headless browser: report_check.py FOLDER_OF_RESULTS...

At the sizes of a desktop, a tablet and a phone, at 200 %, in the dark and in print: the first screen names every home that
needs something (of a large building the counts and the five worst), no errors, nothing asked of the network, nothing wider than
the page, letters of charts never under 11 px and never over each other at the right end, values are read off and charts zoomed
by keyboard, and axe-core finds nothing. With scripts switched off all of it can be read. Printed, a home has one sheet of two
pages.
"""

import csv
import importlib.metadata
import re
import sys
from pathlib import Path

from browser import PAPER, browser, open_at, pages_on

DESKTOP, TABLET, PHONE = (1280, 800), (640, 900), (390, 844)
# Homes of which the first screen names all that need something; pages before the homes.
SMALL_BUILDING, BUILDING_PAGES = 40, 3
MUST_SAY = ["no legal finding", "How this was found", "homes: ", "Every room on one axis"]

LOOK = """
const shown = node => { const box = node.getBoundingClientRect(); return box.width > 0 && box.height > 0; };
const folded = node => node.closest('details:not([open])') !== null;
const links = [...document.querySelectorAll('.first a[href^="#home-"]')];
const texts = [...document.querySelectorAll('svg text')].filter(t => shown(t) && !folded(t));
const crossed = [];
for (const ends of document.querySelectorAll('svg.ends')) {
  const boxes = [...ends.querySelectorAll('text')].filter(shown).map(t => t.getBoundingClientRect());
  boxes.forEach((a, i) => boxes.slice(i + 1).forEach(b => { if (a.top < b.bottom - 3 && b.top < a.bottom - 3) crossed.push(ends.textContent); }));
}
const edge = document.documentElement.clientWidth;
return {
  wide: document.documentElement.scrollWidth - edge,
  first: [...new Set(links.filter(a => shown(a) && a.getBoundingClientRect().bottom <= innerHeight && a.getBoundingClientRect().left < edge).map(a => a.getAttribute('href')))],
  links: [...new Set(links.map(a => a.getAttribute('href')))],
  broken: links.map(a => a.getAttribute('href')).filter(h => !document.getElementById(h.slice(1))),
  outside: performance.getEntriesByType('resource').map(e => e.name),
  curves: [...document.querySelectorAll('path.line[data-name]')].filter(p => p.getTotalLength() > 100).length,
  small: texts.filter(t => parseFloat(getComputedStyle(t).fontSize) < 11).map(t => t.textContent),
  cut: texts.filter(t => { const box = t.getBoundingClientRect(); return box.left < -1 || box.right > edge + 1; }).map(t => t.textContent),
  crossed, text: document.body.innerText, all: document.body.textContent,
};
"""
KEYS = """
const svg = document.querySelector('svg.whole[data-from]'), figure = svg.closest('figure'), stage = figure.querySelector('.stage');
const press = key => stage.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true }));
const view = () => svg.querySelector('svg.plot').getAttribute('viewBox');
const read = () => figure.querySelector('.read').textContent;
stage.focus();
const seen = { focused: document.activeElement === stage, before: view() };
press('ArrowRight'); seen.first = read();
press('Home'); seen.home = read(); press('End'); seen.end = read();
press('+'); seen.zoomed = view(); seen.ticks = figure.querySelectorAll('.ticks text').length;
press('Escape'); seen.after = view(); seen.gone = read();
seen.names = [...svg.querySelectorAll('path.line[data-name]')].map(p => p.dataset.name);
return seen;
"""


def look(driver, where, needing, large, problems):
    seen = driver.execute_script(LOOK)
    problems += [f"{where}: {log['message']}" for log in driver.get_log("browser")]
    problems += [f"{where}: asks for {name}" for name in seen["outside"]]
    problems += [f"{where}: no section for {name}" for name in seen["broken"]]
    problems += [f"{where}: does not say \"{text}\"" for text in MUST_SAY if text not in seen["all"]]
    problems += [f"{where}: shows {word}" for word in ("NaN", "inf ", "undefined") if word in seen["text"]]
    problems += [f"{where}: letters under 11 px: {text}" for text in seen["small"][:5]]
    problems += [f"{where}: cut at the edge: {text}" for text in seen["cut"][:5]]
    problems += [f"{where}: names over each other: {text}" for text in seen["crossed"][:5]]
    if seen["wide"] > 0:
        problems.append(f"{where}: the page is {seen['wide']} px too wide")
    if not seen["links"] or seen["curves"] < 2 * len(seen["links"]):
        problems.append(f"{where}: {len(seen['links'])} homes with {seen['curves']} curves")
    named = len([home for home in needing if anchor(home) in seen["first"]])
    asked = min(len(needing), 5) if large else len(needing)
    return named, asked, len(seen["links"])


def anchor(home):
    """The link to a home's page, as the report makes it."""
    plain = "".join(c if re.fullmatch("[A-Za-z0-9]", c) else f"_{ord(c):x}_" for c in home)
    return f"#home-{plain}"


def keyboard(driver, problems):
    seen = driver.execute_script(KEYS)
    if not seen["focused"]:
        problems.append("keyboard: a chart cannot be focused")
    for moment in ("first", "home", "end"):
        if not all(name in seen[moment] for name in seen["names"]) or not re.search(r"\d\d:\d\d", seen[moment]):
            problems.append(f"keyboard: read off at {moment}: {seen[moment]!r}")
    if seen["home"] == seen["end"] or seen["zoomed"] == seen["before"] or not 2 <= seen["ticks"] <= 9:
        problems.append(f"keyboard: no move or zoom: {seen}")
    if seen["after"] != seen["before"] or seen["gone"]:
        problems.append("keyboard: Escape does not go back")


# What can be read without a script: sections, tables and charts have a size, or stand in what a click on its summary opens.
PLAIN = """
const folded = node => node.closest('details:not([open])') !== null, shown = node => { const box = node.getBoundingClientRect(); return box.width > 0 && box.height > 0; };
document.querySelectorAll('details').forEach(node => { node.open = true; });
const lost = of => [...document.querySelectorAll(of)].filter(node => !shown(node)).map(node => of + ' ' + node.textContent.trim().slice(0, 40));
const sections = [...document.querySelectorAll('section.home')];
return {
  lost: [...lost('section'), ...lost('main table'), ...lost('main figure'), ...lost('main svg.whole'), ...lost('summary'), ...lost('section.home h2'), ...lost('p.lead')],
  homes: sections.length, without: sections.filter(s => !s.querySelector('.cards table') || !s.querySelector('h2')).map(s => s.id),
  curves: [...document.querySelectorAll('path.line[data-name]')].filter(p => p.getTotalLength() > 100).length,
  wide: document.documentElement.scrollWidth - document.documentElement.clientWidth,
  ran: document.querySelector('line.cursor') !== null, folded: [...document.querySelectorAll('main table')].filter(folded).length,
};
"""


def without_scripts(driver, page, problems):
    """Everything can be read where no script runs: nothing waits for one to be shown."""
    driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        for size in (DESKTOP, PHONE):
            open_at(driver, page, size)
            seen, where = driver.execute_script(PLAIN), f"without scripts, {size[0]} px"
            problems += [f"{where}: not to be seen: {what}" for what in seen["lost"][:5]]
            problems += [f"{where}: no criteria or no name in {home}" for home in seen["without"][:5]]
            if not seen["homes"] or seen["curves"] < 2 * seen["homes"] or seen["folded"]:
                problems.append(f"{where}: {seen['homes']} homes with {seen['curves']} curves, {seen['folded']} tables shut")
            if seen["wide"] > 0 or seen["ran"]:
                problems.append(f"{where}: {seen['wide']} px too wide, or a script ran")
            print(f"{where}: {seen['homes']} homes with {seen['curves']} curves can be read")
    finally:
        driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


AXE = """
const done = arguments[arguments.length - 1];
// Homes are made alike: two of them stand for all, and each chart's paths for one.
[...document.querySelectorAll('section.home')].slice(2).forEach(home => home.remove());
document.querySelectorAll('svg path, svg circle, .trace tbody tr:nth-child(n+9)').forEach(node => node.remove());
document.querySelectorAll('details').forEach(folded => { folded.open = true; });
axe.run(document, { resultTypes: ['violations'] }).then(
  result => done(result.violations.map(v => [v.id, v.help, v.nodes.length, v.nodes[0].html.slice(0, 200), v.nodes[0].failureSummary])),
  error => done([['failed', String(error), 1, '', '']]));
"""


def accessible(driver, script, where, problems):
    driver.execute_script(script)
    found = driver.execute_async_script(AXE)
    problems += [
        f"{where}: axe-core {rule}: {what} ({count} times, first {html}: {why})" for rule, what, count, html, why in found
    ]


def printed(driver, homes, problems):
    for name in PAPER:
        pages = pages_on(driver, name, preferCSSPageSize=False, printBackground=False)
        print(f"print on {name}: {pages} pages for {homes} homes")
        if not 2 * homes < pages <= 2 * homes + BUILDING_PAGES:
            problems.append(f"print on {name}: {pages} pages for {homes} homes")


def needing_something(folder):
    """Homes that are not accepted, by the table of criteria."""
    with open(folder / "acceptance.csv", newline="", encoding="utf-8") as table:
        rows = {row["home"]: row["standing"] for row in csv.DictReader(table)}
    # The table's text cells are guarded against being taken for formulas.
    return [home.removeprefix("'") for home, standing in rows.items() if not standing.startswith("accept")]


def check(driver, folder, script, as_printed):
    page, problems = (folder / "report.html").resolve().as_uri(), []
    needing = needing_something(folder)
    for size in (DESKTOP, TABLET, PHONE):
        open_at(driver, page, size)
        where = f"{size[0]} × {size[1]}"
        named, asked, homes = look(driver, where, needing, len(needing) > SMALL_BUILDING, problems)
        print(f"{where}: {homes} homes, {named} of {asked} that need something on the first screen")
        if size != TABLET and named < asked and as_printed:
            problems.append(f"{where}: {named} of {asked} homes that need something on the first screen")
        if size == DESKTOP:
            keyboard(driver, problems)
        accessible(driver, script, where, problems)
    without_scripts(driver, page, problems)
    open_at(driver, page, (640, 400), scale=2)
    look(driver, "200 %", needing, True, problems)
    open_at(driver, page, DESKTOP, dark=True)
    look(driver, "dark", needing, True, problems)
    ground = driver.execute_script("return getComputedStyle(document.body).backgroundColor")
    if max(int(c) for c in re.findall(r"\d+", ground)[:3]) > 60:
        problems.append(f"dark: the page is {ground}")
    accessible(driver, script, "dark", problems)
    open_at(driver, page, DESKTOP)
    if as_printed:
        printed(driver, homes, problems)
    return problems


def axe():
    files = importlib.metadata.files("axe-playwright-python") or []
    return next(file for file in files if file.name == "axe.min.js").read_text(encoding="utf-8")


def main():
    folders = [argument for argument in sys.argv[1:] if argument != "--odd-names"]
    problems = []
    with browser() as driver:
        driver.set_script_timeout(110)
        for folder in folders:
            # Names that are longer than a page is wide change what fits on a sheet.
            problems += check(driver, Path(folder), axe(), "--odd-names" not in sys.argv)
    print("\n".join(problems) or "nothing wrong was seen")
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
