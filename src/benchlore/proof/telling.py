"""A proof in words: headings, sentences and tables, the same in the terminal and on a page."""

from collections.abc import Iterator, Sequence
from typing import Final

from benchlore.proof.calibration import Calibration
from benchlore.proof.compare import Difference
from benchlore.proof.coverage import Coverage
from benchlore.proof.estimate import Estimate
from benchlore.proof.folds import Split
from benchlore.proof.parts import Part, Table, Topic, from_to, p_text, shares, some
from benchlore.proof.prove import Proof
from benchlore.proof.records_worth import RecordsWorth
from benchlore.proof.replay import Account, Replay
from benchlore.proof.sensitivity import FirstStep, Sensitivity
from benchlore.proof.standing import Standing
from benchlore.proof.sways import Sway
from benchlore.proof.telling_doubts import candidates, dependence, odd_jobs
from benchlore.proof.ways import Way
from benchlore.units import counted, money, share

MOST_RECORDS: Final = 8
MOST_SWAYS: Final = 3
LEAST_WORTH: Final = 0.001
"""Share of a job's cost below which records are not worth a word."""


def parts_of(proof: Proof) -> tuple[Part, ...]:
    """Tell a proof, most important first; what there is nothing to say of is left out."""
    parts = (
        _standing(proof),
        _costs(proof),
        _percentages(proof),
        _coverage(proof.coverage),
        _sensitivity(proof),
        odd_jobs(proof.outliers),
        candidates(proof.candidates),
        dependence(proof.dependences),
        _method(proof),
    )
    return tuple(part for part in parts if part.sentences or part.table)


def _standing(proof: Proof) -> Part:
    graded = proof.standing
    sentences = [f"{graded.standing.capitalize()}. {tried_said(proof)}"]
    if graded.missing:
        following = list(Standing)[list(Standing).index(graded.standing) + 1]
        lacking = "; ".join(f"{ground.asks} (now: {ground.found})" for ground in graded.missing)
        sentences.append(f"To be {following} it still needs: {lacking}.")
    return Part(Topic.STANDING, "Standing", tuple(sentences))


def tried_said(proof: Proof) -> str:
    """Say what was tried: not the procedure itself, which all jobs taught, but others made like it."""
    jobs = counted(len(proof.replay.jobs), "job")
    one = len(proof.parts) == 1
    return (
        f"{counted(len(proof.parts), 'procedure')}, {'' if one else 'each '}made as this one but without a "
        "part "
        f"of the jobs, {'was' if one else 'were'} tried on that part: {jobs}, {proof.confirmed} of them with "
        f"a confirmed fault."
    )


def _costs(proof: Proof) -> Part:
    replay, currency = proof.replay, proof.currency
    sentences = [
        _saving(account, against, currency)
        for way, against in (
            (Way.BENCH, "what the recorded benches did, at this shop's rates,"),
            (Way.TELLING, "the most telling check first"),
            (Way.FIXES, "fixes alone"),
        )
        if (account := replay.of(way)) is not None
    ]
    if proof.difference is not None:
        sentences += _compared(proof.difference, currency)
    sentences += _promised(replay, currency)
    sentences.append(
        "The cost counts work, waiting and parts, and what returns, ruined boards and comebacks lose."
    )
    return Part(
        Topic.COSTS,
        "What a held-out job costs, done in each way",
        tuple(sentences),
        Table(
            ("", f"{currency} a job", "95 %", "at work", "repaired", "came back", "returned"),
            tuple(_account_row(account) for account in replay.accounts),
            "<>>>>>>",
        ),
    )


def _compared(other: Difference, currency: str) -> Iterator[str]:
    jobs = counted(other.jobs, "job")
    yield (
        f"Against {other.other}, on the same {jobs}, it {_costs_less(other.cost, currency)}; "
        f"at work {_minutes(other.hands_on)}. "
        f"There, results that nobody recorded are what the other one makes of them."
    )
    if other.strangers:
        yield f"Without a namesake in the other book: {some(other.strangers)}."


def _promised(replay: Replay, currency: str) -> Iterator[str]:
    own, told = replay.of(Way.PROCEDURE), replay.of(Way.TOLD)
    assert own is not None
    fits = own.cost.low <= replay.promised <= own.cost.high
    verdict = "which fits" if fits else "which does not fit: the book or its numbers are off"
    yield f"Before it saw these jobs the model promised {money(replay.promised, currency)} a job, {verdict}."
    if told is not None and told.more is not None and told.more.value > 0:
        yield "The record contradicts the book: to know the fault and go by the book would have cost more."
    if replay.drawn > 0:
        yield (
            f"{share(replay.drawn)} of the results on the procedure's way were never recorded: they were "
            f"drawn, {replay.draws} times over."
        )
    if own.named is not None:
        yield (
            f"Following it to its end, the first suspect is the fault in {shares(own.named)} of the jobs "
            f"with a confirmed fault."
        )
    if replay.clock is not None:
        yield (
            f"For what benches recorded doing they took {replay.clock.value:.2f} times the minutes that the "
            f"book reckons ({from_to(replay.clock)})."
        )


