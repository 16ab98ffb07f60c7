"""What became of a table's rows, as text."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from benchlore.cli.review_text import problem_lines
from benchlore.cli.text import columns, command_lines, program, wrapped
from benchlore.jobs.intake import Preview, RowVerdict, Verdict
from benchlore.library import DemandTakenIn, DemoMade, Planned, TakenIn
from benchlore.units import counted, money

QUIET = frozenset({Verdict.TAKEN, Verdict.ALREADY_THERE})
MOST_PROBLEMS = 20


def lines(taken: TakenIn, *, every: bool = False) -> list[str]:
    """Print the rows that need a look (``every``: all of them), then the counts."""
    previewed = taken.preview
    if previewed.problems:
        problems = [line for problem in previewed.problems for line in problem_lines(problem)]
        return [*problems, "", "The mapping does not fit; nothing was read."]
    if not previewed.rows:
        return [f"{previewed.table.path.name}: no rows below the header; nothing to take in."]
    shown = [row for row in previewed.rows if every or row.verdict not in QUIET]
    rows = [line for row in shown for line in _row_lines(row)]
    return [*rows, *([""] if rows else []), *_counts(previewed), *_unused(previewed), "", *_ending(taken)]


def summary(taken: TakenIn) -> Mapping[str, Any]:
    """Everything that ``lines`` prints, as data."""
    previewed = taken.preview
    return {
        "file": previewed.table.path,
        "stored": taken.added is not None,
        "added": None
        if taken.added is None
        else {
            "new": taken.added.new,
            "same": taken.added.same,
            "merged": taken.added.merged,
            "conflicting": taken.added.conflicting,
        },
        "jobs": len(previewed.jobs),
        "counts": {verdict.value: count for verdict, count in previewed.counts().items()},
        "rows": [
            {"row": row.row, "job": row.job, "verdict": row.verdict, "reasons": row.reasons}
            for row in previewed.rows
        ],
        "problems": previewed.problems,
        "unused_columns": previewed.unused,
        "rejects": taken.rejects,
    }


def demand_lines(taken: DemandTakenIn) -> list[str]:
    """Print what demand records gave."""
    shown = [line for problem in taken.problems[:MOST_PROBLEMS] for line in problem_lines(problem)]
    if len(taken.problems) > MOST_PROBLEMS:
        more = len(taken.problems) - MOST_PROBLEMS
        shown.append(f"… and {more:,} remarks more (--json has them all)")
    added = taken.added
    counts = (
        f"{counted(added.new, 'demand record')} new, {added.same:,} there already, {added.changed:,} "
        f"changed, {counted(taken.refused, 'row')} refused"
    )
    files = taken.refused_files
    if files and not (added.new or added.same or added.changed or taken.refused):
        refused = "the file was refused" if files == 1 else f"all {files} files were refused"
        counts = f"Nothing was taken in: {refused}."
    else:
        counts += f", {counted(files, 'file')} not read, or not to the end" if files else ""
        counts += ". They are kept apart from bench jobs."
    return [*shown, *([""] if shown else []), *wrapped(counts)]


def demo_lines(made: DemoMade, folder: Path) -> list[str]:
    """Print what a demo took in, file by file."""
    rows = [("table", "rows", "jobs", "refused", "doubtful")]
    for taken in made.taken:
        counts = taken.preview.counts()
        rows.append(
            (
                taken.preview.table.path.name,
                f"{len(taken.preview.rows)}",
                f"{len(taken.preview.jobs)}",
                f"{counts[Verdict.REFUSED]}",
                f"{counts[Verdict.DOUBTFUL]}",
            )
        )
    second = made.planned[1].procedure
    return [
        "An invented library, with the sheets of three invented shops taken in:",
        f"{folder}",
        "",
        *columns(rows, align="<>>>>", indent=2, gap=3),
        "",
        "Refused rows wait to be mended in its folder 'rejects'.",
        "",
        "Procedures that were planned, with the expected cost of a job:",
        "",
        *columns([_planned_row(planned) for planned in made.planned], align="<<>>", indent=2, gap=2),
        "",
        *wrapped(
            "The first of them follows. So you look at another; 'prove' in place of 'show' tells what it is "
            "worth on jobs that it was not made from:"
        ),
        *command_lines(
            ["--library", str(folder), "show", second.board, second.complaint], indent=2, before=program()
        ),
    ]


def _planned_row(planned: Planned) -> tuple[str, str, str, str]:
    procedure = planned.procedure
    return (
        f"{procedure.board} {procedure.complaint}",
        planned.book.complaints[procedure.complaint].title,
        money(procedure.expected, procedure.currency),
        f"at least {money(procedure.bound, procedure.currency)}",
    )


def _row_lines(row: RowVerdict) -> list[str]:
    job = f", job {row.job}" if row.job else ""
    head = f"row {row.row}{job}: {row.verdict.value}"
    reasons = [line for reason in row.reasons for line in wrapped(str(reason), indent=4, hang=2)]
    return [head, *reasons]


def _counts(previewed: Preview) -> list[str]:
    rows = [(f"{count}", verdict.value) for verdict, count in previewed.counts().items() if count]
    return [f"{counted(len(previewed.rows), 'row')} read:", *columns(rows, align="><", indent=2)]


def _unused(previewed: Preview) -> list[str]:
    if not previewed.unused:
        return []
    return wrapped(f"Columns that the mapping passes over: {', '.join(previewed.unused)}.")


def _ending(taken: TakenIn) -> list[str]:
    if taken.added is None:
        jobs = counted(len(taken.preview.jobs), "job")
        return wrapped(f"A preview: {jobs} would be taken in, nothing was stored.")
    added = taken.added
    text = f"{counted(added.new, 'job')} new, {added.merged:,} completed, {added.same:,} there already."
    if added.conflicting:
        text += f" {counted(added.conflicting, 'job')} contradict what is stored; the stored ones stay."
    ending = wrapped(text)
    if taken.rejects:
        ending += wrapped(
            f"Refused rows: {taken.rejects}. Mend them and take that file in with the same mapping."
        )
    return ending
