"""What the tests share: the sample, the program that cargo built, and what it writes."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parents[3]
SAMPLE = PROJECT / "sample_data"
# The command that the wheel brought with it.
COMMAND = Path(sys.executable).with_name("evenrooms")


@pytest.fixture(scope="session")
def program() -> str:
    """The program that cargo built, which the wheel's command is held against."""
    return os.environ["EVENROOMS"]


def run(command, *words, **more):
    """Runs a program in the project's folder; what it said comes as text."""
    words = [str(word) for word in (command, *words)]
    return subprocess.run(words, cwd=PROJECT, capture_output=True, text=True, **more)


@pytest.fixture(scope="session")
def results(program, tmp_path_factory) -> Path:
    """The folder that the program makes of the sample."""
    out = tmp_path_factory.mktemp("program") / "out"
    ran = run(program, "audit", "sample_data/site.toml", "--out", out)
    assert ran.returncode == 0, ran.stderr
    return out


@pytest.fixture(scope="session")
def audit():
    """The sample, audited from Python."""
    import evenrooms

    return evenrooms.audit(SAMPLE / "site.toml")
