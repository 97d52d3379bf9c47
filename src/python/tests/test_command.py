"""The command that comes with the wheel is the program: the same bytes, words, exit codes and signals."""

import signal
import subprocess
import sys
import time

import evenrooms
from conftest import COMMAND, PROJECT, run


def files_in(folder):
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_the_same_bytes(results, tmp_path):
    out = tmp_path / "out"
    ran = run(COMMAND, "audit", "sample_data/site.toml", "--out", out)
    assert ran.returncode == 0, ran.stderr
    own, expected = files_in(out), files_in(results)
    assert list(own) == list(expected) and len(own) > 20
    different = [name for name in own if own[name] != expected[name]]
    assert different == []


def test_the_same_words_and_exit_codes(program):
    lines = [
        ["--version"],
        ["--help"],
        ["audit", "--help"],
        ["explain", "hours_below_band"],
        ["explain", "hours_below_bend"],
        ["audit"],
        ["audit", "nowhere.toml", "--out", "nowhere"],
        ["no-such-command"],
    ]
    codes = []
    for words in lines:
        own, expected = run(COMMAND, *words), run(program, *words)
        assert (own.returncode, own.stdout, own.stderr) == (expected.returncode, expected.stdout, expected.stderr), words
        codes.append(own.returncode)
    assert set(codes) == {0, 2}
    as_module = run(sys.executable, "-m", "evenrooms", "--version")
    assert as_module.stdout == f"evenrooms {evenrooms.__version__}\n"


def test_rows_through_pipes(audit, results, tmp_path):
    import pyarrow

    table = audit["aligned"].to_arrow()
    sink = pyarrow.BufferOutputStream()
    with pyarrow.ipc.new_stream(sink, table.schema) as stream:
        stream.write_table(table)
    words = [COMMAND, "worker", "sample_data/site.toml", "--weather", results]
    rows = subprocess.run(words, cwd=PROJECT, input=sink.getvalue().to_pybytes(), capture_output=True, check=True)
    assert pyarrow.ipc.open_stream(rows.stdout).read_all().num_rows > 5000


def interrupted(words, after):
    process = subprocess.Popen(words, cwd=PROJECT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    after(process)
    process.send_signal(signal.SIGINT)
    _, told = process.communicate(timeout=60)
    return process.returncode, told


def test_an_interrupt_ends_the_command_with_130_and_leaves_nothing(tmp_path):
    big, out = tmp_path / "big", tmp_path / "out"
    run(COMMAND, "simulate", "--out", big, "--seed", "3", "--homes", "40", "--days", "21", "--quiet").check_returncode()
    words = [COMMAND, "audit", big / "site.toml", "--out", out, "--threads", "1"]

    def is_at_work(process):
        while not (out.is_dir() and any(out.iterdir())):
            assert process.poll() is None, "it was done before it could be interrupted"
            time.sleep(0.01)

    code, told = interrupted(words, is_at_work)
    assert code == 130 and "Traceback" not in told, told
    assert [path.name for path in out.rglob("*")] == []

    # In a program of one's own an interrupt is what Python makes of it.
    script = f"import evenrooms; print('now', flush=True); evenrooms.audit({str(big / 'site.toml')!r}, threads=1)"

    def is_running(process):
        assert process.stdout.readline() == "now\n"
        time.sleep(0.3)

    code, told = interrupted([sys.executable, "-c", script], is_running)
    assert told.strip().endswith("KeyboardInterrupt") and code in (1, -signal.SIGINT, 130), (code, told)
