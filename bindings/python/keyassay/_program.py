"""The program `keyassay`."""

from __future__ import annotations

import signal
import sys

from ._keyassay import main as run


def main() -> int:
    """Runs the program with the arguments of the command line."""
    # The program has its own way to end: Python's would wait until it is done.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    return run(["keyassay", *sys.argv[1:]])


if __name__ == "__main__":
    sys.exit(main())
