"""Which tests come by which mutants, and which mutants a test falls over."""

import os
import re
import shutil
import signal
import subprocess
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from threading import Timer

from rewrite import Mutant

# The first batch of tests takes about this long, each further one twice as long as the one before.
FIRST_BATCH_S = 0.5
AT_ONCE = 2


@dataclass(order=True)
class Test:
    """A test that passes without mutants: how long it takes alone, and by which mutants it comes."""

    seconds: float
    binary: str
    name: str
    reached: frozenset[int] = field(compare=False, default=frozenset())


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

    def __init__(self, folder: Path, binaries: dict[str, Path], scratch: Path):
        self.folder, self.binaries, self.scratch = folder, binaries, scratch
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

    def run(self, binary: str, names: list[str], limit_s: float, mutant: int | None = None, reached: Path | None = None):
        """Runs tests one after the other until one fails: its name, `time limit` or `None`; and how long it took."""
        temporary = self.scratch / f"tmp-{time.monotonic_ns()}"
        temporary.mkdir(parents=True)
        environment = {**self.environment, "TMPDIR": str(temporary)}
        environment |= {"EVENROOMS_MUTANT": str(mutant)} if mutant is not None else {}
        environment |= {"EVENROOMS_MUTANTS_REACHED": str(reached)} if reached else {}
        began = time.monotonic()
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
            failed = "time limit"
        elif code != 0 and failed is None:
            failed = last
        return failed, time.monotonic() - began

    def traced(self, only: str) -> tuple[list[Test], list[str]]:
        """Every test whose binary and name hold `only`, each run alone; and the names of those that the copy itself makes fail."""
        (self.scratch / "reached").mkdir(parents=True, exist_ok=True)

        def trace(at: int, binary: str, name: str) -> tuple[str | None, Test]:
            reached = self.scratch / "reached" / str(at)
            failed, seconds = self.run(binary, [name], 600.0, reached=reached)
            numbers = reached.read_text().split() if reached.exists() else []
            return failed, Test(seconds, binary, name, frozenset(map(int, numbers)))

        jobs = [(binary, name) for binary in self.binaries for name in self.names(binary) if only in f"{binary} {name}"]
        with ThreadPoolExecutor(AT_ONCE) as pool:
            results = list(pool.map(lambda job: trace(job[0], *job[1]), enumerate(jobs)))
        tests = sorted(test for failed, test in results if failed is None)
        return tests, [test.name for failed, test in results if failed is not None]

    def batches(self, tests: list[Test]) -> list[tuple[str, list[Test]]]:
        """The quickest first, in ever longer batches: a process is dear for a quick test, and a failure ends a batch."""
        found: list[tuple[str, list[Test]]] = []
        batch: list[Test] = []
        most = FIRST_BATCH_S
        for test in [*tests, None]:
            if batch and (test is None or sum(t.seconds for t in batch) + test.seconds > most):
                found += [(b, of) for b in self.binaries if (of := [t for t in batch if t.binary == b])]
                batch, most = [], 2 * most
            batch.append(test)
        return found

    def verdict(self, mutant: Mutant, tests: list[Test]) -> Verdict:
        """Tests that come by the mutant, until one fails that does not fail without it."""
        reaching = [test for test in tests if mutant.number in test.reached]
        took = 0.0
        if not reaching:
            return Verdict(mutant, False, "no test comes by", 0, took)
        for binary, batch in self.batches(reaching):
            left = batch
            while left:
                limit_s = 20.0 + 10.0 * sum(test.seconds for test in left)
                failed, seconds = self.run(binary, [test.name for test in left], limit_s, mutant.number)
                took += seconds
                if failed is None:
                    break
                if failed == "time limit":
                    return Verdict(mutant, True, failed, len(reaching), took)
                again, seconds = self.run(binary, [failed], 600.0)
                took += seconds
                if again is None:
                    return Verdict(mutant, True, failed, len(reaching), took)
                print(f"  {failed} fails without a mutant too", flush=True)
                left = [test for test in left if test.name != failed]
        return Verdict(mutant, False, "no test fails", len(reaching), took)

    def verdicts(self, mutants: list[Mutant], tests: list[Test], see) -> list[Verdict]:
        """One for each mutant, in their order; `see` is told each as it comes."""

        def one(mutant: Mutant) -> Verdict:
            verdict = self.verdict(mutant, tests)
            see(verdict)
            return verdict

        with ThreadPoolExecutor(AT_ONCE) as pool:
            return list(pool.map(one, mutants))


def end(process: subprocess.Popen) -> None:
    """Ends a test's process with all that it started."""
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except ProcessLookupError:
        pass
