"""Who may do what: signing in, roles, and what nobody gets by who is not signed in."""

import re
from http.cookies import SimpleCookie

import pytest
from argon2 import PasswordHasher
from bench_forms import Visitor, bench_library, read, words
from fastapi.routing import iter_route_contexts
from starlette.testclient import TestClient

from benchlore.library import Accounts, Desk, Role
from benchlore.library.accounts_file import accounts_path
from benchlore.web import Front, create_app
from benchlore.web.at_desk import here
from benchlore.web.rules import RULES, needed_role

QUICK = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
PASSWORD = "a lamp, a loupe"
PEOPLE = {"Ines": Role.STEWARD, "Marten": Role.AUTHOR, "Tove": Role.BENCH}


@pytest.fixture
def library(tmp_path):
    found = bench_library(tmp_path / "library")
    accounts = Accounts(found, hasher=QUICK)
    for name, role in PEOPLE.items():
        accounts.add(name, role, PASSWORD)
    return found


@pytest.fixture
def app(library):
    made = create_app(library)
    made.state.accounts._hasher = QUICK
    return made


@pytest.fixture
def visit(app):
    """A browser of somebody who is signed in, or of nobody."""

    def visitor(name=None):
        client = TestClient(app, base_url="http://127.0.0.1")
        if name is not None:
            answer = sign_in(client, name)
            assert answer.status_code == 303
        return client

    return visitor


def sign_in(client, name, password=PASSWORD, **other):
    data = {"name": name, "password": password, **other}
    return client.post("/sign-in", data=data, follow_redirects=False)


def addresses_of(app):
    """Every address of the app but the files, with its methods."""
    return [
        (each.path, set(each.methods))
        for each in iter_route_contexts(app.routes)
        if getattr(each, "methods", None)
    ]


def cookie(answer):
    (found,) = SimpleCookie(answer.headers["set-cookie"]).values()
    return found


def test_without_accounts_this_machine_does_everything(library):
    accounts_path(library).unlink()
    client = TestClient(create_app(library), base_url="http://127.0.0.1")
    for path in ("/bench", "/people", "/intake", "/books/my-board/edit", "/api/books"):
        assert client.get(path).status_code == 200, path


def test_nobody_sees_a_page_without_signing_in(visit, app):
    addresses = {path for path, _ in addresses_of(app) if not path.startswith("/looks/")}
    addresses -= {"/sign-in", "/favicon.ico"}
    assert len(addresses) > 25
    for address in sorted(addresses):
        path = re.sub(r"\{[^}]*\}", "x", address)
        client = visit()
        for method in ("GET", "HEAD", "POST", "PUT", "DELETE", "PATCH", "OPTIONS"):
            answer = client.request(method, path, follow_redirects=False)
            if method in {"GET", "HEAD", "OPTIONS"} and not path.startswith("/api/"):
                assert answer.headers["location"].startswith("/sign-in"), (method, path)
            else:
                assert answer.status_code == 401, (method, path)
                assert answer.headers["www-authenticate"]
            assert "my-board" not in answer.text


def test_every_address_that_changes_something_has_a_rule_of_its_own(app):
    for address, methods in addresses_of(app):
        path = re.sub(r"\{[^}]*\}", "x", address)
        for method in methods - {"GET", "HEAD"}:
            if path != "/sign-in":
                assert any(method in some and fits.fullmatch(path) for _, some, fits in RULES), path


