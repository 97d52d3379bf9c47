"""Which mutants there are, and a sample of them that a change of the code elsewhere leaves as it is."""

import hashlib
import json
import subprocess
from collections import Counter
from pathlib import Path

from rewrite import Mutant

ROOMS = ["stats", "metrics", "quality", "grid", "exports"]


def listed(checkout: Path, rooms: list[str]) -> list[Mutant]:
    """Every mutant of the rooms that stands in a function, in order; only there can one be chosen as the program runs."""
    patterns = [part for room in rooms for part in ("-f", f"src/{room}.rs", "-f", f"src/{room}/**")]
    command = ["cargo", "mutants", "--list", "--json", "--diff", *patterns]
    found = json.loads(subprocess.run(command, cwd=checkout, check=True, capture_output=True).stdout)
    print(f"{len(found)} mutants of {', '.join(rooms)}; {sum(not m['function'] for m in found)} of them outside of functions")
    found = [mutant for mutant in found if mutant["function"]]
    found.sort(key=lambda m: (m["file"], place(m["span"]["start"]), m["name"]))
    return [
        Mutant(
            number=number,
            name=m["name"],
            file=m["file"],
            function=m["function"]["function_name"].rsplit("::", 1)[-1],
            function_start=place(m["function"]["span"]["start"]),
            function_end=place(m["function"]["span"]["end"]),
            start=place(m["span"]["start"]),
            end=place(m["span"]["end"]),
            replacement=m["replacement"],
            diff=m["diff"],
        )
        for number, m in enumerate(found)
    ]


def place(at: dict) -> tuple[int, int]:
    return at["line"], at["column"]


def drawn(mutants: list[Mutant], seed: int) -> list[Mutant]:
    """All of them in the order of the draw: each has its lot by seed, file, words, and which of its like it is."""
    like: Counter = Counter()
    lots = []
    for mutant in mutants:
        words = f"{mutant.file} {mutant.name.split(': ', 1)[1]}"
        like[words] += 1
        lots.append((hashlib.sha256(f"{seed} {words} {like[words]}".encode()).hexdigest(), mutant))
    return [mutant for _, mutant in sorted(lots, key=lambda lot: lot[0])]
