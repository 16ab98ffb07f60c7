import ctypes
import signal

import pytest

from benchlore.cli.console import complain, progress_shown, say, solver_silenced, stopping_gently


def test_the_first_interrupt_asks_and_the_second_stops(capsys):
    before = signal.getsignal(signal.SIGINT)
    with stopping_gently() as interrupted:
        assert not interrupted()
        signal.raise_signal(signal.SIGINT)
        assert interrupted()
        assert "press Ctrl-C again to stop at once" in capsys.readouterr().err
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) == before


def test_what_a_solver_prints_by_itself_is_kept_out(capfd):
    puts = ctypes.CDLL(None).puts
    with solver_silenced():
        puts(b"noise")
    say(["told"])
    assert capfd.readouterr().out == "told\n"


def test_where_no_terminal_is_each_step_is_said_once_if_asked_for(capsys):
    with progress_shown(told=True) as report:
        for done in range(3):
            report("Planning a", done, 3)
        report("Planning b", 0, 0)
    assert capsys.readouterr() == ("", "Planning a …\nPlanning b …\n")
    for asked in ({}, {"told": True, "quiet": True}):
        with progress_shown(**asked) as report:
            report("Planning a", 0, 1)
    assert capsys.readouterr() == ("", "")


def test_a_complaint_is_wrapped_on_a_terminal_and_left_whole_elsewhere(capsys, monkeypatch):
    message = f"benchlore: the book has errors:\n  book.yaml:3:1: error: {'long ' * 20}[rule]"
    complain(message)
    assert capsys.readouterr().err == f"{message}\n"
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    complain(message)
    lines = capsys.readouterr().err.splitlines()
    assert [line[:4] for line in lines] == ["benc", "  bo", "    "]
    assert max(map(len, lines)) <= 80
    assert " ".join(" ".join(lines).split()) == " ".join(message.split())