@pytest.mark.parametrize(
    ("method", "path", "role"),
    [
        ("GET", "/bench/key", Role.BENCH),
        ("POST", "/bench/key/close", Role.BENCH),
        ("POST", "/api/bench", Role.BENCH),
        ("POST", "/api/bench/key/reopen", Role.STEWARD),
        ("GET", "/books/my-board", Role.BENCH),
        ("GET", "/books/my-board/edit", Role.AUTHOR),
        ("PUT", "/api/books/my-board", Role.AUTHOR),
        ("POST", "/intake/token/take", Role.AUTHOR),
        ("GET", "/people", Role.STEWARD),
        ("POST", "/people/change", Role.STEWARD),
        ("GET", "/money", Role.BENCH),
        ("GET", "/money/research", Role.BENCH),
        ("GET", "/money/fund", Role.STEWARD),
        ("GET", "/money/fund/plan.csv", Role.STEWARD),
        ("GET", "/money/credit/answer.csv", Role.STEWARD),
        ("GET", "/money/learning", Role.AUTHOR),
        ("GET", "/money/impact", Role.BENCH),
        ("GET", "/money/equipment/state", Role.BENCH),
        ("POST", "/money/fund/rows/new", Role.STEWARD),
        ("POST", "/something/new", Role.STEWARD),
        ("DELETE", "/bench/key", Role.STEWARD),
        ("GET", "/static/a\n/../people", Role.STEWARD),
        ("GET", "/sign-in", None),
        ("POST", "/sign-in", None),
        ("GET", "/static/app.css", None),
        ("GET", "/looks/colours.css", None),
        ("GET", "/looks/../people", Role.BENCH),
    ],
)
def test_what_needs_which_role(method, path, role):
    assert needed_role(method, path) is role


def test_a_host_header_bends_no_address(library):
    app = create_app(library, Front(("*",), must_sign_in=True, secure=True))
    client = TestClient(app, base_url="https://bench.example")
    for host in ("x/static/a?", "x/sign-in#", "x/looks/colours.css?"):
        answer = client.get("/people", headers={"host": host}, follow_redirects=False)
        assert answer.status_code in {303, 400}
        assert "Ines" not in answer.text


def test_signing_in_leads_to_where_one_wanted_to_go(visit):
    client = visit()
    sent = client.get("/bench/start?board=my-board&complaint=no-power")
    form = read(sent).forms[-1]
    assert form["fields"]["next"] == "/bench/start?board=my-board&complaint=no-power"
    answer = sign_in(client, "tove", next=form["fields"]["next"])
    assert answer.headers["location"] == form["fields"]["next"]
    page = client.get(answer.headers["location"])
    assert read(page).forms[-1]["fields"]["technician"] == "Tove"


@pytest.mark.parametrize(
    "there", ["//bench.example", "https://bench.example", "/\\bench.example", "/a\nb", "", "bench"]
)
def test_signing_in_leads_nowhere_else(visit, there):
    assert sign_in(visit(), "Tove", next=there).headers["location"] == "/"


def test_the_cookie_is_kept_from_scripts_and_other_sites(visit):
    found = cookie(sign_in(visit(), "Tove"))
    assert found.key == "benchlore"
    assert (found["httponly"], found["samesite"], found["path"]) == (True, "strict", "/")
    assert not found["secure"]


def test_through_tls_the_cookie_goes_no_other_way(library):
    app = create_app(library, Front(("*",), must_sign_in=True, secure=True))
    app.state.accounts._hasher = QUICK
    client = TestClient(app, base_url="https://bench.example")
    found = cookie(sign_in(client, "Tove"))
    assert found.key == "__Host-benchlore"
    assert (found["secure"], found["path"], found["domain"]) == (True, "/", "")
    assert client.get("/bench").status_code == 200


def test_each_signing_in_has_a_token_of_its_own_and_ends_the_one_before(visit):
    client = visit("Tove")
    first = client.cookies["benchlore"]
    sign_in(client, "Tove")
    assert client.cookies["benchlore"] != first
    client.cookies.clear()
    assert client.get("/bench", headers={"cookie": f"benchlore={first}"}, follow_redirects=False).is_redirect


def test_who_signs_out_is_out_wherever_the_cookie_went(visit):
    client = visit("Tove")
    kept = client.cookies["benchlore"]
    assert client.post("/sign-out", follow_redirects=False).headers["location"] == "/sign-in"
    assert "benchlore" not in client.cookies
    answer = client.get("/bench", headers={"cookie": f"benchlore={kept}"}, follow_redirects=False)
    assert answer.headers["location"] == "/sign-in?next=/bench"


def test_another_site_can_neither_sign_in_nor_out(visit):
    client = visit("Tove")
    for path in ("/sign-in", "/sign-out"):
        assert client.post(path, headers={"sec-fetch-site": "cross-site"}).status_code == 403
    assert client.get("/bench").status_code == 200