def _account_row(account: Account) -> tuple[str, ...]:
    cost = account.cost
    return (
        account.way.value,
        f"{cost.value:.2f}",
        f"{cost.low:.0f} to {cost.high:.0f}",
        f"{account.hands_on.value:.0f} min",
        share(account.repaired.value),
        share(account.came_back.value),
        share(account.returned.value),
    )


def _saving(account: Account, against: str, currency: str) -> str:
    assert account.more is not None
    assert account.more_minutes is not None
    some_jobs = (
        "" if account.jobs == len(account.costs) else f" (on the {account.jobs} jobs with known minutes)"
    )
    return (
        f"Against {against} it {_costs_less(account.more, currency)}; {_minutes(account.more_minutes)} at "
        f"work{some_jobs}."
    )


def _costs_less(more: Estimate, currency: str) -> str:
    if not more.excludes_zero:
        return f"makes no clear difference in cost: {_leaning(more, f'{currency} a job', 2)}"
    word = "saves" if more.value > 0 else "costs"
    extra = "" if more.value > 0 else " more"
    size = _size(more)
    return f"{word} {money(size.value, currency)} a job{extra} (95 % {from_to(size)})"


def _minutes(more: Estimate) -> str:
    if not more.excludes_zero:
        return f"no clear difference in time: {_leaning(more, 'minutes', 1)}"
    size = _size(more)
    return f"{size.value:.1f} minutes {'less' if more.value > 0 else 'more'} (95 % {from_to(size, 1)})"


def _leaning(more: Estimate, unit: str, digits: int) -> str:
    """A difference that may be none: its figure, and how far it may be on either side."""
    if more.low == more.high == 0:
        return "none at all"
    figure = f"{abs(more.value):.{digits}f} {unit} {'less' if more.value >= 0 else 'more'}"
    return f"{figure}, but anything from {-more.low:.{digits}f} more to {more.high:.{digits}f} less fits"


def _size(more: Estimate) -> Estimate:
    low, high = sorted((abs(more.low), abs(more.high)))
    return Estimate(abs(more.value), low, high)


def _percentages(proof: Proof) -> Part:
    faults = proof.faults
    heading = "How well its percentages hold"
    if faults is None:
        return Part(Topic.PERCENTAGES, heading, ("No held-out job has a confirmed fault.",))
    sentences = [
        (
            "Using every reading that the bench took, the first suspect is the fault in "
            f"{shares(faults.first)} "
            f"of the {faults.jobs} jobs whose fault was confirmed, which may be the clearer ones; the model "
            f"says {share(faults.sharpness.largest)} on average. The fault is among the first three in "
            f"{shares(faults.first_three)}."
        ),
        _scores(faults),
    ]
    if proof.readings is not None:
        sentences.append(
            f"Single readings, each foretold from those before it: the likeliest result turns up in "
            f"{shares(proof.readings.first)}; log score {proof.readings.log_score.value.value:.2f} nats."
        )
    rows = tuple(
        (
            share(each.forecast),
            share(each.observed.value),
            f"{share(each.observed.low)} to {share(each.observed.high)}",
            f"{each.events:,}",
        )
        for each in faults.bins
    )
    table = Table(("given", "came true", "95 %", "forecasts"), rows, ">>>>")
    return Part(Topic.PERCENTAGES, heading, tuple(sentences), table)


def _scores(faults: Calibration) -> str:
    log, brier = faults.log_score, faults.brier
    before = "" if log.base is None else f" ({log.base.value:.2f} before any reading)"
    text = f"Log score {log.value.value:.2f} nats a job{before}, Brier score {brier.value.value:.2f}"
    if brier.base is not None:
        text += f" ({brier.base.value:.2f})"
    if log.gain is not None and log.gain.high < 0:
        text += ". The readings make its forecasts worse"
    if faults.test is not None:
        leaning = "surer than it should be" if faults.test.z > 0 else "right oftener than it says"
        verdict = leaning if faults.test.p < 0.05 else "neither too sure of itself nor too timid"
        text += f". It is {verdict} ({p_text(faults.test.p)})"
    return f"{text}."


