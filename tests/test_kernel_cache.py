"""Compiled kernels are those of the sources that run: each state of them has a folder of its own."""

import ast
import importlib
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from numba.core.dispatcher import Dispatcher

import benchlore
from benchlore.kernel_cache import FOLDER, digest, keep_kernels, kernel_sources

PACKAGE = Path(benchlore.__file__).parent
KERNEL = "from numba import njit\n\n{imports}\n\n@njit(cache=True)\ndef doubled(x):\n    return {value}\n"


def put(folder: Path, **files: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / f"{name}.py").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def package(tmp_path):
    """A package with a kernel that takes a constant from one file and nothing from another."""
    kernel = KERNEL.format(imports="from benchlore.numbers import TWO\n", value="x * TWO")
    return put(
        tmp_path / "benchlore", kernel=kernel, numbers="TWO = 2\n", words="WORD = 'two'\n", __init__=""
    )


@pytest.fixture
def environment(monkeypatch, tmp_path):
    """Settings of the process as a fresh user has them, put back after the test."""
    for name in (FOLDER, "XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("USERPROFILE", str(tmp_path / "home"))
    monkeypatch.delitem(sys.modules, "numba")  # this process goes on with the folder that it began with
    monkeypatch.setenv(FOLDER, "")
    return monkeypatch


def kept(package: Path) -> Path:
    keep_kernels(package)
    return Path(os.environ[FOLDER])


def test_what_a_kernel_takes_from_another_file_counts(package):
    before = digest(package)
    put(package, numbers="TWO = 3\n")
    assert digest(package) != before


def test_what_no_kernel_takes_does_not_count(package):
    before = digest(package)
    put(package, words="WORD = 'three'\n")
    assert digest(package) == before


def test_equal_sources_are_equal_wherever_and_whenever(package, tmp_path):
    copy = shutil.copytree(package, tmp_path / "elsewhere" / "benchlore")
    os.utime(copy / "numbers.py", (0, 0))
    assert digest(copy) == digest(package)


def test_a_line_that_moves_to_another_file_counts(package):
    before = digest(package)
    text = (package / "kernel.py").read_text(encoding="utf-8")
    put(package, kernel=text + "TWO = 2\n", numbers="")
    assert digest(package) != before


def test_all_that_a_kernel_of_the_package_uses_is_counted():
    """What kernels take from another file is defined there, not brought there from a third that would not count."""
    counted = set(kernel_sources(PACKAGE))
    taken = 0
    for path in sorted(counted):
        module = importlib.import_module(
            ".".join(("benchlore", *path.relative_to(PACKAGE).with_suffix("").parts))
        )
        kernels = [value.py_func for value in vars(module).values() if isinstance(value, Dispatcher)]
        used = {
            name
            for kernel in kernels
            if kernel.__module__ == module.__name__
            for name in kernel.__code__.co_names
        }
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module.startswith("benchlore"):
                home = Path(importlib.import_module(node.module).__file__)
                for name in used.intersection(alias.name for alias in node.names):
                    taken += 1
                    assert home in counted
                    assert re.search(
                        rf"^(def |class )?{name}\b", home.read_text(encoding="utf-8"), re.MULTILINE
                    ), name
    assert taken > 100


def test_the_folder_lies_in_the_package_and_goes_when_sources_change(package, environment):
    before = kept(package)
    assert before.parent == package / "__pycache__"
    assert before.is_dir()
    put(package, numbers="TWO = 3\n")
    environment.setenv(FOLDER, "")
    after = kept(package)
    assert after != before
    assert [path for path in after.parent.iterdir() if path.is_dir()] == [after]


def test_a_worker_keeps_to_the_folder_that_it_was_given(package, environment):
    assert kept(package) == kept(package)


def test_the_users_own_folder_is_kept_to(package, environment, tmp_path):
    own = tmp_path / "own"
    (own / "other").mkdir(parents=True)
    environment.setenv(FOLDER, str(own))
    assert kept(package).parent == own
    assert (own / "other").is_dir()


def test_where_the_package_cannot_be_written_the_users_cache_can(package, environment, tmp_path):
    (package / "__pycache__").write_text("a file where a folder should be", encoding="utf-8")
    assert kept(package).parent == tmp_path / "home" / ".cache"


def test_two_installations_share_a_cache_and_leave_each_other_alone(package, environment, tmp_path):
    copy = shutil.copytree(package, tmp_path / "elsewhere" / "benchlore")
    folders = set()
    for installed in (package, copy):
        environment.setenv(FOLDER, str(tmp_path / "own"))
        folders.add(kept(installed))
    assert len(folders) == 2
    assert all(folder.is_dir() for folder in folders)


def test_where_nothing_can_be_written_a_kernel_still_runs_and_nothing_stays(package, environment, tmp_path):
    for place in (package / "__pycache__", tmp_path / "home"):
        place.write_text("a file where a folder should be", encoding="utf-8")
    (tmp_path / "temporary").mkdir()
    environment.setenv("TMPDIR", str(tmp_path / "temporary"))
    assert run(package) == "4"
    assert list((tmp_path / "temporary").iterdir()) == []


@pytest.mark.parametrize("early", ["", "import numba"])
def test_after_an_upgrade_with_equal_times_the_new_kernel_runs(package, environment, early):
    """A constant of another file changes, with the time and the size of the file as they were."""
    path = package / "numbers.py"
    assert run(package, early) == "4"
    times = path.stat()
    put(package, numbers="TWO = 5\n")
    os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))
    assert run(package, early) == "10"


def run(package: Path, early: str = "") -> str:
    """What a process of its own finds for twice two in ``package``, imported as ``benchlore`` is."""
    shutil.copy(PACKAGE / "kernel_cache.py", package)
    shutil.copy(PACKAGE / "__init__.py", package)
    code = f"{early}\nfrom benchlore.kernel import doubled\nprint(doubled(2))"
    told = subprocess.run(
        [sys.executable, "-B", "-c", code], cwd=package.parent, capture_output=True, text=True, check=False
    )
    assert told.returncode == 0, told.stderr
    return told.stdout.strip()
