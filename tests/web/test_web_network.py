"""The app on a network: real servers with TLS and behind a proxy, and thirty benches at one of them."""

import json
import ssl
import threading
import time
import urllib.error
import urllib.request
from contextlib import contextmanager
from datetime import UTC, datetime

import pytest
import trustme
import uvicorn
from argon2 import PasswordHasher
from bench_forms import bench_library
from web_browser import served

from benchlore.jobs import EntryKind, Store
from benchlore.library import Accounts, Desk, Role, Sessions
from benchlore.web import Listening, serve

QUICK = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
BENCHES, ENTRIES = 30, 2


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    found = bench_library(tmp_path_factory.mktemp("network") / "library")
    Accounts(found, hasher=QUICK).add("Ines", Role.STEWARD, "a lamp, a loupe")
    return found


@pytest.fixture(scope="module")
def session(library):
    accounts = Accounts(library)
    return Sessions(library, accounts).begin(accounts.find("Ines"), datetime.now(UTC))


@contextmanager
def serving(library, where, monkeypatch):
    """The program's own way to serve, in a thread, and its port."""
    told, servers = [], []
    run = uvicorn.Server.run
    monkeypatch.setattr(
        uvicorn.Server, "run", lambda self, sockets: (servers.append(self), run(self, sockets=sockets))
    )
    thread = threading.Thread(target=serve, args=(library, where), kwargs={"ready": told.append}, daemon=True)
    thread.start()
    while not (servers and servers[0].started):
        assert thread.is_alive(), "the server ended before it began"
        time.sleep(0.02)
    yield told[0]
    servers[0].should_exit = True
    thread.join(10)


def ask(address, headers=None, context=None):
    """The status of an answer and its text; redirects are not followed."""

    class Stay(urllib.request.HTTPRedirectHandler):
        def redirect_request(self, *arguments):  # noqa: ARG002
            return None

    opener = urllib.request.build_opener(Stay, urllib.request.HTTPSHandler(context=context))
    try:
        with opener.open(urllib.request.Request(address, headers=headers or {}), timeout=30) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.read().decode()


def test_through_tls_a_person_signs_in(library, session, tmp_path, monkeypatch):
    authority = trustme.CA()
    issued = authority.issue_cert("127.0.0.1")
    certificate, key = tmp_path / "bench.pem", tmp_path / "bench.key"
    issued.cert_chain_pems[0].write_to_path(certificate)
    issued.private_key_pem.write_to_path(key)
    context = ssl.create_default_context()
    authority.configure_trust(context)
    with serving(library, Listening("0.0.0.0", 0, certificate, key), monkeypatch) as told:
        assert told.startswith("https://")
        address = f"https://127.0.0.1:{told.rsplit(':')[-1]}"
        assert ask(f"{address}api/bench", context=context)[0] == 401
        assert ask(f"{address}bench", context=context)[0] == 303
        cookie = {"cookie": f"__Host-benchlore={session}"}
        assert ask(f"{address}bench", cookie, context)[0] == 200
        assert ask(f"{address}bench", {"cookie": f"benchlore={session}"}, context)[0] == 303


def test_behind_a_proxy_only_what_came_through_its_tls_is_answered(library, session, monkeypatch):
    cookie = {"cookie": f"__Host-benchlore={session}"}
    with serving(library, Listening(port=0, proxy="127.0.0.1"), monkeypatch) as address:
        through = {"x-forwarded-proto": "https", "x-forwarded-for": "192.0.2.7", "host": "bench.example"}
        assert ask(f"{address}bench", {**through, **cookie})[0] == 200
        assert ask(f"{address}api/bench", through)[0] == 401
        for headers in ({}, {"x-forwarded-proto": "http"}):
            status, said = ask(f"{address}bench", {**headers, **cookie})
            assert status == 403
            assert "did not come through TLS" in said


def test_who_is_not_the_proxy_is_not_believed(library, session, monkeypatch):
    cookie = {"cookie": f"__Host-benchlore={session}", "x-forwarded-proto": "https"}
    with serving(library, Listening(port=0, proxy="192.0.2.1"), monkeypatch) as address:
        assert ask(f"{address}bench", cookie)[0] == 403


def test_a_proxy_that_nobody_told_of_is_refused(library, session):
    with served(library) as address:
        cookie = {"cookie": f"benchlore={session}"}
        assert ask(f"{address}/bench", cookie)[0] == 200
        status, said = ask(f"{address}/bench", {**cookie, "x-forwarded-for": "192.0.2.7"})
        assert status == 403
        assert "--behind-proxy" in said


def test_thirty_benches_at_one_server_lose_and_double_nothing(library, session):
    """The store's own test has thirty threads at one store; this has them at the program, over HTTP."""
    headers = {"content-type": "application/json", "cookie": f"benchlore={session}"}
    failures, together = [], threading.Barrier(BENCHES)

    def send(address, path, sent):
        request = urllib.request.Request(f"{address}/api/bench{path}", json.dumps(sent).encode(), headers)
        with urllib.request.urlopen(request, timeout=120) as answer:
            return json.loads(answer.read())

    def work(address, bench):
        key = f"bench-{bench:02d}"
        try:
            together.wait(60)
            job = {"board": "my-board", "complaint": "no-power", "key": key}
            assert send(address, "", job) == send(address, "", job)
            for place in range(ENTRIES):
                text = f"{bench + 1}.{place + 1} ohm"
                entry = {
                    "kind": "reading",
                    "data": {"check": "rail-ohms", "text": text},
                    "expected": place,
                    "token": f"{key}-{place}",
                }
                answers = [send(address, f"/{key}/entries", entry) for _ in range(2)]
                assert [answer["last"] for answer in answers] == [place + 1] * 2
            ending = {"outcome": "returned", "expected": ENTRIES, "token": f"{key}-close"}
            assert all(send(address, f"/{key}/close", ending)["closed"] for _ in range(2))
        except BaseException as failure:
            failures.append((bench, failure))
            raise

    with served(library) as address:
        threads = [threading.Thread(target=work, args=(address, bench)) for bench in range(BENCHES)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert not failures
    with Store.open(library.store, create=False) as store:
        recorded = {job.number: job for job in store.jobs()}
        assert len(recorded) == BENCHES
        for bench in range(BENCHES):
            job, entries = store.journal(f"bench-{bench:02d}")
            told = [f"{bench + 1}.{place + 1} ohm" for place in range(ENTRIES)]
            assert [entry.data.get("text") for entry in entries] == [*told, None]
            assert [entry.kind for entry in entries] == [*[EntryKind.READING] * ENTRIES, EntryKind.CLOSE]
            assert {entry.by for entry in entries} == {"Ines"}
            assert [reading.text for reading in recorded[job.number].readings] == told
    with Desk(library) as desk:
        assert desk.jobs(datetime.now(UTC)) == ()
