import json
import sqlite3
from datetime import UTC, datetime

import pytest

from benchlore.jobs import Job, Outcome, Reading, Store, StoreDamaged, StoreNewer
from benchlore.library import (
    NoProcedureError,
    kept_procedure,
    learn_board,
    open_library,
    plan_complaint,
    review_library,
    take_in,
)
from benchlore.library.errors import RejectsInTheWayError
from benchlore.notation import FileNotWritten


def shorts(count):
    """Jobs whose fault was the capacitor, with the reading that shows it."""
    return [
        Job(
            "Quay",
            f"{k}",
            "my-board",
            "no-power",
            readings=(Reading("rail-ohms", 0, value=3.0 + k % 5),),
            outcome=Outcome.REPAIRED,
            fault="c5-short",
        )
        for k in range(count)
    ]


def test_jobs_move_the_prior_by_their_number(library):
    before = learn_board(library, "my-board").models["no-power"]
    with Store.open(library.store) as store:
        store.add(shorts(40))
    learned = learn_board(library, "my-board")
    after = learned.models["no-power"]
    place = before.faults.index("c5-short")
    assert learned.jobs == 40
    assert after.prior[place] - before.prior[place] == pytest.approx(40)


def test_kept_models_answer_until_book_or_jobs_change(library):
    first = learn_board(library, "my-board")
    with Store.open(library.store) as store:
        store.add(shorts(3))
    learned = learn_board(library, "my-board")
    assert learned.learning is not None
    kept = learn_board(library, "my-board")
    assert kept.learning is None
    assert kept.jobs == 3
    assert kept.models["no-power"].prior.tolist() == learned.models["no-power"].prior.tolist()
    assert first.jobs == 0


def test_a_broken_kept_model_is_made_anew(library):
    learn_board(library, "my-board")
    (library.compiled / "my-board" / "no-power" / "model.json").write_text('{"format": "nonsense"}')
    assert learn_board(library, "my-board").models["no-power"].faults[-1] == "unlisted"


def test_what_was_planned_is_kept_and_knows_what_changed_since(library):
    with pytest.raises(NoProcedureError, match="benchlore plan my-board no-power"):
        kept_procedure(library, "my-board", "no-power")
    planned = plan_complaint(library, "my-board", "no-power")
    assert kept_procedure(library, "my-board", "no-power").procedure == planned.procedure
    with Store.open(library.store) as store:
        store.add(shorts(2))
    assert kept_procedure(library, "my-board", "no-power").stale == ("the recorded jobs",)
    shop = library.shop_file
    shop.write_text(shop.read_text().replace("hour: 48", "hour: 50", 1))
    assert kept_procedure(library, "my-board", "no-power").stale == ("the recorded jobs", "the shop file")


def test_a_remark_in_the_shop_file_changes_nothing(library):
    plan_complaint(library, "my-board", "no-power")
    library.shop_file.write_text(library.shop_file.read_text() + "# a remark\n")
    assert kept_procedure(library, "my-board", "no-power").stale == ()


def test_a_procedure_file_of_nonsense_counts_as_none(library):
    plan_complaint(library, "my-board", "no-power")
    path = next((library.compiled / "my-board" / "no-power").glob("*/procedure.json"))
    data = json.loads(path.read_text())
    data["steps"][0]["branches"][0]["to"] = 0
    path.write_text(json.dumps(data))
    with pytest.raises(NoProcedureError):
        kept_procedure(library, "my-board", "no-power")


def test_a_store_of_a_newer_version_is_refused_untouched(library):
    with Store.open(library.store) as store:
        store.add(shorts(1))
    with sqlite3.connect(library.store) as raw:
        raw.execute("UPDATE benchlore_version SET version_num = '9999_from_tomorrow'")
    raw.close()
    before = library.store.read_bytes()
    with pytest.raises(StoreNewer, match="newer benchlore"):
        learn_board(library, "my-board")
    assert library.store.read_bytes() == before


def test_a_store_that_is_no_store_is_refused(library):
    library.store.write_bytes(b"not a database, but long enough to look like a file" * 100)
    with pytest.raises(StoreDamaged, match="not a whole job store"):
        learn_board(library, "my-board")


def test_a_library_that_cannot_be_written_still_learns_but_does_not_plan(library):
    library.compiled.write_text("a file where the folder should be")
    assert learn_board(library, "my-board").jobs == 0
    with pytest.raises(FileNotWritten):
        plan_complaint(library, "my-board", "no-power")


def test_a_library_is_found_from_a_folder_inside(library):
    assert open_library(library.books / "my-board") == library


def test_a_missing_shop_file_is_a_finding(library):
    library.shop_file.unlink()
    shop = review_library(library)[0]
    assert not shop.is_sound
    assert str(shop.problems[0]) == (
        "shop.yaml: error: there is no such file; check the name and the folder [unreadable]"
    )


def test_a_file_that_cannot_be_read_is_a_finding_and_hides_no_other(library):
    (library.books / "my-board" / "book.yaml").write_bytes(b"\xff\xfe\x00\x80 not text")
    shop, book = review_library(library)
    assert shop.is_sound
    assert not book.is_sound
    assert "not UTF-8 text" in book.problems[0].message


def test_the_empty_file_of_a_store_that_was_never_made_counts_as_none(library):
    library.store.touch()
    assert learn_board(library, "my-board").stored == 0


def test_open_jobs_are_stored_and_teach_nothing(library):
    with Store.open(library.store) as store:
        store.add([*shorts(2), Job("Quay", "open", "my-board", "no-power")])
    learned = learn_board(library, "my-board")
    assert (learned.jobs, learned.stored) == (2, 3)


def mended_rejects(library, tmp_path):
    """A table with a refused row, taken in once."""
    table, mapping = tmp_path / "jobs.csv", tmp_path / "jobs.yaml"
    table.write_text("Job,Rail\n1,3 ohm\n2,nonsense\n")
    mapping.write_text(
        "mapping: 1\nshop: Quay\nlayout: wide\njob: Job\nboard: {always: my-board}\n"
        "complaint: {always: no-power}\nchecks: {Rail: rail-ohms}\n"
    )
    return table, mapping, take_in(library, table, mapping, now=datetime(2026, 1, 1, tzinfo=UTC)).rejects


def test_refused_rows_that_were_mended_are_never_written_over(library, tmp_path):
    table, mapping, rejects = mended_rejects(library, tmp_path)
    rejects.write_text(rejects.read_text(encoding="utf-8-sig").replace("nonsense", "2 ohm"))
    mended = rejects.read_text()
    again = take_in(library, table, mapping, now=datetime(2026, 1, 2, tzinfo=UTC))
    assert rejects.read_text() == mended
    assert again.rejects.name == "jobs-refused-2.csv"


@pytest.mark.parametrize("name", ["jobs.csv", "library/books/my-board/book.yaml"])
def test_rejects_never_replace_another_file(library, tmp_path, name):
    table, mapping, _ = mended_rejects(library, tmp_path)
    before = (tmp_path / name).read_bytes()
    with pytest.raises(RejectsInTheWayError, match="holds something else"):
        take_in(library, table, mapping, now=datetime(2026, 1, 2, tzinfo=UTC), rejects=tmp_path / name)
    assert (tmp_path / name).read_bytes() == before
