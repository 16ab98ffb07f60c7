"""A proof in words: headings, sentences and tables, the same in the terminal and on a page."""

from collections.abc import Sequence
from typing import Final

from benchlore.proof.calibration import Calibration
from benchlore.proof.coverage import Coverage
from benchlore.proof.estimate import Estimate
from benchlore.proof.folds import Split
from benchlore.proof.parts import Part, Table, Topic, from_to, shares, some
from benchlore.proof.prove import Proof
from benchlore.proof.records_worth import RecordsWorth
from benchlore.proof.replay import Account
from benchlore.proof.sensitivity import FirstStep, Sensitivity
from benchlore.proof.standing import Standing
from benchlore.proof.sways import Sway
from benchlore.proof.telling_doubts import candidates, dependence, odd_jobs
from benchlore.proof.ways import Way
from benchlore.units import counted, money, share

MOST_RECORDS: Final = 8
MOST_SWAYS: Final = 3


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
    jobs = counted(len(proof.replay.jobs), "recorded job")
    sentences = [
        (
            f"{graded.standing.capitalize()}, after a trial on {jobs} that the procedure was not made from, "
            f"{proof.confirmed} of them with a confirmed fault."
        )
    ]
    if graded.missing:
        following = list(Standing)[list(Standing).index(graded.standing) + 1]
        lacking = "; ".join(f"{ground.asks} (now: {ground.found})" for ground in graded.missing)
        sentences.append(f"To be {following} it still needs: {lacking}.")
    return Part(Topic.STANDING, "Standing", tuple(sentences))


def _costs(proof: Proof) -> Part:
    replay, currency = proof.replay, proof.currency
    own = replay.of(Way.PROCEDURE)
    sentences = [
        _saving(account, against, currency)
        for way, against in (
            (Way.BENCH, "what the bench did"),
            (Way.TELLING, "the most telling check first"),
            (Way.FIXES, "fixes alone"),
        )
        if (account := replay.of(way)) is not None
    ]
    if proof.difference is not None:
        other = proof.difference
        jobs = counted(other.jobs, "job")
        sentences.append(
            f"Against {other.other}, on the same {jobs}, it {_costs_less(other.cost, currency)} and takes "
            f"{_minutes(other.hands_on)} at work."
        )
    sentences.append(
        f"Before it saw these jobs the model promised {money(replay.promised, currency)} a job. "
        f"{share(replay.drawn)} of the results on the procedure's way were never recorded: they were drawn, "
        f"{replay.draws} times over."
    )
    if own is not None and own.named is not None:
        sentences.append(f"Its first suspect at the end is the fault in {shares(own.named)} of jobs.")
    return Part(
        Topic.COSTS,
        "What a held-out job costs, done in each way",
        tuple(sentences),
        Table(
            ("", f"{currency} a job", "95 %", "at work", "repaired", "back", "returned"),
            tuple(_account_row(account) for account in replay.accounts),
            "<>>>>>>",
        ),
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
    return (
        f"Against {against} it {_costs_less(account.more, currency)} and takes "
        f"{_minutes(account.more_minutes)} at work."
    )


def _costs_less(more: Estimate, currency: str) -> str:
    if not more.excludes_zero:
        return f"costs neither clearly less nor more ({from_to(more)} {currency} less a job)"
    word = "saves" if more.value > 0 else "costs"
    extra = "" if more.value > 0 else " more"
    size = _size(more)
    return f"{word} {money(size.value, currency)} a job{extra} (95 % {from_to(size)})"


def _minutes(more: Estimate) -> str:
    if not more.excludes_zero:
        return f"about as long ({from_to(more, 1)} minutes less)"
    size = _size(more)
    return f"{size.value:.1f} minutes {'less' if more.value > 0 else 'more'} (95 % {from_to(size, 1)})"


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
            f"After a held-out job's readings the first suspect is the fault in {shares(faults.first)} of "
            f"jobs; the model says {share(faults.sharpness.largest)} on average. The fault is among the "
            f"first three in {shares(faults.first_three)}."
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
    table = Table(("said of a fault", "was so", "95 %", "times"), rows, ">>>>")
    return Part(Topic.PERCENTAGES, heading, tuple(sentences), table)


def _scores(faults: Calibration) -> str:
    log, brier = faults.log_score, faults.brier
    before = "" if log.base is None else f" ({log.base.value:.2f} before any reading)"
    text = f"Log score {log.value.value:.2f} nats a job{before}, Brier score {brier.value.value:.2f}"
    if brier.base is not None:
        text += f" ({brier.base.value:.2f})"
    if faults.test is not None:
        leaning = "too sure of itself" if faults.test.z > 0 else "too timid"
        verdict = leaning if faults.test.p < 0.05 else "neither too sure of itself nor too timid"
        text += f". It is {verdict} (p = {faults.test.p:.2g})"
    return f"{text}."


def _coverage(coverage: Coverage) -> Part:
    heading = "How complete the book is"
    if not coverage.boards:
        return Part(Topic.COVERAGE, heading, ("No job has a confirmed fault, so nothing can be said.",))
    sentences = [
        (
            f"The book knows the fault of {shares(coverage.known)} of {counted(coverage.boards, 'board')} "
            "whose fault was confirmed: so likely it knows the next one's."
        )
    ]
    if coverage.unmet is not None:
        few = coverage.unmet.value < 0.5
        others = f"{'perhaps no' if few else f'at least {coverage.unmet.value:.0f}'} others"
        sentences.append(
            f"{counted(coverage.met, 'different fault')} came in, and {others} exist "
            f"({from_to(coverage.unmet, 0)}). Those that came in make up {shares(coverage.sample)} of what "
            f"comes in."
        )
    sentences += [
        f"Until they make up {share(until.target)}: some {until.more.value:,.0f} more boards "
        f"({until.more.low:,.0f} to {until.more.high:,.0f}{', or more' if until.far else ''})."
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
    if not found.records:
        sentences.append(f"Of {counted(found.looked_at, 'unknown')} no one is worth more records by itself.")
        return Part(Topic.SENSITIVITY, heading, tuple(sentences))
    rows = tuple(
        (records_text(each), f"{each.worth.value:.2f}", from_to(each.worth))
        for each in found.records[:MOST_RECORDS]
    )
    return Part(
        Topic.SENSITIVITY,
        heading,
        tuple(sentences),
        Table(("worth measuring next", f"{currency} a job", "95 %"), rows, "<>>"),
    )


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
    own = f"Its first step, {_step(found.first_step)}, is the best or within 1 % of it in "
    text = f"{own}{shares(found.first_step_best)} of {models}"
    others = [rival for rival in found.rivals if rival.share > found.first_step.share]
    if others:
        text += f", though {_step(others[0])} is the very best in {share(others[0].share)}"
    return f"{text}."


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
