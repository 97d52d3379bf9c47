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
# Tests run for longer than the crate builds.
OPTIONS = ["--locked", "--message-format=json", "--config", "profile.dev.package.evenrooms.opt-level=1"]
LEFT_OUT = shutil.ignore_patterns("target", ".git", "__pycache__")


class Copy:
    """A checkout of its own, with a target folder that is not the checkout's."""

    def __init__(self, checkout: Path, folder: Path, target: Path):
        self.checkout, self.folder = checkout, folder
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
            ["cargo", *command, *OPTIONS], cwd=self.folder, env=self.environment, capture_output=True, text=True
        )
        return ran.returncode, [json.loads(line) for line in ran.stdout.splitlines() if line.startswith("{")], ran.stderr

    def planted(self, order: list[Mutant], count: int) -> tuple[list[Mutant], list[Mutant], list[Mutant]]:
        """The first mutants in order that can be chosen as the program runs and that compile: `count` less those that
        the compiler turns down; these; and those that cannot be told apart as the program runs, which others stand for."""
        coming = iter(order)
        alive = [mutant for mutant, _ in zip(coming, range(count))]
        unviable: list[Mutant] = []
        set_aside: list[Mutant] = []
        while True:
            plant(self.checkout, self.folder, alive)
            code, messages, said = self.cargo("check", "--lib")
            if code == 0:
                return alive, unviable, set_aside
            wrong, entangled = blamed(self.folder, alive, messages)
            if not wrong and not entangled:
                raise SystemExit(f"the copy does not build, and no mutant is to blame:\n{said}\n{texts(messages)}")
            print(f"  the compiler turns down {len(wrong)}, cannot choose between {len(entangled)}", flush=True)
            unviable += [m for m in alive if m.number in wrong]
            set_aside += [m for m in alive if m.number in entangled]
            files = {m.file for m in alive if m.number in wrong | entangled}
            for file in files:
                shutil.copy(self.checkout / file, self.folder / file)
            alive = [m for m in alive if m.number not in wrong | entangled]
            alive += [mutant for mutant, _ in zip(coming, range(len(entangled)))]

    def binaries(self) -> dict[str, Path]:
        """The test binaries by name: the library's own tests, and `all`."""
        code, messages, said = self.cargo("test", "--no-run", "--lib", "--bins", "--test", "all")
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


def blamed(folder: Path, alive: list[Mutant], messages: list[dict]) -> tuple[set[int], set[int]]:
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
            beside = {m.number for m in alive if m.function in named}
        wrong |= about
        entangled |= set() if about else beside
    return wrong, entangled - wrong
