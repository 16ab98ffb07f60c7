"""A program that is killed in the middle of a job loses nothing that it acknowledged."""

import json
import re
import signal
import subprocess
import sys
import threading
import urllib.error
import urllib.request
from contextlib import contextmanager
from datetime import UTC, datetime
from http.client import HTTPException

import pytest
from bench_forms import bench_library

from benchlore.library import Desk

ADDRESS = re.compile(rb"http://127\.0\.0\.1:\d+/")


@pytest.fixture
def library(tmp_path):
    return bench_library(tmp_path / "library")


@contextmanager
def program(library):
    """The program itself, serving the library: the process and its address."""
    command = [sys.executable, "-u", "-m", "benchlore", "serve", "--no-open", "--port", "0"]
    process = subprocess.Popen(command, cwd=library.folder, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    try:
        said = b""
        while not (found := ADDRESS.search(said)):
            line = process.stdout.readline()
            assert line, f"it ended before it served: {said.decode()}"
            said += line
        yield process, found[0].decode().rstrip("/")
    finally:
        process.kill()
        process.wait(30)
        process.stdout.close()


def send(address, key, place):
    """Enter the next remark; whether it was acknowledged."""
    entry = {
        "kind": "note",
        "data": {"text": f"remark {place}."},
        "expected": place,
        "token": f"remark-{place}",
    }
    request = urllib.request.Request(
        f"{address}/api/bench/{key}/entries",
        json.dumps(entry).encode(),
        {"content-type": "application/json"},
    )
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.status == 201
    except urllib.error.HTTPError:
        raise
    except (OSError, HTTPException):
        return False


def test_a_killed_program_loses_no_entry_that_it_acknowledged(library):
    now = datetime.now(UTC)
    with Desk(library) as desk:
        key = desk.start("my-board", "no-power", now=now).key
    with program(library) as (process, address):
        assert send(address, key, 0)
        threading.Timer(0.4, process.send_signal, [signal.SIGKILL]).start()
        acknowledged = 1
        while send(address, key, acknowledged):
            acknowledged += 1
        assert process.wait(30) == -signal.SIGKILL
    with Desk(library) as desk:
        stored = [entry.data["text"] for entry in desk.view(key, now).entries]
    # The last one may have been stored without anybody being told.
    assert acknowledged <= len(stored) <= acknowledged + 1
    assert stored == [f"remark {place}." for place in range(len(stored))]
    with program(library) as (_, address):
        assert send(address, key, len(stored))
        page = urllib.request.urlopen(f"{address}/bench/{key}", timeout=30).read().decode()
    assert all(f"remark {place}." in page for place in range(len(stored) + 1))
