import os
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from contextlib import closing
from pathlib import Path

from job_samples import JOB, changed, numbered

from benchlore.jobs import Added, Store
from benchlore.jobs.store_rows import CHUNK

HERE = Path(__file__).parent

ADD_SOME = """
import sys
from dataclasses import replace
from job_samples import JOB
from benchlore.jobs import Store

place, worker = sys.argv[1:]
own = added = same = 0
with Store.open(place) as store:
    for round in range(12):
        offered = [replace(JOB, number=f"{worker}-{round}"), replace(JOB, number=f"shared-{round}")]
        result = store.add(offered)
        added, same = added + result.new, same + result.same
print(added, same)
"""

ADD_WITHOUT_END = """
import sys
from dataclasses import replace
from job_samples import JOB
from benchlore.jobs import IntakeRecord, Store
from datetime import datetime, UTC

def endless():
    for number in range(10**9):
        yield replace(JOB, number=f"half-{number}")

def told(done):
    print(done, flush=True)

with Store.open(sys.argv[1]) as store:
    store.add(endless(), intake=IntakeRecord("half.csv", "0", datetime.now(UTC)), progress=told)
"""


def python(program: str, *arguments: object) -> subprocess.Popen[str]:
    command = [sys.executable, "-W", "error", "-c", program, *map(str, arguments)]
    return subprocess.Popen(command, cwd=HERE, stdout=subprocess.PIPE, text=True)


def test_two_programs_that_write_at_once_lose_nothing_and_count_each_job_once(place):
    # Both also make the store: neither finds one.
    programs = [python(ADD_SOME, place, worker) for worker in ("a", "b")]
    counts = [tuple(map(int, program.communicate(timeout=60)[0].split())) for program in programs]
    with Store.open(place, create=False) as store:
        found = {job.number for job in store.jobs()}
    own = {f"{worker}-{turn}" for worker in "ab" for turn in range(12)}
    shared = {f"shared-{turn}" for turn in range(12)}
    assert found == own | shared
    assert [sum(column) for column in zip(*counts, strict=True)] == [36, 12]


def test_threads_share_one_store(place):
    failures = []

    def work(store, worker):
        try:
            for turn in range(5):
                store.add([changed(number=f"{worker}-{turn}"), changed(number=f"shared-{turn}")])
                assert store.job(JOB.shop, f"{worker}-{turn}") is not None
        except BaseException as failure:
            failures.append(failure)
            raise

    with Store.open(place) as store:
        threads = [threading.Thread(target=work, args=(store, worker)) for worker in "abc"]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert not failures
        assert store.count() == 20


def test_a_writer_that_is_killed_leaves_the_store_as_it_was(place):
    with Store.open(place) as store:
        store.add(numbered(30))
    with python(ADD_WITHOUT_END, place) as writer:
        assert writer.stdout is not None
        while int(writer.stdout.readline()) < 3 * CHUNK:
            pass
        writer.send_signal(signal.SIGKILL)
        assert writer.wait() == -signal.SIGKILL
    with Store.open(place, create=False) as store:
        assert list(store.jobs()) == numbered(30)
        assert store.intakes() == ()
        assert len(store.columns(JOB.board)) == 30
        # A server notices the death of its client a moment later; the store waits for the lock until then.
        assert store.add([changed(number="after")]) == Added(new=1)
    if isinstance(place, Path):
        with closing(sqlite3.connect(place / "jobs.sqlite")) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


def test_a_program_that_is_killed_while_it_makes_the_store_leaves_a_place_for_one(tmp_path):
    program = """
import os, signal, sys
from benchlore.jobs import Store, store_schema
real = store_schema._upgrade
def dies(connection):
    real(connection)
    os.kill(os.getpid(), signal.SIGKILL)
store_schema._upgrade = dies
Store.open(sys.argv[1])
"""
    with python(program, tmp_path) as done:
        assert done.wait(timeout=60) == -signal.SIGKILL
    with Store.open(tmp_path) as store:
        assert store.add([JOB]) == Added(new=1)


def test_a_reader_is_not_held_up_by_a_long_intake(tmp_path):
    with Store.open(tmp_path) as store:
        store.add([JOB])
        seen = []

        def told(done):
            started = time.monotonic()
            seen.append(([job.number for job in store.jobs()], time.monotonic() - started < 5))

        store.add(numbered(CHUNK + 1), progress=told)
    assert seen == [([JOB.number], True)] * 2


def test_the_store_forgets_no_jobs_when_its_program_ends_without_closing_it(tmp_path):
    program = "import os, sys; from job_samples import JOB; from benchlore.jobs import Store; Store.open(sys.argv[1]).add([JOB]); os._exit(0)"
    with python(program, tmp_path) as done:
        assert done.wait(timeout=60) == os.EX_OK
    with Store.open(tmp_path, create=False) as store:
        assert list(store.jobs()) == [JOB]
