"""Accounts and sessions: what is stored, what it opens, and for how long."""

import stat
import threading
from datetime import UTC, datetime, timedelta

import pytest
from argon2 import PasswordHasher, Type, extract_parameters

from benchlore.library import (
    AccountRefusedError,
    Accounts,
    AccountsUnreadableError,
    NoAccountError,
    Role,
    Sessions,
)
from benchlore.library.accounts import MOST_AT_ONCE
from benchlore.library.accounts_file import accounts_folder, accounts_path
from benchlore.library.sessions import ABSOLUTE, IDLE, MOST

QUICK = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
PASSWORD = "a lamp, a loupe"
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


@pytest.fixture
def accounts(library):
    return Accounts(library, hasher=QUICK)


@pytest.fixture
def ines(accounts):
    return accounts.add("Ines Okafor", Role.BENCH, PASSWORD)


@pytest.fixture
def sessions(library, accounts):
    return Sessions(library, accounts)


def mode(path):
    return stat.S_IMODE(path.stat().st_mode)


def files(library):
    return [path for path in accounts_folder(library).rglob("*") if path.is_file()]


def test_a_library_has_no_accounts_and_no_file_of_them(library, accounts):
    assert accounts.all() == ()
    assert not accounts_folder(library).exists()


def test_a_person_is_known_by_name_whatever_the_case_and_the_blanks(accounts, ines):
    assert accounts.check("  ines   OKAFOR ", PASSWORD) == ines
    assert accounts.check("Ines Okafor", PASSWORD.upper()) is None
    assert accounts.check("Marten", PASSWORD) is None


def test_a_password_is_the_same_however_the_keyboard_writes_its_signs(accounts):
    accounts.add("Ada", Role.BENCH, "nu\u0308chterne Lampe")
    assert accounts.check("Ada", "n\u00fcchterne Lampe")


def test_passwords_are_hashed_as_the_library_hashes_by_default(library):
    Accounts(library).add("Ines", Role.BENCH, PASSWORD)
    (stored,) = Accounts(library).all()
    found, defaults = extract_parameters(stored.password), PasswordHasher()
    assert found.type is Type.ID
    # RFC 9106, section 4, second recommended option, which argon2-cffi takes as its default.
    assert (found.memory_cost, found.time_cost, found.parallelism) == (64 * 1024, 3, 4)
    assert not defaults.check_needs_rehash(stored.password)
    assert stored.password not in repr(stored)


def test_a_password_is_hashed_anew_when_the_parameters_have_changed(library, accounts, ines):
    stronger = Accounts(library, hasher=PasswordHasher(time_cost=2, memory_cost=16, parallelism=1))
    assert stronger.check("Ines Okafor", "something else there") is None
    assert accounts.all() == (ines,)
    assert stronger.check("Ines Okafor", PASSWORD)
    (now,) = accounts.all()
    assert extract_parameters(now.password).time_cost == 2
    assert (now.name, now.role, now.serial) == (ines.name, ines.role, ines.serial)
    assert accounts.check("Ines Okafor", PASSWORD)


def test_an_unknown_name_costs_a_verification_too(library, ines):
    class Counting(PasswordHasher):
        verified = 0

        def verify(self, *arguments):
            Counting.verified += 1
            return super().verify(*arguments)

    counting = Accounts(library, hasher=Counting(time_cost=1, memory_cost=8, parallelism=1))
    for name in ("Ines Okafor", "nobody", ""):
        assert counting.check(name, "wrong, but long") is None
    assert Counting.verified == 3


