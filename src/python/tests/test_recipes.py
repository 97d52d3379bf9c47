"""The pages that show Python are run: what they print is what stands below."""

import pytest

from conftest import COMMAND, PROJECT
from recipes import printed_by

# Each with how many blocks it has, and how many pictures it draws.
PAGES = [("src/python/RECIPES.md", 14, 3), ("src/python/README.md", 1, 0), ("README.md", 1, 0)]


@pytest.mark.parametrize(("page", "blocks", "pictures"), PAGES)
def test_what_a_page_shows_is_what_comes_out(page, blocks, pictures, results, tmp_path, monkeypatch):
    monkeypatch.setenv("MPLBACKEND", "Agg")
    monkeypatch.setenv("PATH", str(COMMAND.parent), prepend=":")
    text = (PROJECT / page).read_text()
    ran = 0
    for ran, (block, printed) in enumerate(printed_by(page, text, results, tmp_path), 1):
        assert printed == (block["shown"] or ""), f"{page}, block {ran} prints:\n{printed}"
    assert ran == blocks
    assert len([path for path in tmp_path.glob("*.png") if path.stat().st_size > 10_000]) == pictures
