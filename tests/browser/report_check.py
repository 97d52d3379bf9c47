"""Looks at a report in a headless browser: report_check.py REPORT.html

At desktop and phone width: no errors, nothing asked of the network, nothing wider than the page, every home of the
overview has its section, curves have points. In print: a page per home at least.
"""

import base64
import re
import shutil
import sys
import tempfile
from pathlib import Path

from selenium import webdriver
from selenium.webdriver.chrome.service import Service

FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
).split()
LOOK = """
const wide = document.documentElement.scrollWidth - document.documentElement.clientWidth;
const links = [...document.querySelectorAll('table a[href^="#home-"]')].map(a => a.getAttribute('href'));
return {
  wide,
  links: links.length,
  broken: links.filter(h => !document.getElementById(h.slice(1))),
  outside: performance.getEntriesByType('resource').map(e => e.name),
  curves: [...document.querySelectorAll('svg path.curve')].filter(p => p.getTotalLength() > 100).length,
  text: document.body.innerText,
};
"""
MUST_SAY = ["no legal finding", "carbon monoxide", "Homes, the worst first", "How this was found"]


def look(driver, page, width, problems):
    driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 600},
    )
    driver.get(page)
    seen = driver.execute_script(LOOK)
    problems += [f"{width} px: {log['message']}" for log in driver.get_log("browser")]
    problems += [f"{width} px: asks for {name}" for name in seen["outside"]]
    problems += [f"{width} px: no section for {name}" for name in seen["broken"]]
    problems += [f"{width} px: does not say \"{text}\"" for text in MUST_SAY if text not in seen["text"]]
    problems += [f"{width} px: shows {word}" for word in ("NaN", "inf ", "null") if word in seen["text"]]
    if seen["wide"] > 0:
        problems.append(f"{width} px: the page is {seen['wide']} px too wide")
    if not seen["links"] or seen["curves"] < 2 * seen["links"]:
        problems.append(f"{width} px: {seen['links']} homes with {seen['curves']} curves")
    print(f"{width} px: {seen['links']} homes, {seen['curves']} curves, {len(seen['text'])} characters")
    return seen["links"]


def main():
    page = Path(sys.argv[1]).resolve().as_uri()
    problems = []
    with tempfile.TemporaryDirectory() as profile:
        options = webdriver.ChromeOptions()
        for flag in [*FLAGS, f"--user-data-dir={profile}"]:
            options.add_argument(flag)
        options.binary_location = shutil.which("chromium")
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        driver = webdriver.Chrome(options=options, service=Service(shutil.which("chromedriver")))
        try:
            homes = [look(driver, page, width, problems) for width in (1200, 390)]
            pdf = base64.b64decode(driver.execute_cdp_cmd("Page.printToPDF", {})["data"])
        finally:
            driver.quit()
    pages = len(re.findall(rb"/Type\s*/Page[^s]", pdf))
    print(f"print: {pages} pages")
    if pages <= homes[0]:
        problems.append(f"print: {pages} pages for {homes[0]} homes")
    print("\n".join(problems) or "nothing wrong was seen")
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
