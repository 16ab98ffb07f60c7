"""Findings as text: a line for each, with its place, and a count at the end."""

from collections.abc import Sequence

from benchlore.cli.text import wrapped
from benchlore.library import Reviewed
from benchlore.notation import Problem, Severity
from benchlore.units import counted


def lines(reviews: Sequence[Reviewed]) -> list[str]:
    """Print the findings of each file, then what they add up to."""
    text = [line for reviewed in reviews for line in (*_file_lines(reviewed), "")]
    return [*text, *wrapped(_sum(reviews))]


def _file_lines(reviewed: Reviewed) -> list[str]:
    if not reviewed.problems:
        return [f"{reviewed.file}: nothing to remark"]
    return [line for problem in reviewed.problems for line in problem_lines(problem)]


def problem_lines(problem: Problem) -> list[str]:
    """One finding; the first line begins as editors expect it: file, line, column."""
    return wrapped(str(problem), hang=4)


def _sum(reviews: Sequence[Reviewed]) -> str:
    counts = {severity: sum(reviewed.count(severity) for reviewed in reviews) for severity in Severity}
    found = ", ".join(counted(count, severity.value) for severity, count in counts.items() if count)
    if not found:
        return "Nothing to remark."
    if counts[Severity.ERROR]:
        return f"{found}. A book with errors cannot be planned from."
    return f"{found}. Nothing stands in the way of a plan."
