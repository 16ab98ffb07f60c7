"""The commands about procedures: plan, print, go on from anywhere, prove."""

from pathlib import Path
from typing import Annotated

import typer

from benchlore.cli import (
    compare_text,
    next_text,
    proof_text,
    shortfall_text,
)
from benchlore.cli.app import (
    AsJson,
    BoardName,
    ComplaintName,
    ShopFile,
    app,
    library_of,
)
from benchlore.cli.console import complain, progress_shown, say, say_json, stopping_gently
from benchlore.cli.procedure_text import ProcedureText, cost_lines, learned_lines
from benchlore.cli.typed import to_type
from benchlore.library import (
    Bench,
    Library,
    NoProofError,
    Other,
    ask,
    kept_procedure,
    kept_proof,
    plan_complaint,
    prove_complaint,
)
from benchlore.notation import FileNotWritten, write_atomic
from benchlore.procedure import FEWEST_JOBS, Effort, Limits, to_json
from benchlore.proof import Settings, Split
from benchlore.proof import to_json as proof_to_json
from benchlore.units import counted

GIB = 1024**3

RARE = 0.02
"""Share of jobs below which a step is left to the bench."""


@app.command()
def plan(
    context: typer.Context,
    board: BoardName,
    complaint: ComplaintName,
    shop: ShopFile = None,
    memory: Annotated[
        float, typer.Option(help="GiB that the exact method may use.", min=0.001, max=1e6)
    ] = 1.0,
    effort: Annotated[
        Effort, typer.Option(help="How hard to search a book too large for it.")
    ] = Effort.NORMAL,
    steps: Annotated[
        int | None,
        typer.Option("--steps", metavar="N", help="Make a procedure of at most N steps.", min=1),
    ] = None,
    seconds: Annotated[
        float | None, typer.Option(metavar="S", help="Search so long instead.", min=0, max=1e9)
    ] = None,
    nodes: Annotated[
        int | None, typer.Option(metavar="N", help="Look at so many states instead.", min=0, max=10**12)
    ] = None,
    gap: Annotated[
        float | None,
        typer.Option(metavar="PERCENT", help="Stop when no plan can be cheaper by more.", min=0, max=1e6),
    ] = None,
    sample: Annotated[
        int,
        typer.Option(metavar="JOBS", help="Bound the best possible cost by so many sampled jobs, too."),
    ] = 0,
    other: Annotated[
        Path | None, typer.Option("--compare", metavar="FILE", help="Plan for this shop too; show both.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Learn, and compile the cheapest procedure for the shop.

    Where the book is too large for the exact method, the search goes on until a limit. Equal --nodes give
    equal procedures; --seconds depend on the machine. Ctrl-C stops it and keeps the best found so far; a
    second Ctrl-C stops at once.

    --sample comes after the search and names a bound that is nearer the truth than the proven one, and how
    sure it is. For a book of a dozen faults 100 jobs take a minute or two, with --effort thorough five times
    as long: then each job is looked at longer, and the bound is higher.
    """
    if sample != 0 and sample < FEWEST_JOBS:
        raise typer.BadParameter(
            f"--sample {sample} says too little: {FEWEST_JOBS} jobs or more, or 0 for none"
        )
    library = library_of(context)
    shops = (shop,) if other is None else (shop, other)
    limits = Limits(seconds=seconds, gap=None if gap is None else gap / 100, nodes=nodes)
    with progress_shown(quiet=as_json) as report, stopping_gently() as interrupted:
        plans = tuple(
            plan_complaint(
                library,
                board,
                complaint,
                shop_file=file,
                memory=int(memory * GIB),
                effort=effort,
                steps=steps,
                sample=sample,
                limits=limits,
                interrupted=interrupted,
                report=report,
            )
            for file in shops
        )
    planned = plans[0]
    if as_json:
        documents = [to_json(each.procedure) for each in plans]
        say_json(documents if other else documents[0])
        return
    if other is not None:
        say(compare_text.lines(*plans))
        return
    procedure = planned.procedure
    say(
        [
            f"{planned.model.title}, for {planned.shop.name}",
            *learned_lines(planned),
            *cost_lines(procedure),
            f"Method: {procedure.method}. {counted(len(procedure.steps), 'step')} in all.",
            *shortfall_text.lines(planned),
            f"Print it with: {to_type(context, 'show', board, complaint, shop=shop)}",
        ]
    )


@app.command()
def show(
    context: typer.Context,
    board: BoardName,
    complaint: ComplaintName,
    shop: ShopFile = None,
    rare: Annotated[
        float | None,
        typer.Option(
            "--rare",
            help="Leave out steps reached in less than this share of jobs; 0.02 without --steps.",
            min=0,
            max=1,
        ),
    ] = None,
    steps: Annotated[
        int | None,
        typer.Option("--steps", metavar="N", help="Print the N steps that most jobs reach.", min=1),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Print the procedure that was planned last."""
    library = library_of(context)
    planned = kept_procedure(library, board, complaint, shop_file=shop)
    if as_json:
        say_json({**to_json(planned.procedure), "stale": planned.stale})
        return
    warn_of_stale(planned.stale, to_type(context, "plan", board, complaint, shop=shop))
    if rare is None:
        rare = RARE if steps is None else 0.0
    text = ProcedureText(planned.procedure, planned.book, rare, steps, shop)
    unproven = f"Not proven yet: {to_type(context, 'prove', board, complaint, shop=shop)}"
    say(text.lines([*_standing(library, board, complaint, shop, unproven), *shortfall_text.lines(planned)]))


@app.command("next")
def next_step(
    context: typer.Context,
    board: BoardName,
    complaint: ComplaintName,
    readings: Annotated[
        list[str] | None,
        typer.Argument(metavar="[CHECK=READING]...", help="What was read: rail-ohms=4k1 marker=wet"),
    ] = None,
    failed: Annotated[
        list[str] | None,
        typer.Option("--tried", metavar="FIX", help="A fix that did not help; may be repeated."),
    ] = None,
    setups: Annotated[
        list[str] | None,
        typer.Option("--setup", metavar="SETUP", help="A setup that stands; may be repeated."),
    ] = None,
    skipped: Annotated[
        list[str] | None,
        typer.Option("--skip", metavar="NAME", help="A check or fix not to propose; may be repeated."),
    ] = None,
    without: Annotated[
        list[str] | None,
        typer.Option("--without", metavar="INSTRUMENT", help="Equipment missing today; may be repeated."),
    ] = None,
    budget: Annotated[
        float | None,
        typer.Option(help="What may still be spent on the job, in the shop's currency.", min=0),
    ] = None,
    shop: ShopFile = None,
    as_json: AsJson = False,
) -> None:
    """Name suspects and the best next step, and say why.

    It works from wherever the job stands: any readings in any order, fixes that did not help, checks that
    cannot be made. CHECK=unclear is a reading that told nothing.
    """
    pairs = tuple(reading_pair(text) for text in readings or ())
    bench = Bench(
        pairs, tuple(failed or ()), tuple(setups or ()), tuple(skipped or ()), tuple(without or ()), budget
    )
    asked = ask(library_of(context), board, complaint, bench, shop_file=shop)
    if as_json:
        say_json(next_text.document(asked))
    else:
        say(next_text.lines(asked))


def reading_pair(text: str) -> tuple[str, str]:
    """Split ``CHECK=READING``."""
    check, equals, reading = text.partition("=")
    if not (check and equals and reading):
        raise typer.BadParameter(f"'{text}': a reading is written CHECK=READING, such as rail-ohms=4k1")
    return check, reading


@app.command("prove")
def prove_procedure(
    context: typer.Context,
    board: BoardName,
    complaint: ComplaintName,
    shop: ShopFile = None,
    by: Annotated[Split, typer.Option(help="By what the jobs are divided.")] = Split.JOB,
    folds: Annotated[
        int, typer.Option(metavar="N", help="Into how many parts they are divided.", min=2, max=100)
    ] = 5,
    draws: Annotated[
        int, typer.Option(metavar="N", help="How often what was not recorded is drawn.", min=2, max=1000)
    ] = 20,
    seed: Annotated[int, typer.Option(metavar="N", help="Equal seeds give equal figures.", min=0)] = 1,
    effort: Annotated[
        Effort, typer.Option(help="How hard to look for each part's procedure.")
    ] = Effort.QUICK,
    workers: Annotated[
        int | None, typer.Option(metavar="N", help="Processes at work; all cores if left out.", min=1)
    ] = None,
    against: Annotated[
        Path | None,
        typer.Option("--against", metavar="BOOK", help="Compare with another version of the book."),
    ] = None,
    against_steps: Annotated[
        int | None,
        typer.Option("--against-steps", metavar="N", help="Compare with at most N steps.", min=1),
    ] = None,
    page: Annotated[
        Path | None, typer.Option("--page", metavar="FILE", help="Write a page with pictures there too.")
    ] = None,
    last: Annotated[bool, typer.Option("--last", help="Print the last proof again.")] = False,
    as_json: AsJson = False,
) -> None:
    """Try the procedure on recorded jobs that it was not made from.

    Each part of the jobs is held out once: the book learns from the others, a procedure is made, and it is
    followed through the jobs held out. What a job did not record is drawn from what it did.
    """
    library = library_of(context)
    if page is not None and not page.parent.is_dir():  # said before the long work
        raise FileNotWritten(page, "there is no such folder")
    if last:
        _refuse_with_last(context)
        proved = kept_proof(library, board, complaint, shop_file=shop)
        warn_of_stale(proved.stale, to_type(context, "prove", board, complaint, shop=shop))
    else:
        other = Other(against, against_steps) if against or against_steps else None
        with progress_shown(quiet=as_json) as report:
            proved = prove_complaint(
                library,
                board,
                complaint,
                shop_file=shop,
                settings=Settings(by, folds, draws, seed),
                effort=effort,
                other=other,
                workers=workers,
                report=report,
            )
    if page is not None:
        from benchlore.press import proof_html  # noqa: PLC0415 drawing takes long to import

        write_atomic(page, proof_html(proved))
    if as_json:
        say_json({**proof_to_json(proved.proof), "stale": proved.stale})
        return
    say(proof_text.lines(proved))


def _refuse_with_last(context: typer.Context) -> None:
    """The last proof was made with what was asked then."""
    asked = ("by", "folds", "draws", "seed", "effort", "workers", "against", "against_steps")
    sources = {name: context.get_parameter_source(name) for name in asked}
    given = [
        f"--{name.replace('_', '-')}"
        for name, source in sources.items()
        if source is not None and source.name != "DEFAULT"
    ]
    if given:
        raise typer.BadParameter(f"--last prints the proof that is kept; {', '.join(given)} cannot change it")


def warn_of_stale(stale: tuple[str, ...], renew: str) -> None:
    """Say on the side what has changed since something was made."""
    if stale:
        complain(f"note: {' and '.join(stale)} changed since this was made; renew it with '{renew}'")


def _standing(library: Library, board: str, complaint: str, shop: Path | None, unproven: str) -> list[str]:
    try:
        return proof_text.standing_lines(kept_proof(library, board, complaint, shop_file=shop))
    except NoProofError:
        return [unproven]