def test_few_passwords_are_tried_at_one_time(library, ines):
    busy, most, lock = 0, 0, threading.Lock()

    class Slow(PasswordHasher):
        def verify(self, *arguments):
            nonlocal busy, most
            with lock:
                busy += 1
                most = max(most, busy)
            threading.Event().wait(0.01)
            with lock:
                busy -= 1
            return super().verify(*arguments)

    slow = Accounts(library, hasher=Slow(time_cost=1, memory_cost=8, parallelism=1))
    threads = [threading.Thread(target=slow.check, args=("Ines Okafor", PASSWORD)) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert most == MOST_AT_ONCE


def test_only_the_owner_reads_what_is_stored(library, ines, sessions):
    sessions.begin(ines, NOON)
    assert len(files(library)) == 3
    assert {mode(path) for path in files(library)} == {0o600}
    assert mode(accounts_folder(library)) == 0o700
    assert (accounts_folder(library) / ".gitignore").read_text() == "*\n"
    # A file that somebody made readable to others is theirs alone again after the next change.
    accounts_path(library).chmod(0o644)
    Accounts(library, hasher=QUICK).set_role("Ines Okafor", Role.AUTHOR)
    assert mode(accounts_path(library)) == 0o600


def test_neither_password_nor_token_is_stored(library, ines, sessions):
    token = sessions.begin(ines, NOON)
    assert len(token) >= 43  # 256 bits in base64
    for path in files(library):
        assert PASSWORD not in path.read_text()
        assert token not in path.read_text()
        assert token not in path.name


@pytest.mark.parametrize("name", ["", "  ", "a\x1bb", "a\x00", "x" * 65])
def test_a_name_stands_beside_entries_so_it_is_one(accounts, name):
    with pytest.raises(AccountRefusedError, match="1 to 64 characters"):
        accounts.add(name, Role.BENCH, PASSWORD)


@pytest.mark.parametrize(
    ("password", "said"),
    [
        ("short", "5 characters"),
        ("x" * 201, "201 characters"),
        ("aaaabbbbcccc", "guessed"),
        ("INES von der Werft", "guessed"),
    ],
)
def test_a_weak_password_is_refused(library, accounts, password, said):
    with pytest.raises(AccountRefusedError, match=said):
        accounts.add("ines von der werft", Role.BENCH, password)
    assert not accounts_path(library).exists()


def test_a_name_is_given_once(accounts, ines):
    with pytest.raises(AccountRefusedError, match="already"):
        accounts.add("INES OKAFOR", Role.STEWARD, PASSWORD)
    assert accounts.all() == (ines,)


def test_whom_there_is_not_nobody_changes(accounts, ines):
    for change in (
        lambda: accounts.remove("Ines Okafr"),
        lambda: accounts.set_role("Ines Okafr", Role.STEWARD),
        lambda: accounts.set_password("Ines Okafr", PASSWORD),
    ):
        with pytest.raises(NoAccountError, match="did you mean 'Ines Okafor'"):
            change()


def test_changes_at_one_time_are_all_kept(library):
    def add(number):
        Accounts(library, hasher=QUICK).add(f"person {number}", Role.BENCH, PASSWORD)

    threads = [threading.Thread(target=add, args=(k,)) for k in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(Accounts(library).all()) == 12


@pytest.mark.parametrize("text", ["", "{}x", '{"accounts": 5}', '{"format": 2, "accounts": []}', "[]"])
def test_a_file_that_is_no_accounts_lets_nobody_in(library, accounts, ines, text):
    accounts_path(library).write_text(text)
    with pytest.raises(AccountsUnreadableError, match="nobody can sign in"):
        accounts.check("Ines Okafor", PASSWORD)
    with pytest.raises(AccountsUnreadableError):
        accounts.add("Marten", Role.STEWARD, PASSWORD)
    assert accounts_path(library).read_text() == text


def test_each_role_may_do_what_those_below_it_may():
    may = {(role, needed) for role in Role for needed in Role if role.may(needed)}
    assert may == {
        (Role.BENCH, Role.BENCH),
        (Role.AUTHOR, Role.BENCH),
        (Role.AUTHOR, Role.AUTHOR),
        (Role.STEWARD, Role.BENCH),
        (Role.STEWARD, Role.AUTHOR),
        (Role.STEWARD, Role.STEWARD),
    }


def test_a_session_outlives_the_program(library, ines, sessions):
    token = sessions.begin(ines, NOON)
    again = Sessions(library, Accounts(library))
    assert again.person(token, NOON + timedelta(hours=1)) == ines
    assert again.person(token + "x", NOON) is None
    assert again.person("", NOON) is None
    assert again.person("../accounts", NOON) is None


def test_a_session_that_is_left_alone_ends(ines, sessions):
    token = sessions.begin(ines, NOON)
    assert sessions.person(token, NOON + IDLE) == ines
    assert sessions.person(token, NOON + 2 * IDLE) == ines
    assert sessions.person(token, NOON + 3 * IDLE + timedelta(seconds=1)) is None
    assert sessions.person(token, NOON) is None


def test_a_session_that_is_used_all_the_time_ends_after_a_week(ines, sessions):
    token, now = sessions.begin(ines, NOON), NOON
    while now + IDLE / 2 <= NOON + ABSOLUTE:
        now += IDLE / 2
        assert sessions.person(token, now) == ines
    assert sessions.person(token, NOON + ABSOLUTE + timedelta(seconds=1)) is None


@pytest.mark.parametrize(
    "change",
    [
        lambda accounts: accounts.set_password("Ines Okafor", "quite another one"),
        lambda accounts: accounts.remove("Ines Okafor"),
        lambda accounts: (accounts.remove("Ines Okafor"), accounts.add("Ines Okafor", Role.BENCH, PASSWORD)),
    ],
)
def test_another_password_or_none_ends_every_session(library, ines, sessions, change):
    token = sessions.begin(ines, NOON)
    change(Accounts(library, hasher=QUICK))
    assert sessions.person(token, NOON) is None


def test_another_role_holds_at_once_and_ends_nothing(library, ines, sessions):
    token = sessions.begin(ines, NOON)
    Accounts(library, hasher=QUICK).set_role("ines okafor", Role.STEWARD)
    assert sessions.person(token, NOON).role is Role.STEWARD


def test_a_person_has_so_many_sessions_and_the_oldest_goes(accounts, ines, sessions):
    marten = accounts.add("Marten", Role.BENCH, PASSWORD)
    other = sessions.begin(marten, NOON - timedelta(hours=1))
    tokens = [sessions.begin(ines, NOON + timedelta(seconds=k)) for k in range(MOST + 2)]
    later = NOON + timedelta(minutes=1)
    alive = [sessions.person(token, later) is not None for token in tokens]
    assert alive == [False, False, *[True] * MOST]
    assert sessions.person(other, later) == marten


def test_a_session_that_is_not_one_opens_nothing(library, ines, sessions):
    token = sessions.begin(ines, NOON)
    (path,) = (accounts_folder(library) / "sessions").glob("*.json")
    path.write_text('{"name": "Ines Okafor"}')
    assert sessions.person(token, NOON) is None
    sessions.begin(ines, NOON)
    assert not path.exists()
