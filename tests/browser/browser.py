"""A headless browser for the checks beside this file: opened once, set to a size and to light or dark, and made to print."""

import base64
import re
import shutil
import tempfile
from contextlib import contextmanager

from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.support.ui import WebDriverWait

FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
).split()
# Pages of paper, in inches.
PAPER = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
# How long a page may take to open, in seconds, on a machine that does other things too.
PATIENCE = 60


@contextmanager
def browser():
    with tempfile.TemporaryDirectory() as profile:
        options = webdriver.ChromeOptions()
        for flag in [*FLAGS, f"--user-data-dir={profile}"]:
            options.add_argument(flag)
        options.binary_location = shutil.which("chromium")
        options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
        driver = webdriver.Chrome(options=options, service=Service(shutil.which("chromedriver")))
        try:
            yield driver
        finally:
            driver.quit()


def open_at(driver, page, size, scale=1, dark=False):
    width, height = size
    driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": scale, "mobile": width < 600},
    )
    scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [scheme]})
    # A page that is opened again may answer while it is still being parsed: away from it first, then wait for all of it.
    driver.get("about:blank")
    driver.get(page)
    WebDriverWait(driver, PATIENCE).until(
        lambda open_page: open_page.execute_script(
            "return document.readyState === 'complete' && document.URL !== 'about:blank'"
        )
    )


def pages_on(driver, paper, **how):
    """How many pages of a paper the open page prints on; `how`: more for the browser's own command."""
    width, height = PAPER[paper]
    pdf = driver.execute_cdp_cmd("Page.printToPDF", {"paperWidth": width, "paperHeight": height, **how})["data"]
    return len(re.findall(rb"/Type\s*/Page[^s]", base64.b64decode(pdf)))