def _coverage(coverage: Coverage) -> Part:
    heading = "How complete the book is"
    if not coverage.boards:
        none = "No job has a fault that counts as confirmed (one that came back has none)."
        return Part(Topic.COVERAGE, heading, (none,))
    sentences = [
        (
            f"The book knows the fault of {shares(coverage.known)} of {counted(coverage.boards, 'board')} "
            "whose fault was confirmed, held out or not: about that is the chance that it knows the next "
            "one's. If the book was written from those boards, it is less."
        )
    ]
    if coverage.unmet is not None:
        unmet = coverage.unmet
        others = (
            "perhaps no others exist"
            if unmet.value < 0.5
            else f"at least {counted(round(unmet.value), 'other')} must exist"
        )
        sentences.append(
            f"{counted(coverage.met, 'different fault')} came in; {others} ({from_to(unmet, 0)}). Those that "
            f"came in make up {shares(coverage.sample)} of what comes in."
        )
    sentences += [
        f"About {until.more.value:,.0f} more boards until faults that came in make up {share(until.target)}; "
        f"it may be {until.more.low:,.0f} or {until.more.high:,.0f}{', or more' if until.far else ''}."
        for until in coverage.until
        if not until.reached and until.more is not None
    ]
    if coverage.never_met:
        sentences.append(f"In the book and never met: {some(coverage.never_met)}.")
    return Part(Topic.COVERAGE, heading, tuple(sentences))


def _sensitivity(proof: Proof) -> Part:
    heading = "What its cost hangs on"
    found = proof.sensitivity
    if found is None:
        return Part(Topic.SENSITIVITY, heading, ())
    currency = proof.currency
    low, high = found.cost.low, found.cost.high
    sentences = [
        (
            f"With all jobs learned it should cost {money(found.cost.value, currency)} a job; what is "
            f"not known well may make that {low:.2f} to {high:.2f}."
        ),
        *([_hangs_on(found.hangs_on[:MOST_SWAYS])] if found.hangs_on else []),
        _first_step(found),
        (
            f"To know all would be worth at most {money(found.worth_knowing_all.value, currency)} a job, "
            "as far as the procedures compared tell."
        ),
    ]
    worth = worth_saying(found)
    if not worth:
        sentences.append(
            f"Ten more records of any single unknown, of {found.looked_at:,} looked at, would save less than "
            f"{share(LEAST_WORTH)} of that: nothing is worth measuring for its own sake."
        )
        return Part(Topic.SENSITIVITY, heading, tuple(sentences))
    rows = tuple(
        (records_text(each), f"{each.worth.value:.2f}", from_to(each.worth)) for each in worth[:MOST_RECORDS]
    )
    if len(worth) > MOST_RECORDS:
        sentences.append(f"{len(worth) - MOST_RECORDS} more are worth measuring.")
    return Part(
        Topic.SENSITIVITY,
        heading,
        tuple(sentences),
        Table(("worth measuring next", f"{currency} a job", "95 %"), rows, "<>>"),
    )


def worth_saying(found: Sensitivity) -> tuple[RecordsWorth, ...]:
    """The unknowns of which more records would be worth enough to say so."""
    return tuple(each for each in found.records if each.worth.value >= LEAST_WORTH * found.cost.value)


def _hangs_on(sways: Sequence[Sway]) -> str:
    """Say what the range of the cost stems from, by share of its variance."""
    named = {
        "faults": "how often each fault comes in",
        "check": "what {name} shows in each state",
        "condition": "what {fault} does to {name}",
        "fix": "how often {name} cures {fault}",
    }
    parts = [
        f"{named[sway.of].format(name=sway.name, fault=sway.fault)} ({share(sway.share)})" for sway in sways
    ]
    return f"That stems from {', '.join(parts)}."


def _first_step(found: Sensitivity) -> str:
    models = f"{counted(found.draws, 'model')} drawn from what is known"
    often = shares(found.first_step_best)
    text = f"Its first step, {_step(found.first_step)}, is within 1 % of the best in {often} of {models}"
    others = [rival for rival in found.rivals if rival.share > found.first_step.share]
    if not others:
        return f"{text}."
    return (
        f"{text}; {_step(others[0])} would mostly be a little cheaper: it hardly matters which comes first."
    )


def _step(step: FirstStep) -> str:
    return step.name or "returning the board"


def records_text(records: RecordsWorth) -> str:
    """Say of what the records are: ``10 readings of rail-ohms with q1-shorted``."""
    what = {"check": "reading", "fix": "trial", "faults": "board"}[records.of]
    number = counted(records.records, what)
    if records.of == "faults":
        return f"{number} with a confirmed fault"
    return f"{number} of {records.action} with {records.fault}"


def _method(proof: Proof) -> Part:
    settings, drawn = proof.settings, proof.replay.faults_drawn
    how = {Split.JOB: "at random", Split.SHOP: "by shop", Split.TIME: "by time"}[settings.split]
    rule = (
        "each but the first was tried with what had been recorded before it"
        if settings.split is Split.TIME
        else "each was tried with a procedure made from the others"
    )
    sentences = [
        f"The jobs were divided {how} into {counted(len(proof.parts), 'part')}; {rule}.",
        (
            "Results that nobody recorded were drawn from what a job's fault, readings and fixes say. "
            f"Intervals hold 95 % and come from resampling jobs and draws, seed {settings.seed}."
        ),
    ]
    if drawn:
        sentences.append(f"The fault of {counted(drawn, 'job')} was never confirmed, so it was drawn too.")
    return Part(Topic.METHOD, "How this was found", tuple(sentences))
