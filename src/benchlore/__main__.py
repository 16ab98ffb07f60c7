"""Run the command line: ``benchlore`` and ``python -m benchlore`` begin here."""

import sys
from typing import Final

STOPPED: Final = 130
"""The exit code after Ctrl-C, as shells have it: 128 and the signal's number. Typer ends commands with it."""
STOPPED_BY_USER: Final = "stopped; nothing was left half-written"


def main() -> None:
    """Run the command line; whenever Ctrl-C comes, it ends with a sentence and without a traceback."""
    try:
        from benchlore.cli import main as run  # noqa: PLC0415 this takes a second, and can be stopped too

        run()
    except (KeyboardInterrupt, SystemExit) as ended:
        if isinstance(ended, SystemExit) and ended.code != STOPPED:
            raise
        sys.stderr.write(f"{STOPPED_BY_USER}\n")
        sys.exit(STOPPED)


if __name__ == "__main__":  # a worker process imports this module too
    main()
