"""Runs the blocks of a page in order, and holds what they print against what stands below each.

`python src/python/tests/recipes.py PAGE RESULTS` writes what they print into the page: read every line that changes.
"""

import contextlib
import io
import os
import re
import sys
import tempfile
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[3]
BLOCK = re.compile(r"```python\n(?P<code>.*?)```(?:\n\n```text\n(?P<shown>.*?)```)?", re.DOTALL)


def printed_by(page: str, text: str, results: Path, folder: Path):
    """Each block with what it printed, in a folder where the sample and its results are."""
    (folder / "sample_data").symlink_to(PROJECT / "sample_data")
    (folder / "audit-out").symlink_to(results)
    names = {"__name__": "page"}
    for number, block in enumerate(BLOCK.finditer(text), 1):
        said = io.StringIO()
        with contextlib.redirect_stdout(said), contextlib.chdir(folder):
            exec(compile(block["code"], f"{page}, block {number}", "exec"), names)
        yield block, "".join(line.rstrip() + "\n" for line in said.getvalue().rstrip().splitlines())


def main(page: str, results: str) -> None:
    """Writes what the blocks print into the page."""
    os.environ["MPLBACKEND"] = "Agg"
    text = Path(page).read_text()
    whole, at = "", 0
    with tempfile.TemporaryDirectory() as folder:
        for block, printed in printed_by(page, text, Path(results).resolve(), Path(folder)):
            shown = f"\n\n```text\n{printed}```" if printed else ""
            whole += text[at : block.start()] + f"```python\n{block['code']}```{shown}"
            at = block.end()
    Path(page).write_text(whole + text[at:])


if __name__ == "__main__":
    main(*sys.argv[1:])
