import json
from dataclasses import dataclass

import pytest

from benchlore.cli import main


@dataclass(frozen=True)
class Ran:
    code: int
    out: str
    err: str

    @property
    def data(self):
        return json.loads(self.out)


@pytest.fixture
def run(monkeypatch, capsys):
    """Run the command line in this process, as a shell would."""

    def command(*arguments) -> Ran:
        monkeypatch.setattr("sys.argv", ["benchlore", *map(str, arguments)])
        try:
            main()
        except SystemExit as ended:
            code = ended.code or 0
        else:
            code = 0
        out, err = capsys.readouterr()
        return Ran(code, out, err)

    return command


@pytest.fixture
def library(run, tmp_path, monkeypatch):
    """A library that ``init`` made, which is the current folder."""
    folder = tmp_path / "library"
    assert run("init", folder).code == 0
    monkeypatch.chdir(folder)
    return folder