def test_a_wrong_password_says_no_more_for_a_name_that_there_is(visit):
    known, unknown = (sign_in(visit(), name, "not this one, no") for name in ("Tove", "Nobody"))
    assert (known.status_code, unknown.status_code) == (401, 401)
    assert known.text.replace("Tove", "") == unknown.text.replace("Nobody", "")
    assert "name or the password is wrong" in words(known)
    assert "not this one" not in known.text


def test_who_tries_too_often_waits_even_with_the_right_password(visit):
    client = visit()
    for _ in range(5):
        assert sign_in(client, "Tove", "not this one, no").status_code == 401
    late = sign_in(client, "TOVE")
    assert late.status_code == 429
    assert late.headers["retry-after"] == "1"
    assert "Wait 1 second" in words(late)
    assert sign_in(client, "Marten").status_code == 303


def test_a_role_that_is_missing_is_named(visit, library):
    tove = visit("Tove")
    refused = tove.get("/books/my-board/edit")
    assert refused.status_code == 403
    assert "needs the role 'author'" in words(refused)
    assert "Tove has the role 'bench'" in words(refused)
    told = tove.put("/api/books/my-board", json={"text": "", "seen": "0" * 64})
    assert (told.status_code, told.json()["error"]["kind"]) == (403, "RoleMissingError")
    assert visit("Marten").get("/books/my-board/edit").status_code == 200
    assert visit("Marten").get("/people").status_code == 403


def test_a_closed_job_is_opened_again_by_a_steward_alone(visit, library):
    bench = Visitor(visit("Tove"))
    bench.start()
    key = bench.key
    bench.go(f"/bench/{key}/close?outcome=returned")
    bench.press("Close the job")
    assert "This job is closed" in bench.text
    assert "Open it again" not in bench.text
    by_hand = {"kind": "reopen", "expected": "1", "token": "a-token-of-mine"}
    assert bench.client.post(f"/bench/{key}", data=by_hand).status_code == 403
    entry = {"expected": 1, "token": "a-token-of-mine"}
    for path, sent in (("reopen", entry), ("entries", {"kind": "reopen", **entry})):
        assert bench.client.post(f"/api/bench/{key}/{path}", json=sent).status_code == 403
    with Desk(library) as desk:
        assert desk.view(key, here()).job.closed
    steward = Visitor(visit("Ines"))
    steward.go(f"/bench/{key}")
    steward.press("Open it again")
    with Desk(library) as desk:
        assert [entry.by for entry in desk.view(key, here()).entries] == ["Tove", "Ines"]


def test_the_journal_names_who_is_signed_in_whatever_the_form_says(visit, library):
    bench = Visitor(visit("Tove"))
    bench.start(technician="Somebody else", **{"fact-fell": "dropped"})
    bench.go(f"/bench/{bench.key}?check=rail-ohms")
    bench.press("Enter", text="3R3", by="Somebody else")
    sent = {"kind": "note", "data": {"text": "hot"}, "expected": 2, "token": "a-token-of-mine", "by": "Eve"}
    assert bench.client.post(f"/api/bench/{bench.key}/entries", json=sent).status_code == 201
    with Desk(library) as desk:
        view = desk.view(bench.key, here())
    assert view.job.technician == "Somebody else"
    assert [entry.by for entry in view.entries] == ["Tove", "Tove", "Tove"]


def test_accounts_that_cannot_be_read_let_nobody_in(visit, library):
    client = visit("Ines")
    accounts_path(library).write_text("{")
    for path in ("/bench", "/sign-in", "/api/books"):
        assert client.get(path).status_code == 503, path
    assert "nobody can sign in" in words(client.get("/bench"))


def test_where_others_can_open_it_no_account_opens_nothing(library):
    accounts_path(library).unlink()
    app = create_app(library, Front(("*",), must_sign_in=True, secure=True))
    client = TestClient(app, base_url="https://bench.example")
    answer = client.get("/bench", follow_redirects=False)
    assert answer.headers["location"] == "/sign-in?next=/bench"
    assert "has no accounts yet" in words(client.get("/sign-in"))


