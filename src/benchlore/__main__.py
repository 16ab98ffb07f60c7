"""Run the command line with ``python -m benchlore``."""

from benchlore.cli import main

if __name__ == "__main__":  # a worker process imports this module too
    main()
