"""What speaks against a record or a book, in words: odd jobs, candidates for new faults, dependent checks."""

from collections.abc import Sequence
from typing import Final

from benchlore.proof.candidates import Candidate
from benchlore.proof.dependence import Dependence
from benchlore.proof.outliers import Outlier
from benchlore.proof.parts import Part, Topic, some
from benchlore.proof.reasons import Misreading, Odd
from benchlore.units import counted, share

MOST_ODD: Final = 8
MOST_CANDIDATES: Final = 4


def odd_jobs(outliers: Sequence[Outlier]) -> Part:
    """Jobs to look at again, each with its reason."""
    sentences = [f"{one.shop} {one.number}: {odd_text(one)}." for one in outliers[:MOST_ODD]]
    if len(outliers) > MOST_ODD:
        sentences.append(f"And {len(outliers) - MOST_ODD} more.")
    return Part(Topic.ODD_JOBS, "Jobs to look at again", tuple(sentences))


def odd_text(outlier: Outlier) -> str:
    """Say what is odd about a job."""
    fault = outlier.fault or "no confirmed fault"
    if outlier.kind is Odd.CANNOT_CURE:
        return f"{fault}, recorded as cured by {outlier.fix}, which the book says never cures it"
    if outlier.kind is Odd.CAME_BACK:
        return f"{fault}, came back after the repair"
    if outlier.kind is Odd.WRONG_FAULT and outlier.rival is not None:
        return f"{fault}, but its readings speak for {outlier.rival.fault}, {outlier.rival.odds:,.0f} to 1"
    if outlier.kind is Odd.MISREAD and outlier.misread:
        return f"{fault}; {'; '.join(_misread_text(each) for each in outlier.misread)}"
    return f"{fault}; no known fault explains its readings"


def _misread_text(misread: Misreading) -> str:
    text = f"{misread.check} reads '{misread.wrote}' where {misread.expected} is expected"
    if misread.power is None:
        return text
    factor = 10 ** abs(misread.power)
    return f"{text}, perhaps {factor:,} times too {'small' if misread.power > 0 else 'large'}"


def candidates(candidates: Sequence[Candidate]) -> Part:
    """Groups of jobs that no known fault explains."""
    heading = "Jobs that may share a fault the book does not know"
    return Part(
        Topic.CANDIDATES, heading, tuple(_candidate_text(each) for each in candidates[:MOST_CANDIDATES])
    )


def _candidate_text(candidate: Candidate) -> str:
    text = f"{counted(len(candidate.jobs), 'job')}: {some([' '.join(names) for names in candidate.jobs])}."
    if candidate.words:
        text += f" Their texts say {some(candidate.words)}."
    if candidate.signs:
        signs = [
            f"{sign.condition} {sign.state} ({share(sign.probability)}, elsewhere {share(sign.usual)})"
            for sign in candidate.signs
        ]
        text += f" They stand out by {some(signs)}."
    return text


def dependence(dependences: Sequence[Dependence]) -> Part:
    """Checks that the model wrongly holds to be independent."""
    found = tuple(
        f"{' and '.join(each.checks)} share {each.excess_bits:.2f} bits too many on "
        f"{counted(each.boards, 'board')} (q = {each.q:.2g}). {each.proposal}"
        for each in dependences
        if each.found
    )
    return Part(Topic.DEPENDENCE, "Checks that agree more than the model allows", found)
