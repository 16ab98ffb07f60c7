import re
import sqlite3
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from job_samples import JOB, numbered
from sqlalchemy import create_engine, text

from benchlore.jobs import (
    Attempt,
    DemandRecord,
    Retest,
    Store,
    StoreDamaged,
    StoreNewer,
    migrations,
    store_schema,
    tables,
)
from benchlore.jobs.store_engine import connect, locate

FOLDER = Path(migrations.__file__).parent


def old_store(place: Path | str, version: str) -> None:
    """Make a store as an older benchlore made it."""
    from alembic import command
    from alembic.config import Config

    database = connect(locate(place, create=True), wait=1.0)
    with database.writing() as connection:
        config = Config(attributes={"connection": connection})
        config.set_main_option("script_location", str(FOLDER))
        config.set_main_option("path_separator", "os")
        command.upgrade(config, version)
    database.engine.dispose()


def structure(file: Path) -> dict[str, list[str]]:
    """Read what a SQLite file's tables are made of, in an order of our own.

    SQLite writes a column that was added later on the line of the one before it.
    """
    with sqlite3.connect(file) as connection:
        found = connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL").fetchall()
    connection.close()
    return {
        name: sorted(re.split(r",\s+(?![^()]*\))|\(\s*\n|\n\)", sql))
        for name, sql in found
        if name != migrations.VERSION_TABLE
    }


def tidy(lines: list[str]) -> list[str]:
    return sorted(" ".join(line.split()) for line in lines)


def test_the_named_versions_are_the_modules_in_order():
    script = ScriptDirectory(str(FOLDER))
    found = [revision.revision for revision in script.walk_revisions()][::-1]
    assert tuple(found) == migrations.REVISIONS
    assert script.get_current_head() == migrations.HEAD


def test_migrating_makes_the_tables_that_the_program_uses(tmp_path):
    Store.open(tmp_path / "made.sqlite").close()
    engine = create_engine(f"sqlite:///{tmp_path / 'wanted.sqlite'}")
    tables.metadata.create_all(engine)
    engine.dispose()
    made, wanted = structure(tmp_path / "made.sqlite"), structure(tmp_path / "wanted.sqlite")
    assert {name: tidy(lines) for name, lines in made.items()} == {
        name: tidy(lines) for name, lines in wanted.items()
    }


def test_alembic_sees_no_difference_either(place):
    with Store.open(place) as store, store.database.reading() as connection:
        options = {"version_table": migrations.VERSION_TABLE, "compare_type": True}
        assert compare_metadata(MigrationContext.configure(connection, opts=options), tables.metadata) == []


def test_a_server_sorts_texts_by_code_point_whatever_its_locale(server):
    with Store.open(server.database()) as store, store.database.reading() as connection:
        query = text(
            "SELECT table_name, column_name FROM information_schema.columns WHERE table_schema = 'public' AND data_type = 'text' AND collation_name IS DISTINCT FROM 'C'"
        )
        assert connection.execute(query).all() == []


def test_a_store_of_an_older_version_is_brought_up_to_date_with_all_it_holds(place):
    old_store(place, "0001")
    database = connect(locate(place, create=False), wait=1.0)
    with database.writing() as connection:
        row = {column.name: None for column in tables.job.columns} | {
            "id": 1,
            "shop": "s",
            "number": "1",
            "board": "b",
            "complaint": "c",
        }
        row |= {"outcome": "open", "fault_text": "", "technician": "", "notes": "", "extra": ""}
        connection.execute(tables.job.insert(), row)
    database.engine.dispose()
    with Store.open(place, create=False) as store:
        assert [job.number for job in store.jobs()] == ["1"]
        assert store.add_demand([DemandRecord("1", "p")]).new == 1


def test_attempts_of_an_older_store_stay_and_have_no_soak(place):
    old_store(place, "0003")
    database = connect(locate(place, create=False), wait=1.0)
    with database.writing() as connection:
        connection.execute(
            text(
                "INSERT INTO job (id, shop, number, board, complaint, outcome, fault_text, technician, notes, extra) "
                "VALUES (1, 's', '1', 'b', 'c', 'repaired', '', '', '', '')"
            )
        )
        for position, retest in enumerate(("still there", "gone")):
            connection.execute(
                text(f"INSERT INTO attempt VALUES (1, {position}, 'f{position}', {position}, '{retest}')")
            )
    database.engine.dispose()
    with Store.open(place, create=False) as store:
        (job,) = store.jobs()
        assert job.attempts == (Attempt("f0", 0, Retest.STILL_THERE), Attempt("f1", 1, Retest.GONE))
        assert np.isnan(store.columns("b").attempt_soaked).all()
        longer = replace(job, attempts=(job.attempts[0], replace(job.attempts[1], soaked=180.0)))
        assert store.add([longer]).merged == 1
        assert list(store.jobs()) == [longer]
        assert store.columns("b").attempt_soaked.tolist()[1] == 180.0


