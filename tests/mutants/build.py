"""The copy that holds the mutants, and what the compiler makes of it."""

import json
import os
import re
import shutil
import subprocess
from pathlib import Path

from rewrite import Mutant, numbers_at, plant

# The mutants' own way of being wrong is no fault of the copy.
LIB_HEAD = "#![allow(warnings, arithmetic_overflow, unconditional_panic, unconditional_recursion)]\nmod mutant;\n"
# All tests audit for most of their time, which optimised libraries are worth; the library's own tests hardly do.
OPTIONS = ["--locked", "--message-format=json", "--config", "profile.dev.package.evenrooms.debug=false"]
OPTIMISED = ["--config", "profile.dev.debug=false", "--config", "profile.dev.opt-level=1"]
LEFT_OUT = shutil.ignore_patterns("target", ".git", "__pycache__")


class Copy:
    """A checkout of its own, with a target folder that is not the checkout's."""

    def __init__(self, checkout: Path, folder: Path, target: Path, unit: bool):
        self.checkout, self.folder, self.unit = checkout, folder, unit
        self.environment = {**os.environ, "CARGO_TARGET_DIR": str(target)}
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(checkout, folder, ignore=LEFT_OUT)
        shutil.copy(Path(__file__).parent / "mutant.rs", folder / "src/mutant.rs")
        self.with_switch("src/lib.rs")

    def with_switch(self, file: str) -> None:
        """The library's door with the switch behind its head, where attributes may stand."""
        text = (self.checkout / file).read_text(encoding="utf-8")
        head = re.match(r"(?://!.*\n|\s*\n)*", text)[0]
        attributes, module = LIB_HEAD.split("\n", 1)
        (self.folder / file).write_text(f"{head}{attributes}\n{text[len(head):]}\n{module}", encoding="utf-8")

    def cargo(self, *command: str) -> tuple[int, list[dict], str]:
        """What cargo comes to, its messages, and what it says to people."""
        ran = subprocess.run(
            ["cargo", *command, *OPTIONS, *([] if self.unit else OPTIMISED)], cwd=self.folder, env=self.environment, capture_output=True, text=True
        )
        return ran.returncode, [json.loads(line) for line in ran.stdout.splitlines() if line.startswith("{")], ran.stderr

    def planted(self, orders: list[list[Mutant]], count: int, known: set[str]) -> tuple[list[list[Mutant]], set[Mutant], set[Mutant]]:
        """A sample of each order: its first `count` that can be chosen as the program runs, all planted but for those that
        are known by name or turned down by the compiler; these last; and what cannot be chosen beside its original."""
        unviable: set[Mutant] = set()
        set_aside: set[Mutant] = set()
        planted: set[Mutant] = set()
        while True:
            samples = [[mutant for mutant in order if mutant not in set_aside][:count] for order in orders]
            for file in {mutant.file for mutant in planted}:
                shutil.copy(self.checkout / file, self.folder / file)
            planted = {mutant for sample in samples for mutant in sample if mutant.name not in known} - unviable
            plant(self.checkout, self.folder, planted)
            code, messages, said = self.cargo("check", "--lib")
            if code == 0:
                return samples, unviable, set_aside
            wrong, entangled = blamed(self.folder, planted, messages)
            if not wrong and not entangled:
                raise SystemExit(f"the copy does not build, and no mutant is to blame:\n{said}\n{texts(messages)}")
            unviable |= {mutant for mutant in planted if mutant.number in wrong}
            set_aside |= {mutant for mutant in planted if mutant.number in entangled}

    def binaries(self) -> dict[str, Path]:
        """The test binaries by name: the library's own tests, and with them the program's and `all`."""
        which = ["--lib"] if self.unit else ["--lib", "--bins", "--test", "all"]
        code, messages, said = self.cargo("test", "--no-run", *which)
        if code != 0:
            raise SystemExit(f"the tests do not build:\n{said}\n{texts(messages)}")
        made = [m for m in messages if m["reason"] == "compiler-artifact" and m["profile"]["test"] and m["executable"]]
        return {f"{m['target']['kind'][0]} {m['target']['name']}": Path(m["executable"]) for m in made}


def errors(messages: list[dict]) -> list[dict]:
    found = [m["message"] for m in messages if m["reason"] == "compiler-message"]
    return [m for m in found if m["level"].startswith("error") and m["spans"]]


def texts(messages: list[dict]) -> str:
    return "\n".join(message["rendered"] for message in errors(messages)[:5])


def places(spans: list[dict]) -> list[tuple[str, int, bool]]:
    """File, line and whether it is what the error is about; of macros the place that calls them."""
    found = []
    for span in spans:
        primary = span["is_primary"]
        while not span["file_name"].startswith("src/") and span["expansion"]:
            span = span["expansion"]["span"]
        if span["file_name"].startswith("src/"):
            found.append((span["file_name"], span["line_start"], primary))
    return found


def blamed(folder: Path, planted: set[Mutant], messages: list[dict]) -> tuple[set[int], set[int]]:
    """Mutants in whose changed body an error stands, and those that only their standing together puts wrong."""
    wrong: set[int] = set()
    entangled: set[int] = set()
    for error in errors(messages):
        about, beside = set(), set()
        for file, line, primary in places(error["spans"]):
            numbers, asleep = numbers_at((folder / file).read_text(encoding="utf-8"), line)
            (about if primary and not asleep else beside).update(numbers)
        if not about and not beside:
            named = set(re.findall(r"\w+", " ".join(re.findall(r"`([^`]+)`", error["message"]))))
            beside = {m.number for m in planted if m.function in named}
        wrong |= about
        entangled |= set() if about else beside
    return wrong, entangled - wrong
