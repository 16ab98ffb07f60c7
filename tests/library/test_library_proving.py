import json
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from shutil import copytree

import pytest

from benchlore.jobs import Store
from benchlore.library import (
    NoProofError,
    Other,
    OtherBookError,
    init_library,
    kept_proof,
    open_library,
    plan_complaint,
    prove_complaint,
)
from benchlore.proof import Settings, Split, Way
from finished_jobs import finished_jobs

QUICKLY = Settings(folds=3, draws=3)


@pytest.fixture
def busy(library):
    """The library with thirty jobs."""
    with Store.open(library.store) as store:
        store.add(finished_jobs(30))
    return library


def proven(library, **kinds):
    return prove_complaint(library, "my-board", "no-power", **{"settings": QUICKLY, "workers": 1} | kinds)


@pytest.fixture(scope="module")
def shared(tmp_path_factory):
    """Such a library with its proof, which one process made, as it was told."""
    made = init_library(tmp_path_factory.mktemp("proven") / "library", title="Test", board="my-board")
    with Store.open(made.store) as store:
        store.add(finished_jobs(30))
    return made, proven(made)


@pytest.fixture
def proved(shared, tmp_path):
    """A copy of it to change, and what was told."""
    copytree(shared[0].folder, tmp_path / "proven")
    return open_library(tmp_path / "proven"), shared[1]


def test_a_proof_is_kept_until_something_changes(proved):
    busy, proved = proved
    kept = kept_proof(busy, "my-board", "no-power")
    assert kept.proof == proved.proof
    assert kept.stale == ()
    assert kept.proof.replay.of(Way.BENCH).more.low > 0
    with Store.open(busy.store) as store:
        store.add(finished_jobs(1, shop="Hill"))
    assert kept_proof(busy, "my-board", "no-power").stale == ("the recorded jobs",)


def test_a_procedure_with_a_limit_is_proven_with_that_limit(busy):
    plan_complaint(busy, "my-board", "no-power", steps=2)
    short = proven(busy)
    assert short.procedure.limit == 2
    plan_complaint(busy, "my-board", "no-power")
    whole = proven(busy)
    assert short.proof.replay.of(Way.PROCEDURE).cost.value > whole.proof.replay.of(Way.PROCEDURE).cost.value


def test_several_processes_find_what_one_does(busy, shared):
    assert proven(busy, workers=2).proof == shared[1].proof


def test_nothing_proven_yet_is_said_so(busy):
    plan_complaint(busy, "my-board", "no-power")
    with pytest.raises(NoProofError, match=r"run 'benchlore prove my-board no-power'"):
        kept_proof(busy, "my-board", "no-power")


def test_a_kept_proof_is_plain_json_with_what_it_was_made_from_and_else_counts_as_none(proved):
    busy = proved[0]
    (path,) = busy.compiled.rglob("proof.json")
    data = json.loads(path.read_text())
    assert data["proof"] == 1
    assert set(data["made_from"]) == {"benchlore", "book", "jobs", "shop"}
    for text in ("", "{}", "[]", '{"made_from": {}, "proof": 1}', "{"):
        path.write_text(text)
        with pytest.raises(NoProofError, match="what is kept cannot be read"):
            kept_proof(busy, "my-board", "no-power")


def test_another_version_of_the_book_is_compared_on_the_same_jobs(busy, tmp_path):
    text = busy.book_file("my-board").read_text()
    older = tmp_path / "older.yaml"
    older.write_text(
        text.replace(
            "replace-c5:\n    cures: {c5-short: 96 %}\n    how: Hot air",
            "replace-c5:\n    cures: {c5-short: 40 %}\n    how: Cold air",
        )
    )
    assert "40 %" in older.read_text()
    difference = proven(busy, other=Other(older)).proof.difference
    assert difference.jobs == 30
    assert difference.other == str(older)


def test_a_limit_of_steps_is_compared_on_the_same_jobs(busy):
    difference = proven(busy, other=Other(steps=1)).proof.difference
    assert difference.other == "at most 1 step"
    assert difference.cost.low > 0


def test_a_version_that_cannot_be_read_is_refused_before_any_work(busy, tmp_path):
    broken = tmp_path / "broken.yaml"
    broken.write_text("book: 1\n")
    with pytest.raises(OtherBookError, match=r"broken\.yaml"):
        proven(busy, other=Other(broken))
    renamed = tmp_path / "renamed.yaml"
    renamed.write_text(busy.book_file("my-board").read_text().replace("no-power", "dead"))
    with pytest.raises(
        OtherBookError, match=r"renamed\.yaml: this book has no complaint 'no-power', but 'dead'"
    ):
        proven(busy, other=Other(renamed))


def test_shops_can_be_held_out(busy):
    with Store.open(busy.store) as store:
        store.add(finished_jobs(10, shop="Hill"))
    proof = proven(busy, settings=replace(QUICKLY, split=Split.SHOP)).proof
    assert sorted(part.name for part in proof.parts) == ["Hill", "Quay"]


def test_workers_end_with_the_process_that_they_work_for():
    """Killed without a chance to tidy up, it leaves nobody behind."""
    script = (
        "from benchlore.library.workers import working\n"
        "import os, time\n"
        "if __name__ == '__main__':\n"
        "    with working(2) as run:\n"
        "        from multiprocessing import active_children\n"
        "        list(run(abs, [1, 2]))\n"
        "        print(*(p.pid for p in active_children()), flush=True)\n"
        "        time.sleep(60)\n"
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long_work.py"
        path.write_text(script)
        with subprocess.Popen(
            [sys.executable, str(path)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        ) as long:
            workers = [int(pid) for pid in long.stdout.readline().split()]
            long.kill()
    assert workers
    for _ in range(100):
        left = [pid for pid in workers if Path(f"/proc/{pid}").exists()]
        if not left:
            break
        time.sleep(0.1)
    assert left == []
