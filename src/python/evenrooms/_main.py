"""The command `evenrooms`, as the program has it."""

import sys

from ._evenrooms import _command_line


def main() -> None:
    """Runs the command line that this process was started with, and ends with its exit code."""
    sys.exit(_command_line(["evenrooms", *sys.argv[1:]]))
