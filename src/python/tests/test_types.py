"""What type checkers and editors are told is what is there."""

import subprocess
import sys

USES = '''
import evenrooms
import polars

audit = evenrooms.audit("site.toml", {"a.csv": b"", "b.csv": polars.DataFrame()}, tables=["metrics"])
table: evenrooms.Table = audit["metrics"]
frame: polars.DataFrame = table.to_polars()
places: list[str] = [note.place for note in audit.notes]
metrics: evenrooms.Table = evenrooms.metrics(frame, "site.toml", weather=audit["weather"])
'''
WRONG = '''
import evenrooms

evenrooms.audit(3)
evenrooms.audit("site.toml", threads="two")
evenrooms.metrics([], "site.toml")
'''


def check(*words):
    return subprocess.run([sys.executable, "-m", *words], capture_output=True, text=True)


def test_stubs_are_what_the_package_has(tmp_path):
    # These have no types of their own.
    settings = tmp_path / "mypy.ini"
    settings.write_text("[mypy]\n[mypy-pyarrow.*,pandas.*]\nignore_missing_imports = True\n")
    told = check("mypy.stubtest", "evenrooms", "--ignore-missing-stub", "--mypy-config-file", str(settings))
    assert told.returncode == 0, told.stdout + told.stderr


def test_a_checker_takes_what_is_right_and_no_more(tmp_path):
    (tmp_path / "uses.py").write_text(USES)
    (tmp_path / "wrong.py").write_text(WRONG)
    told = check("mypy", "--strict", "--cache-dir", str(tmp_path / "cache"), str(tmp_path / "uses.py"))
    assert told.returncode == 0, told.stdout
    told = check("mypy", "--strict", "--cache-dir", str(tmp_path / "cache"), str(tmp_path / "wrong.py"))
    assert told.stdout.count("error: ") == 3, told.stdout
