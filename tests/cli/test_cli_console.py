import signal

import pytest

from benchlore.cli.console import stopping_gently


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
