"""Which tests come by which mutants, and which mutants a test falls over."""

import os
import re
import shutil
import signal
import subprocess
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path
from threading import Timer

from rewrite import Mutant

# The first batch of tests takes about this long, each further one twice as long as the one before.
FIRST_BATCH_S = 0.5
AT_ONCE = 2
# Longer than any test takes alone.
ALONE_S = 600.0


@dataclass(frozen=True)
class Test:
    """A test that passes without mutants: how long it takes alone, and by which mutants it comes."""

    seconds: float
    binary: str
    name: str
    reached: frozenset[int]


@dataclass(frozen=True)
class Verdict:
    """What became of a mutant: `by` says which test fell over it, or why it counts as missed."""

    mutant: Mutant
    caught: bool
    by: str
    tests: int
    seconds: float


class Trials:
    """Runs tests of the copy's binaries, each batch in a process and a folder for temporary files of its own."""

    def __init__(self, folder: Path, binaries: dict[str, Path], scratch: Path, patience_s: float):
        self.folder, self.binaries, self.scratch, self.patience_s = folder, binaries, scratch, patience_s
        self.tests: list[Test] = []
        self.catches: Counter[Test] = Counter()
        self.sure: set[str] = set()
        self.environment = {
            **os.environ,
            "CARGO_MANIFEST_DIR": str(folder),
            "INSTA_UPDATE": "no",
            "INSTA_WORKSPACE_ROOT": str(folder),
            "PROPTEST_DISABLE_FAILURE_PERSISTENCE": "1",
            "PROPTEST_MAX_SHRINK_ITERS": "0",
            "PROPTEST_RNG_SEED": "1",
        }

    def names(self, binary: str) -> list[str]:
        """The tests of a binary that run when nobody asks for more."""
        found = {}
        for more in ([], ["--ignored"]):
            command = [self.binaries[binary], "--list", "--format", "terse", *more]
            ran = subprocess.run(command, cwd=self.folder, capture_output=True, text=True, check=True)
            found[bool(more)] = [line.removesuffix(": test") for line in ran.stdout.splitlines() if line.endswith(": test")]
        return [name for name in found[False] if name not in set(found[True])]

    def run(self, binary: str, names: list[str], limit_s: float, mutant: int | None = None, reached: Path | None = None) -> str | None:
        """Runs tests one after the other until one fails: its name, `time limit`, or `None`."""
        temporary = self.scratch / f"tmp-{time.monotonic_ns()}"
        temporary.mkdir(parents=True)
        environment = {**self.environment, "TMPDIR": str(temporary)}
        environment |= {"EVENROOMS_MUTANT": str(mutant)} if mutant is not None else {}
        environment |= {"EVENROOMS_MUTANTS_REACHED": str(reached)} if reached else {}
        process = subprocess.Popen(
            [self.binaries[binary], "--test-threads=1", "--exact", *names],
            cwd=self.folder, env=environment, start_new_session=True,
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, errors="replace",
        )  # fmt: skip
        late: list[bool] = []
        timer = Timer(limit_s, lambda: (late.append(True), end(process)))
        timer.start()
        last, failed = "", None
        for line in process.stdout:
            if found := re.match(r"test (\S+) ", line):
                last = found[1]
            if line.rstrip().endswith("FAILED"):
                failed = last
                break
        end(process) if failed else None
        code = process.wait()
        timer.cancel()
        end(process)
        shutil.rmtree(temporary, ignore_errors=True)
        if late:
            return "time limit"
        return last if code != 0 and failed is None else failed

    def trace(self, prefixes: tuple[str, ...]) -> list[str]:
        """Runs every test whose name begins with one of the prefixes alone, and learns by which mutants it comes; gives the names of those that fail over the copy."""
        (self.scratch / "reached").mkdir(parents=True, exist_ok=True)

        def one(at: int, binary: str, name: str) -> tuple[str | None, Test]:
            reached = self.scratch / "reached" / str(at)
            reached.unlink(missing_ok=True)
            began = time.monotonic()
            failed = self.run(binary, [name], ALONE_S, reached=reached)
            numbers = reached.read_text().split() if reached.exists() else []
            return failed, Test(time.monotonic() - began, binary, name, frozenset(map(int, numbers)))

        jobs = [(binary, name) for binary in self.binaries for name in self.names(binary) if name.startswith(prefixes)]
        with ThreadPoolExecutor(AT_ONCE) as pool:
            results = list(pool.map(lambda job: one(job[0], *job[1]), enumerate(jobs)))
        self.tests = [test for failed, test in results if failed is None]
        return [test.name for failed, test in results if failed is not None]

    def batches(self, tests: list[Test]) -> list[tuple[str, list[Test]]]:
        """In ever longer batches, for a process is dear for a quick test, and a failure ends a batch."""
        found: list[tuple[str, list[Test]]] = []
        batch: list[Test] = []
        most = FIRST_BATCH_S
        for test in [*tests, None]:
            if batch and (test is None or sum(t.seconds for t in batch) + test.seconds > most):
                found += [(b, of) for b in self.binaries if (of := [t for t in batch if t.binary == b])]
                batch, most = [], 2 * most
            batch.append(test)
        return found

    def worth_trying(self, mutant: Mutant) -> list[Test]:
        """Those that come by, the quickest first, and quicker for each mutant caught already; no more than patience allows."""
        reaching = [test for test in self.tests if mutant.number in test.reached]
        reaching.sort(key=lambda test: test.seconds / (1 + self.catches[test]))
        return [test for test, so_far in zip(reaching, accumulate(test.seconds for test in reaching)) if so_far <= self.patience_s]

    def verdict(self, mutant: Mutant) -> Verdict:
        """Tests that come by the mutant, until one fails; which passes again without a mutant the first time it fails."""
        began = time.monotonic()
        said = lambda caught, by: Verdict(mutant, caught, by, len(tests), time.monotonic() - began)  # noqa: E731
        tests = self.worth_trying(mutant)
        if not tests:
            return said(False, "no test comes by")
        for binary, batch in self.batches(tests):
            while batch:
                limit_s = 20.0 + 10.0 * sum(test.seconds for test in batch)
                failed = self.run(binary, [test.name for test in batch], limit_s, mutant.number)
                if failed is None:
                    break
                if failed == "time limit":
                    return said(True, failed)
                if failed in self.sure or self.run(binary, [failed], ALONE_S) is None:
                    self.sure.add(failed)
                    self.catches.update(test for test in batch if test.name == failed)
                    return said(True, failed)
                print(f"  {failed} fails without a mutant too", flush=True)
                batch = [test for test in batch if test.name != failed]
        return said(False, "no test fails")

    def judge(self, mutants: list[Mutant], see) -> None:
        """Tells `see` what becomes of each, one at a time, as it comes."""
        with ThreadPoolExecutor(AT_ONCE) as pool:
            for done in as_completed([pool.submit(self.verdict, mutant) for mutant in mutants]):
                see(done.result())


def end(process: subprocess.Popen) -> None:
    """Ends a test's process with all that it started."""
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except ProcessLookupError:
        pass
