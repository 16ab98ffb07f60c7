"""Where compiled kernels are kept: a folder that is named after the sources that they were compiled from.

Numba compiles a kernel anew when its own file changed, but not when a function or a constant that it takes
from another file did (Numba manual, "Notes on Caching"). After an upgrade in place it would go on with
machine code of two versions. So each state of the sources has a folder of its own.
"""

import atexit
import contextlib
import hashlib
import os
import re
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

FOLDER: Final = "NUMBA_CACHE_DIR"
"""The setting that Numba reads when it is imported, and that worker processes inherit."""

_IMPORT: Final = re.compile(rb"^from (benchlore[\w.]*) import", re.MULTILINE)


def kernel_sources(package: Path) -> list[Path]:
    """The files of ``package`` that define kernels and those that these take names from, by their paths."""
    found = set()
    for path in package.rglob("*.py"):
        text = path.read_bytes()
        if b"njit" in text:
            found.add(path)
            found |= {_module(package, name.decode()) for name in _IMPORT.findall(text)}
    return sorted(found)


def _module(package: Path, name: str) -> Path:
    path = package.joinpath(*name.split(".")[1:])
    return path / "__init__.py" if path.is_dir() else path.with_suffix(".py")


def digest(package: Path) -> str:
    """A name for what ``kernel_sources`` hold: equal for equal sources, wherever and whenever they are."""
    state = hashlib.sha256()
    for path in kernel_sources(package):
        text = path.read_bytes()
        state.update(f"{path.relative_to(package).as_posix()} {len(text)}\n".encode() + text)
    return state.hexdigest()[:16]


def keep_kernels(package: Path) -> None:
    """Let Numba keep the kernels of ``package`` apart from those of its other versions, which are removed.

    The folder lies in the one that ``NUMBA_CACHE_DIR`` names, else in the package, else in the user's cache;
    where none of them can be written, kernels last as long as the process.
    """
    # Two installations may share a user's cache.
    place = hashlib.sha256(str(package).encode()).hexdigest()[:8]
    family = f"benchlore-kernels-{place}-"
    name = family + digest(package)
    if Path(os.environ.get(FOLDER, "")).name == name:
        return  # a worker keeps them where the process that started it does
    folder = next((parent / name for parent in _parents(package) if _is_writable(parent / name)), None)
    if folder is None:
        folder = Path(tempfile.mkdtemp(), name)
        atexit.register(shutil.rmtree, folder.parent, ignore_errors=True)
    for other in folder.parent.glob(f"{family}*"):
        if other != folder:
            shutil.rmtree(other, ignore_errors=True)
    os.environ[FOLDER] = str(folder)
    if numba := sys.modules.get("numba"):
        numba.config.reload_config()


def _parents(package: Path) -> Iterator[Path]:
    if own := os.environ.get(FOLDER):
        yield Path(own)
    yield package / "__pycache__"
    for setting in ("XDG_CACHE_HOME", "LOCALAPPDATA"):
        if base := os.environ.get(setting):
            yield Path(base)
    with contextlib.suppress(RuntimeError):  # a user without a home
        yield Path.home() / ".cache"


def _is_writable(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        tempfile.TemporaryFile(dir=folder).close()  # a folder that is there may still belong to somebody else
    except OSError:
        return False
    return True
