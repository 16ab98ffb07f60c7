"""A lock that a folder's one writer holds; the system lets go of it however the process ends."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

if sys.platform == "win32":
    import msvcrt

    def _take(handle: int) -> None:
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _take(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


@contextmanager
def locked(path: Path) -> Iterator[bool]:
    """Hold the lock of a file, if nobody else does: that is what is yielded."""
    handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
    try:
        try:
            _take(handle)
        except OSError:
            yield False
        else:
            yield True
    finally:
        os.close(handle)
