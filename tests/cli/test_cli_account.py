"""Accounts from the command line, and what serve refuses without them."""

import io
import stat

import pytest


@pytest.fixture
def type_in(monkeypatch):
    """Give a command its standard input, which is no terminal."""
    return lambda text: monkeypatch.setattr("sys.stdin", io.StringIO(text))


def test_a_person_is_added_listed_changed_and_removed(run, library, type_in):
    assert "There are no accounts" in run("account", "list").out
    type_in("a lamp, a loupe\n")
    added = run("account", "add", "Ines Okafor", "--role", "steward")
    assert "Ines Okafor may sign in as steward" in added.out
    stored = (library / ".accounts" / "accounts.json").read_text()
    assert "a lamp" not in added.out + added.err + stored
    assert stat.S_IMODE((library / ".accounts" / "accounts.json").stat().st_mode) == 0o600
    (told,) = run("account", "list", "--json").data
    assert (told["name"], told["role"], set(told)) == ("Ines Okafor", "steward", {"name", "role", "since"})
    assert run("account", "role", "ines okafor", "bench").code == 0
    type_in("quite another one\n")
    assert run("account", "password", "Ines Okafor").code == 0
    assert (library / ".accounts" / "accounts.json").read_text() != stored
    assert "Ines Okafor  bench " in run("account", "list").out
    assert run("account", "remove", "Ines Okafor").code == 0
    assert run("account", "list", "--json").data == []


def test_a_terminal_is_asked_twice_and_shows_nothing(run, library, monkeypatch):
    class Terminal(io.StringIO):
        def isatty(self):
            return True

    asked = []
    monkeypatch.setattr("sys.stdin", Terminal())
    answers = iter(["a lamp, a loupe", "a lamp, a lupe", "a lamp, a loupe", "a lamp, a loupe"])
    monkeypatch.setattr("getpass.getpass", lambda said: asked.append(said) or next(answers))
    refused = run("account", "add", "Ines")
    assert (refused.code, len(asked)) == (1, 2)
    assert "differ" in refused.err
    assert run("account", "add", "Ines").code == 0


@pytest.mark.parametrize(("typed", "said"), [("", "0 characters"), ("short\n", "5 characters")])
def test_a_weak_password_is_refused(run, library, type_in, typed, said):
    type_in(typed)
    refused = run("account", "add", "Ines")
    assert refused.code == 1
    assert said in refused.err
    assert not (library / ".accounts" / "accounts.json").exists()


def test_no_option_takes_a_password(run, library):
    assert run("account", "add", "Ines", "--password", "a lamp, a loupe").code == 2
    assert run("account", "add", "Ines", "a lamp, a loupe").code == 2


def test_a_name_that_there_is_not_is_said(run, library):
    refused = run("account", "remove", "Nobody")
    assert refused.code == 1
    assert "nobody of the name 'Nobody'" in refused.err


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--host", "0.0.0.0"], "--certificate FILE --key FILE"),
        (["--host", "::"], "--certificate FILE --key FILE"),
        (["--host", "bench.example"], "--certificate FILE --key FILE"),
        (["--host", "0.0.0.0", "--behind-proxy", "127.0.0.1"], "benchlore account add"),
        (["--behind-proxy", "127.0.0.1"], "benchlore account add"),
        (["--behind-proxy", "proxy.example"], "address that the proxy speaks from"),
        (["--certificate", "shop.yaml"], "needs its key"),
        (["--certificate", "shop.yaml", "--key", "shop.yaml"], "no certificate and key in PEM form"),
        (["--certificate", "a", "--key", "b", "--behind-proxy", "127.0.0.1"], "leave out one"),
    ],
)
def test_serve_opens_to_nobody_what_is_not_fit_for_it(run, library, options, said):
    refused = run("serve", "--no-open", "--port", "0", *options)
    assert refused.code == 1
    assert said in refused.err
    assert refused.out == ""


def test_nothing_that_is_exported_holds_accounts(run, library, type_in, tmp_path):
    type_in("a lamp, a loupe\n")
    run("account", "add", "Ines Okafor", "--role", "steward")
    run("export", tmp_path / "out")
    for path in (tmp_path / "out").rglob("*"):
        assert "Ines Okafor" not in path.read_text()
