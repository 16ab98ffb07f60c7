"""Questions about money that take long: credit, impact, the learning curve, what to buy."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from typing import Any, Final
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response
from starlette.exceptions import HTTPException

from benchlore.library import (
    By,
    CreditTerms,
    EquipTerms,
    LearningTerms,
    Library,
    NoDemandError,
    Report,
    TermsRefusedError,
    credit_csv,
    credit_passages,
    equip_passages,
    fund_rows,
    impact_passages,
    learning_curve,
    learning_passages,
    mix_of,
    overview,
    share_credit,
    value_instruments,
    weigh_impact,
)
from benchlore.library.folder import sound_shop_of
from benchlore.library.fund_table import TypedNumbers
from benchlore.library.passages import passages_csv
from benchlore.money import AmountError
from benchlore.press import Section, equipment_picture, learning_pictures
from benchlore.press.proof_page import section_of
from benchlore.units import decimal_amount
from benchlore.web.fund import csv_answer
from benchlore.web.looks import page
from benchlore.web.work import Answers, Asked

PATIENCE: Final = 1.5
LONGEST: Final = 200

router = APIRouter(prefix="/money", include_in_schema=False)


@dataclass(frozen=True, slots=True)
class Field:
    """A field of a question's form; ``kind`` is an input's, ``complaint`` a choice of the library's."""

    name: str
    label: str
    hint: str = ""
    first: str = ""
    kind: str = "text"
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Told:
    """An answer: what its page shows, and the same as a CSV file."""

    sections: tuple[Section, ...]
    csv: str


Act = Callable[[Library, Mapping[str, str], Report], Told]


@dataclass(frozen=True, slots=True)
class Question:
    """A question: its page's title and lead, its form, and how it is answered."""

    title: str
    lead: str
    fields: tuple[Field, ...]
    act: Act
    file: str


def prepare(app_state: Any) -> None:
    """Lay out what the questions need in an app's state."""
    app_state.money_answers = Answers[Told]()


@router.get("/{name}")
def question(request: Request, name: str) -> HTMLResponse:
    """Ask a question, and show its answer once it is asked."""
    asking = _question(name)
    typed, asked = _typed(request, asking), bool(request.query_params)
    wrong: Mapping[str, str] = {}
    work = None
    try:
        work = _begin(request, name, asking, typed) if asked else None
    except TermsRefusedError as error:
        wrong = error.wrong
    if work is not None:
        work.wait(PATIENCE)
    failed = work is not None and bool(work.failure)
    library = _library(request)
    return page(
        request,
        "money_question.html",
        status=422 if wrong else 409 if failed else 200,
        name=name,
        asking=asking,
        typed=typed,
        wrong=wrong,
        work=work,
        query=urlencode(typed),
        currency=sound_shop_of(library).currency,
        complaints=[(book.board, each) for book in overview(library).books for each in book.complaints],
    )


@router.get("/{name}/state")
def state(request: Request, name: str) -> dict[str, object]:
    """Say how far an answer is."""
    asking = _question(name)
    work = _begin(request, name, asking, _typed(request, asking))
    return {
        "state": "working" if work.is_running else "shown",
        "stage": work.stage,
        "done": work.done,
        "total": work.total,
    }


@router.get("/{name}/answer.csv")
def answer_file(request: Request, name: str) -> Response:
    """Give an answer as a table."""
    asking = _question(name)
    work = _begin(request, name, asking, _typed(request, asking))
    work.wait(600)
    if work.result is None:
        return page(request, "failure.html", status=409, code=409, message=work.failure)
    return csv_answer(work.result.csv, asking.file)


def _question(name: str) -> Question:
    if name not in QUESTIONS:
        raise HTTPException(404)
    return QUESTIONS[name]


def _typed(request: Request, asking: Question) -> dict[str, str]:
    said = request.query_params
    return {each.name: said.get(each.name, each.first)[:LONGEST].strip() for each in asking.fields}


def _begin(request: Request, name: str, asking: Question, typed: Mapping[str, str]) -> Asked[Told]:
    """Begin with an answer, unless it is there; another one once jobs, books or shop have changed."""
    library = _library(request)
    _CHECKS[name](typed)
    files = [library.store, library.store.with_name(f"{library.store.name}-wal"), library.shop_file]
    files += [library.book_file(board) for board in library.boards()]
    stamps = [path.stat().st_mtime_ns if path.exists() else 0 for path in files]
    answers: Answers[Told] = request.app.state.money_answers
    key = sha256(repr((name, typed, stamps)).encode("utf-8", "replace")).hexdigest()
    return answers.ask(key, lambda work: asking.act(library, typed, work.report))


def _credit_terms(typed: Mapping[str, str], currency: str = "EUR") -> CreditTerms:
    read = TypedNumbers(typed)
    pot = read.number("pot", "what is to be divided", 0.0) if typed["pot"] else None
    seed = read.whole("seed", "seed", 1, least=0, most=2**31)
    if typed["by"] not in set(By):
        read.wrong["by"] = f"'{typed['by']}': choose one of {', '.join(By)}"
    read.refuse()
    divided = None if pot is None else decimal_amount(pot, currency)
    return CreditTerms(pot=divided, by=By(typed["by"]), seed=seed)


def _credit(library: Library, typed: Mapping[str, str], report: Report) -> Told:
    terms = _credit_terms(typed, sound_shop_of(library).currency)
    found = share_credit(library, terms=terms, workers=1, report=report)
    return Told(tuple(section_of(each) for each in credit_passages(found)), credit_csv(found))


