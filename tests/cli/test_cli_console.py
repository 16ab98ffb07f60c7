import ctypes
import signal

import pytest

from benchlore.cli.console import say, solver_silenced, stopping_gently


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
