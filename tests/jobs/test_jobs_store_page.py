"""The manual's page on the store is run, and says what the program says."""

import re
from pathlib import Path

from job_samples import JOB, numbered

from benchlore.jobs import Store, tables
from benchlore.jobs.migrations import HEAD, VERSION_TABLE

PAGE = (Path(__file__).parents[2] / "docs" / "store.md").read_text(encoding="utf-8")


def test_the_programs_on_the_page_run(tmp_path, monkeypatch, server):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my-library").mkdir()
    with Store.open("my-library") as store:
        store.add([JOB, *numbered(3)])
    url = server.database()
    for program in re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL):
        exec(program.replace("postgresql://ines@bench-server/jobs", url), {})
    for place in ("jobs-backup.sqlite", "restored.sqlite", url):
        with Store.open(place, create=False) as store:
            assert store.count() == 4


def test_the_page_names_every_table_and_the_newest_version():
    for name in (*tables.metadata.tables, VERSION_TABLE):
        assert f"`{name}`" in PAGE
    assert f"jobs.sqlite.before-{HEAD}" in PAGE


def test_the_page_quotes_messages_that_there_are():
    folder = Path(tables.__file__).parent
    source = "".join((folder / name).read_text(encoding="utf-8") for name in ("errors.py", "storable.py"))
    _, *rows = re.findall(r"^\| ([a-z].*?) \|", PAGE.split("## When something is wrong")[1], re.MULTILINE)
    quoted = [part for row in rows for part in row.removesuffix(", …").split(", ")]
    assert len(quoted) == 9
    assert [part for part in quoted if part not in source] == []
