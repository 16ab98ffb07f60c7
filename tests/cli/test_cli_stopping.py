"""Ctrl-C, whenever it comes: one sentence, its own exit code, no traceback."""

import subprocess
import sys

import pytest

from benchlore.__main__ import STOPPED, STOPPED_BY_USER, main


def test_a_command_that_is_stopped_says_so(monkeypatch, capsys):
    def stopped():
        raise KeyboardInterrupt

    monkeypatch.setattr("benchlore.cli.commands_rest.say_json", lambda _: stopped())
    monkeypatch.setattr(sys, "argv", ["benchlore", "schema"])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == STOPPED
    assert capsys.readouterr().err == f"{STOPPED_BY_USER}\n"


def test_other_ends_say_nothing_of_it(monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["benchlore", "--version"])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 0
    assert capsys.readouterr().err == ""


def test_stopped_while_its_parts_are_read_it_ends_alike():
    """A module that the command line imports is where Ctrl-C comes."""
    broken = "import sys\nclass Stop:\n def find_spec(self, name, *_):\n  if name == 'typer': raise KeyboardInterrupt\n"
    code = f"{broken}sys.meta_path.insert(0, Stop())\nfrom benchlore.__main__ import main\nmain()"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (told.returncode, told.stdout, told.stderr) == (STOPPED, "", f"{STOPPED_BY_USER}\n")