def test_a_file_is_copied_before_it_is_brought_up_to_date(tmp_path):
    old_store(tmp_path, "0001")
    Store.open(tmp_path).close()
    copy = tmp_path / "jobs.sqlite.before-0004"
    assert sorted(each.name for each in tmp_path.iterdir()) == ["jobs.sqlite", copy.name]
    assert "demand" not in structure(copy)
    assert "demand" in structure(tmp_path / "jobs.sqlite")


def test_a_migration_that_fails_leaves_the_old_store(tmp_path, monkeypatch):
    old_store(tmp_path, "0001")
    before = structure(tmp_path / "jobs.sqlite")
    real = store_schema._upgrade

    def fails(connection):
        real(connection)
        raise RuntimeError("the power went off")

    monkeypatch.setattr(store_schema, "_upgrade", fails)
    with pytest.raises(RuntimeError, match="power"):
        Store.open(tmp_path)
    assert structure(tmp_path / "jobs.sqlite") == before
    monkeypatch.undo()
    Store.open(tmp_path).close()
    assert "demand" in structure(tmp_path / "jobs.sqlite")


def test_a_newer_store_is_refused_and_left_byte_for_byte(tmp_path):
    with Store.open(tmp_path) as store:
        store.add(numbered(3))
    file = tmp_path / "jobs.sqlite"
    connection = sqlite3.connect(file)
    connection.execute(f"UPDATE {migrations.VERSION_TABLE} SET version_num = '0099'")
    connection.commit()
    connection.close()
    before = file.read_bytes()
    with pytest.raises(
        StoreNewer,
        match=r"jobs\.sqlite: a newer benchlore made .*'0099'.*'0004'.*update benchlore.*nothing was changed",
    ):
        Store.open(tmp_path)
    assert file.read_bytes() == before
    assert [each.name for each in tmp_path.iterdir()] == ["jobs.sqlite"]


def test_a_newer_database_is_refused(server):
    place = server.database()
    Store.open(place).close()
    database = connect(locate(place, create=False), wait=1.0)
    with database.writing() as connection:
        connection.execute(text(f"UPDATE {migrations.VERSION_TABLE} SET version_num = '0099'"))
    database.engine.dispose()
    with pytest.raises(StoreNewer, match="'0099'"):
        Store.open(place)


def test_a_database_of_something_else_is_refused_and_left_alone(place):
    database = connect(locate(place, create=True), wait=1.0)
    with database.writing() as connection:
        connection.execute(text("CREATE TABLE invoices (number INTEGER)"))
    database.engine.dispose()
    with pytest.raises(StoreDamaged, match="a database of something else, with a table 'invoices'"):
        Store.open(place)
    if isinstance(place, Path):
        assert list(structure(place / "jobs.sqlite")) == ["invoices"]


def test_a_store_that_does_not_say_its_version_is_refused(tmp_path):
    Store.open(tmp_path).close()
    connection = sqlite3.connect(tmp_path / "jobs.sqlite")
    connection.execute(f"DELETE FROM {migrations.VERSION_TABLE}")
    connection.commit()
    connection.close()
    with pytest.raises(StoreDamaged, match="does not say its version"):
        Store.open(tmp_path)


def test_a_file_that_another_program_took_out_of_its_journal_is_put_back(tmp_path):
    with Store.open(tmp_path) as store:
        store.add([JOB])
    connection = sqlite3.connect(tmp_path / "jobs.sqlite")
    connection.execute("PRAGMA journal_mode = DELETE")
    connection.close()
    Store.open(tmp_path).close()
    connection = sqlite3.connect(tmp_path / "jobs.sqlite")
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    connection.close()


def test_opening_a_store_that_is_up_to_date_imports_no_alembic(tmp_path):
    Store.open(tmp_path).close()
    program = "import sys; from benchlore.jobs import Store; Store.open(sys.argv[1]).close(); print('alembic' in sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", program, str(tmp_path)], capture_output=True, text=True, check=True
    )
    assert done.stdout == "False\n"


def test_a_folder_with_signs_that_mean_something_elsewhere_holds_a_store(tmp_path):
    folder = tmp_path / "50 % off? #1 & süß"
    folder.mkdir()
    with Store.open(folder) as store:
        store.add([JOB])
    with Store.open(str(folder / "jobs.sqlite"), create=False) as store:
        assert store.count() == 1
    with Store.open(f"sqlite:///{tmp_path}/plain.sqlite") as store:
        assert store.place == f"{tmp_path}/plain.sqlite"
