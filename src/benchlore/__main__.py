"""Run the command line with ``python -m benchlore``."""

from benchlore.cli import main

main()
