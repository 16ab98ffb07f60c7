import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from bench_samples import OPEN_JOB, draft, job_with

from benchlore.jobs import EntryConflict, Store

HERE = Path(__file__).parent

ADD_OWN = """
import sys
from bench_samples import draft
from benchlore.jobs import EntryConflict, Store

place, key, worker, entries = sys.argv[1:]
with Store.open(place) as store:
    last = 0
    for number in range(int(entries)):
        while True:
            try:
                last = store.append(key, draft(token=f"{worker}-{number}"), expected=last).place
                break
            except EntryConflict as conflict:
                last = conflict.newer[-1].place
"""

ADD_WITHOUT_END = """
import sys
from bench_samples import draft
from benchlore.jobs import Store

with Store.open(sys.argv[1]) as store:
    for number in range(10**9):
        entry = store.append("k-1", draft(token=f"t-{number}"), expected=number)
        print(entry.place, flush=True)
"""


def python(program: str, *arguments: object) -> subprocess.Popen[str]:
    command = [sys.executable, "-W", "error", "-c", program, *map(str, arguments)]
    return subprocess.Popen(command, cwd=HERE, stdout=subprocess.PIPE, text=True)


def test_thirty_benches_at_once_lose_and_double_nothing(tmp_path):
    failures = []

    def work(key):
        try:
            for place in range(8):
                entry = draft(token=f"{key}-{place}", text=f"{key} says {place}")
                assert store.append(key, entry, expected=place).place == place + 1
                # The answer was lost on the way: the bench sends once more.
                assert store.append(key, entry, expected=place).place == place + 1
        except BaseException as failure:
            failures.append(failure)
            raise

    with Store.open(tmp_path) as store:
        keys = [f"bench-{k}" for k in range(30)]
        for key in keys:
            store.open_job(job_with(key=key, number="26-1125-"))
        threads = [threading.Thread(target=work, args=(key,)) for key in keys]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert not failures
        for key in keys:
            assert [entry.data["text"] for entry in store.entries(key)] == [
                f"{key} says {k}" for k in range(8)
            ]
        assert len({job.number for job in store.open_jobs()}) == 30


def test_thirty_writers_on_one_job_each_see_every_other(tmp_path):
    refused = []

    def work(worker):
        seen = 0
        while True:
            try:
                store.append("k-1", draft(token=f"t-{worker}"), expected=seen)
            except EntryConflict as conflict:
                refused.append((seen, [entry.place for entry in conflict.newer]))
                seen = conflict.newer[-1].place
            else:
                return

    with Store.open(tmp_path) as store:
        store.open_job(OPEN_JOB)
        threads = [threading.Thread(target=work, args=(k,)) for k in range(30)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        entries = store.entries("k-1")
        assert [entry.place for entry in entries] == list(range(1, 31))
        assert sorted(entry.token for entry in entries) == sorted(f"t-{k}" for k in range(30))
        assert refused
        assert all(newer == list(range(seen + 1, newer[-1] + 1)) for seen, newer in refused)


def test_programs_that_write_to_one_journal_at_once_lose_nothing(place):
    with Store.open(place) as store:
        store.open_job(OPEN_JOB)
    programs = [python(ADD_OWN, place, "k-1", worker, 10) for worker in ("a", "b")]
    assert [program.wait(timeout=60) for program in programs] == [0, 0]
    for program in programs:
        program.stdout.close()
    with Store.open(place) as store:
        entries = store.entries("k-1")
    assert [entry.place for entry in entries] == list(range(1, 21))
    assert {entry.token for entry in entries} == {f"{worker}-{k}" for worker in "ab" for k in range(10)}


@pytest.mark.parametrize("acknowledged", [1, 7, 40])
def test_a_killed_program_loses_no_entry_that_it_acknowledged(place, acknowledged):
    with Store.open(place) as store:
        store.open_job(OPEN_JOB)
    with python(ADD_WITHOUT_END, place) as writer:
        while int(writer.stdout.readline()) < acknowledged:
            pass
        writer.send_signal(signal.SIGKILL)
        last = max([acknowledged, *map(int, writer.stdout.read().split("\n")[:-1])])
        assert writer.wait() == -signal.SIGKILL
    with Store.open(place, create=False) as store:
        entries = store.entries("k-1")
        # One more may have been stored whose acknowledgement never left.
        assert len(entries) in (last, last + 1)
        assert [(entry.place, entry.token) for entry in entries] == [
            (k, f"t-{k - 1}") for k in range(1, len(entries) + 1)
        ]
        assert store.append("k-1", draft(token="after"), expected=len(entries)).place == len(entries) + 1
        assert store.append("k-1", draft(token=f"t-{last - 1}"), expected=last - 1).place == last


def test_every_write_reaches_the_disk_before_it_is_acknowledged(tmp_path):
    with Store.open(tmp_path) as store, store.database.writing() as connection:
        # 2 is FULL: sqlite.org/pragma.html#pragma_synchronous
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2