def _since(typed: Mapping[str, str]) -> date | None:
    try:
        return date.fromisoformat(typed["since"]) if typed["since"] else None
    except ValueError:
        said = f"'{typed['since']}' is no day; write one such as 2026-01-31"
        raise TermsRefusedError({"since": said}) from None


def _impact(library: Library, typed: Mapping[str, str], report: Report) -> Told:
    passages = impact_passages(weigh_impact(library, since=_since(typed), report=report))
    return Told(tuple(section_of(each) for each in passages), passages_csv(passages))


def _learning_terms(typed: Mapping[str, str]) -> LearningTerms:
    read = TypedNumbers(typed)

    def perhaps(name: str, label: str) -> float | None:
        return read.number(name, label, 0.0, most=1e6) if typed[name] else None

    terms = LearningTerms(
        hours=perhaps("hours", "hours a board"),
        rate=perhaps("rate", "an hour"),
        jobs=perhaps("jobs", "jobs a year"),
        shops=read.number("shops", "shops", 1.0, most=1e6),
        years=read.whole("years", "years", 5, most=100),
        discount=read.number("discount", "discount", 5.0, most=1000) / 100,
        seed=read.whole("seed", "seed", 1, least=0, most=2**31),
    )
    if "/" not in typed["complaint"]:
        read.wrong["complaint"] = "choose a complaint"
    read.refuse()
    return terms


@contextmanager
def _form_asking(jobs: str) -> Iterator[None]:
    """Where no job says how often a complaint comes, ask for that in the form, which has no options."""
    try:
        yield
    except NoDemandError as error:
        raise NoDemandError(error.what, f"write below {jobs}") from None


def _learning(library: Library, typed: Mapping[str, str], report: Report) -> Told:
    board, _, complaint = typed["complaint"].partition("/")
    terms = _learning_terms(typed)
    with _form_asking("how many jobs a shop sees in a year"):
        curve = learning_curve(library, board, complaint, terms=terms, workers=1, report=report)
    coverage, cost = learning_pictures(curve)
    pictures = (cost, coverage, None)
    passages = learning_passages(curve)
    return Told(
        tuple(section_of(each, drawn) for each, drawn in zip(passages, pictures, strict=True)),
        fund_rows(curve),
    )


def _equip_terms(typed: Mapping[str, str]) -> EquipTerms:
    read = TypedNumbers(typed)
    pairs = [pair.strip() for pair in typed["jobs"].split(",") if pair.strip()]
    mix: Mapping[tuple[str, str], float] = {}
    try:
        mix = mix_of(pairs)
    except AmountError as error:
        read.wrong["jobs"] = str(error)
    terms = EquipTerms(
        jobs=mix,
        years=read.whole("years", "years", 5, most=100),
        discount=read.number("discount", "discount", 5.0, most=1000) / 100,
        seed=read.whole("seed", "seed", 1, least=0, most=2**31),
    )
    read.refuse()
    return terms


def _equipment(library: Library, typed: Mapping[str, str], report: Report) -> Told:
    with _form_asking("how many jobs there are in a year"):
        values = value_instruments(library, terms=_equip_terms(typed), workers=1, report=report)
    first, *others = equip_passages(values)
    sections = (section_of(first, equipment_picture(values)), *(section_of(each) for each in others))
    return Told(sections, passages_csv((first, *others)))


def _library(request: Request) -> Library:
    library = request.app.state.library
    assert isinstance(library, Library)
    return library


_CHECKS: Final[Mapping[str, Callable[[Mapping[str, str]], object]]] = {
    "credit": _credit_terms,
    "impact": _since,
    "learning": _learning_terms,
    "equipment": _equip_terms,
}
"""What refuses a form before the long work begins."""

_SEED: Final = Field("seed", "Seed", "equal seeds give equal figures", "1")
_TIME: Final = (
    Field("years", "Years that count", first="5"),
    Field("discount", "Discount a year, %", first="5"),
)

QUESTIONS: Final[Mapping[str, Question]] = {
    "credit": Question(
        "Whom to credit",
        "By how much each book and each shop’s records lower what a job is expected to cost, and how a pot "
        "is divided by that.",
        (
            Field("pot", "What is to be divided", "left empty: nothing is"),
            Field("by", "Records count as one by", "", By.SHOP, choices=tuple(By)),
            _SEED,
        ),
        _credit,
        "credit.csv",
    ),
    "impact": Question(
        "What it all brought",
        "Boards repaired instead of given up, bench hours and money, by jobs that the app led, beside the "
        "bench’s own way.",
        (Field("since", "Jobs opened since", "left empty: all", kind="date"),),
        _impact,
        "impact.csv",
    ),
    "learning": Question(
        "When to stop researching",
        "What each board examined adds to what is known of a complaint, and when more stops paying. The file "
        "has rows for the table of candidates.",
        (
            Field("complaint", "Complaint", kind="complaint"),
            Field("hours", "Hours a board takes", "left empty: as recorded"),
            Field("rate", "What an hour costs", "left empty: the shop’s"),
            Field("jobs", "Jobs a year at a shop", "left empty: by recorded jobs"),
            Field("shops", "Shops that would use it", first="50"),
            *_TIME,
            _SEED,
        ),
        _learning,
        "learning-rows.csv",
    ),
    "equipment": Question(
        "What to buy",
        "What each instrument or skill that the shop lacks would save it in a year, by the jobs it records.",
        (
            Field(
                "jobs",
                "Jobs a year",
                "left empty: by recorded jobs; else my-board/no-power=12, …",
                kind="words",
            ),
            *_TIME,
            _SEED,
        ),
        _equipment,
        "equipment.csv",
    ),
}