def test_a_steward_adds_changes_and_removes_people(visit, library):
    client = visit("Ines")
    data = {"name": "Bo", "role": "bench", "password": PASSWORD}
    assert "Bo bench, since" in words(client.post("/people", data=data))
    bo = visit("Bo")
    assert bo.get("/intake").status_code == 403
    client.post("/people/change", data={"name": "Bo", "what": "role", "role": "author"})
    assert bo.get("/intake").status_code == 200
    client.post("/people/change", data={"name": "Bo", "what": "password", "password": "quite another one"})
    assert bo.get("/intake", follow_redirects=False).is_redirect
    client.post("/people/change", data={"name": "Bo", "what": "remove"})
    assert Accounts(library).find("Bo") is None


@pytest.mark.parametrize(
    ("path", "sent", "said"),
    [
        ("", {"name": "Tove", "role": "bench", "password": PASSWORD}, "already"),
        ("", {"name": "Bo", "role": "king", "password": PASSWORD}, "means nothing"),
        ("", {"name": "Bo", "role": "bench", "password": "short"}, "5 characters"),
        ("/change", {"name": "Ines", "what": "remove"}, "your own account"),
        ("/change", {"name": "INES", "what": "role", "role": "bench"}, "your own account"),
        ("/change", {"name": "Nobody", "what": "remove"}, "nobody of the name"),
        ("/change", {"name": "Tove", "what": "dance"}, "means nothing"),
    ],
)
def test_a_change_of_people_that_cannot_be_is_said(visit, library, path, sent, said):
    before = accounts_path(library).read_text()
    answer = visit("Ines").post(f"/people{path}", data=sent)
    assert answer.status_code == 422
    assert said in words(answer)
    assert accounts_path(library).read_text() == before


def test_the_first_account_that_the_app_makes_is_a_stewards(library):
    accounts_path(library).unlink()
    app = create_app(library)
    app.state.accounts._hasher = QUICK
    client = TestClient(app, base_url="http://127.0.0.1")
    client.post("/people", data={"name": "Bo", "role": "bench", "password": PASSWORD})
    assert Accounts(library).find("Bo").role is Role.STEWARD
    assert client.get("/people", follow_redirects=False).is_redirect


def test_a_person_changes_their_own_password(visit, library):
    client, elsewhere = visit("Tove"), visit("Tove")
    sent = {"old": PASSWORD, "new": "quite another one", "again": "quite another one"}
    for wrong, said in (
        ({"old": "no"}, "not your password"),
        ({"again": "yet another one"}, "differ"),
        ({"new": "no", "again": "no"}, "2 characters"),
    ):
        answer = client.post("/password", data=sent | wrong)
        assert answer.status_code == 422
        assert said in words(answer)
    assert client.post("/password", data=sent).status_code == 200
    assert client.get("/bench").status_code == 200
    assert elsewhere.get("/bench", follow_redirects=False).is_redirect
    assert Accounts(library, hasher=QUICK).check("Tove", "quite another one")


def test_the_api_says_what_it_needs(visit):
    described = visit("Tove").get("/api/openapi.json").json()
    assert described["components"]["securitySchemes"]["session"]["in"] == "cookie"
    for path, operations in described["paths"].items():
        for operation in operations.values():
            assert {"401", "403"} <= set(operation["responses"]), path
            assert operation["security"] == [{"session": []}], path


@pytest.mark.parametrize("name", PEOPLE)
def test_no_page_offers_what_a_role_may_not(visit, name):
    """Every page that links lead to is opened; none of its links and forms is refused."""
    client, left, seen = visit(name), ["/bench"], set()
    while left:
        path = left.pop()
        answer = client.get(path)
        assert answer.status_code != 403, path
        if not answer.headers["content-type"].startswith("text/html"):
            continue
        for method, target in re.findall(r'(href|action)="(/[^"]*)"', answer.text):
            there = target.split("#")[0].replace("&amp;", "&")
            kind = (
                "POST" if method == "action" and f'method="post" action="{target}"' in answer.text else "GET"
            )
            needed = needed_role(kind, there.split("?")[0])
            assert needed is None or PEOPLE[name].may(needed), (path, there)
            if (
                kind == "GET"
                and there.split("?")[0] not in seen
                and not there.startswith(("/static", "/looks"))
            ):
                seen.add(there.split("?")[0])
                left.append(there)
    assert ("/people" in seen) == (PEOPLE[name] is Role.STEWARD)
    assert ("/intake" in seen) == (PEOPLE[name] is not Role.BENCH)
    assert "/books/my-board" in seen
