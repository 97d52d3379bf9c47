"""From mutants to a copy of the source that holds them all, each asleep until it is called by its number.

A function with mutants becomes `if mutant::is(17) { its body, changed } else { its body }`. Functions that give
`impl Iterator` wrap each body, for their types differ; `const fn` becomes `fn`.
"""

import re
from dataclasses import dataclass
from pathlib import Path

# What may hold braces that are none: comments, strings, characters (but not lifetimes).
NO_CODE = re.compile(
    r"""//[^\n]*|/\*.*?\*/|\bb?r(?P<hashes>#*)".*?"(?P=hashes)|"(?:\\.|[^"\\])*"|'(?:\\(?:u\{\w+\}|x\w\w|.)|[^'\\\n])'""",
    re.S,
)
MARK = re.compile(r"// (?:mutants? (?P<numbers>[\d ]+)(?P<asleep> asleep)?|(?P<end>mutant's end))$")


@dataclass(frozen=True)
class Mutant:
    """One change: `replacement` stands for what is from `start` to `end` in a file, places as (line, column) from 1."""

    number: int
    name: str
    file: str
    function: str
    function_start: tuple[int, int]
    function_end: tuple[int, int]
    start: tuple[int, int]
    end: tuple[int, int]
    replacement: str
    diff: str


def masked(text: str) -> str:
    """The text with everything blank that is no code, of the same length."""
    return NO_CODE.sub(lambda found: re.sub(r"[^\n]", " ", found[0]), text)


def opening(code: str, end: int) -> int:
    """Where the block opens that closes right before `end`, in masked code."""
    depth = 0
    for at in range(end - 1, -1, -1):
        depth += (code[at] == "}") - (code[at] == "{")
        if depth == 0:
            return at
    raise ValueError("a function without a body")


def with_bodies(text: str, opens: int, span: tuple[int, int], changes: list[tuple[int, int, int, str]]) -> str:
    """The function with a body for each change (number, from, to, replacement), and its own."""
    start, end = span
    signature = re.sub(r"\bconst fn\b", "fn", text[start:opens])
    differ = re.search(r"->\s*impl\s+\w*Iterator\b", signature)
    if_else = "{{ if crate::mutant::is({}) {{ crate::mutant::Either::One({}) }} else {{ crate::mutant::Either::Other({}) }} }}"
    if_else = if_else if differ else "{{ if crate::mutant::is({}) {} else {} }}"
    block = "{{ // mutants {}\n{}\n}} // mutant's end\n".format
    numbers = " ".join(str(number) for number, *_ in changes)
    bodies = block(numbers + " asleep", text[opens + 1 : end - 1])
    for number, a, b, replacement in reversed(changes):
        changed = text[opens + 1 : a] + replacement + text[b : end - 1]
        bodies = if_else.format(number, block(number, changed), bodies)
    return signature + bodies


def with_mutants(text: str, mutants: list[Mutant]) -> str:
    """A file with all of its mutants; one that stands in a function within a function belongs to the outer one."""
    starts = [0, *(found.end() for found in re.finditer("\n", text))]
    place = lambda at: starts[at[0] - 1] + at[1] - 1  # noqa: E731
    code = masked(text)
    functions: list[tuple[int, int, list[Mutant]]] = []
    for mutant in sorted(mutants, key=lambda m: (m.function_start, tuple(-x for x in m.function_end), m.start, m.number)):
        start, end = place(mutant.function_start), place(mutant.function_end)
        if functions and end <= functions[-1][1]:
            functions[-1][2].append(mutant)
        else:
            functions.append((start, end, [mutant]))
    for start, end, of_function in reversed(functions):
        changes = [(m.number, place(m.start), place(m.end), m.replacement) for m in of_function]
        text = text[:start] + with_bodies(text, opening(code, end), (start, end), changes) + text[end:]
    return text


def numbers_at(text: str, line: int) -> tuple[list[int], bool]:
    """The mutants whose changed body a line of a rewritten file stands in, or whose own body (`True`)."""
    open_blocks: list[tuple[list[int], bool]] = []
    for row in text.split("\n")[:line]:
        if found := MARK.search(row):
            if found["end"]:
                open_blocks.pop()
            else:
                open_blocks.append(([int(n) for n in found["numbers"].split()], bool(found["asleep"])))
    return open_blocks[-1] if open_blocks else ([], False)


def plant(checkout: Path, copy: Path, mutants: set[Mutant]) -> None:
    """Writes the files that have mutants into the copy, from those of the checkout."""
    by_file: dict[str, list[Mutant]] = {}
    for mutant in mutants:
        by_file.setdefault(mutant.file, []).append(mutant)
    for file, of_file in by_file.items():
        text = (checkout / file).read_text(encoding="utf-8")
        (copy / file).write_text(with_mutants(text, of_file), encoding="utf-8")
