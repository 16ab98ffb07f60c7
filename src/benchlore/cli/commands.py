"""The commands, one function each: ask ``library``, print the answer, choose the exit code."""

import webbrowser
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from benchlore.book import json_schema as book_schema
from benchlore.cli import (
    compare_text,
    intake_text,
    next_text,
    proof_text,
    review_text,
    shortfall_text,
)
from benchlore.cli.app import (
    REFUSED,
    AsJson,
    BoardName,
    ComplaintName,
    ShopFile,
    app,
    library_of,
)
from benchlore.cli.console import complain, progress_shown, say, say_json, stopping_gently
from benchlore.cli.procedure_text import ProcedureText, cost_lines, learned_lines
from benchlore.library import (
    Bench,
    Library,
    NoProofError,
    Other,
    ask,
    draft_mapping,
    export_jobs,
    init_library,
    kept_procedure,
    kept_proof,
    make_demo,
    plan_complaint,
    preview_table,
    prove_complaint,
    review_book,
    review_library,
    take_in,
    take_in_demand,
)
from benchlore.notation import FileNotWritten, Severity, write_atomic
from benchlore.procedure import Effort, Limits, to_json
from benchlore.proof import Settings, Split
from benchlore.proof import to_json as proof_to_json
from benchlore.shop import json_schema as shop_schema
from benchlore.units import counted

GIB = 1024**3

RARE = 0.02
"""Share of jobs below which a step is left to the bench."""


@app.command()
def init(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new or empty folder.")],
    name: Annotated[str | None, typer.Option(help="What the library is called.")] = None,
    board: Annotated[str, typer.Option(help="The first book's board, such as halden-t4.")] = "my-board",
    as_json: AsJson = False,
) -> None:
    """Make a library with a shop file and a first book.

    The book works as it stands: change it bit by bit into the book of your own board.
    """
    library = init_library(folder, title=name or folder.resolve().name, board=board)
    if as_json:
        say_json({"library": library.folder, "board": board})
        return
    say(
        [
            f"{folder}: a library with",
            "  shop.yaml                 your rates and instruments: set them first",
            f"  books/{board}/book.yaml   a first fault book; change it bit by bit",
            f"Next: cd {folder}; benchlore review; benchlore plan {board} no-power",
        ]
    )


@app.command()
def review(
    context: typer.Context,
    board: Annotated[str | None, typer.Argument(metavar="[BOARD]", help="One board; else all.")] = None,
    strict: Annotated[bool, typer.Option("--strict", help="Refuse warnings too.")] = False,
    as_json: AsJson = False,
) -> None:
    """Say what is wrong or doubtful in the books and shop file."""
    library = library_of(context)
    reviews = (review_book(library, board),) if board else review_library(library)
    if as_json:
        say_json({"files": reviews})
    else:
        say(review_text.lines(reviews))
    refused = [Severity.ERROR, Severity.WARNING] if strict else [Severity.ERROR]
    if any(reviewed.count(severity) for reviewed in reviews for severity in refused):
        raise typer.Exit(REFUSED)


@app.command()
def draft(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A CSV or XLSX table.")],
    board: BoardName,
    as_json: AsJson = False,
) -> None:
    """Print a first mapping file for a table.

    Its columns are guessed from their headers and cells: look at every line before you use it.
    """
    text = draft_mapping(library_of(context), file, board)
    if as_json:
        say_json({"mapping": text})
    else:
        say(text.splitlines())


@app.command()
def intake(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A CSV or XLSX table of recorded jobs.")],
    mapping: Annotated[Path, typer.Option("--mapping", "-m", metavar="FILE", help="What its columns mean.")],
    preview: Annotated[
        bool, typer.Option("--preview", help="Say what would be taken; store nothing.")
    ] = False,
    rejects: Annotated[
        Path | None, typer.Option("--rejects", metavar="FILE", help="Where refused rows go.")
    ] = None,
    every: Annotated[
        bool, typer.Option("--all", help="Show every row, not only those with a remark.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Take a shop's recorded jobs into the library.

    Refused rows never stop the good ones: they go to a file of their own, which can be mended and taken in
    with the same mapping. Taking a file in twice adds nothing. A mapping file is drafted by "draft".
    """
    library = library_of(context)
    with progress_shown(quiet=as_json) as report:
        if preview:
            taken = preview_table(library, file, mapping, report=report)
        else:
            taken = take_in(library, file, mapping, now=datetime.now(UTC), rejects=rejects, report=report)
    if as_json:
        say_json(intake_text.summary(taken))
    else:
        say(intake_text.lines(taken, every=every))
    if taken.preview.problems or not taken.preview.rows:
        raise typer.Exit(REFUSED)


@app.command()
def demand(
    context: typer.Context,
    path: Annotated[Path, typer.Argument(metavar="PATH", help="A CSV file, or a folder of them.")],
    as_json: AsJson = False,
) -> None:
    """Take in repair events elsewhere, as a measure of demand.

    They are read from files of the Open Repair Data Standard 0.3 and kept apart from bench jobs.
    """
    with progress_shown(quiet=as_json) as report:
        taken = take_in_demand(library_of(context), path, report=report)
    if as_json:
        say_json(taken)
    else:
        say(intake_text.demand_lines(taken))
    added = taken.added
    if not (added.new or added.same or added.changed):
        raise typer.Exit(REFUSED)


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
    other: Annotated[
        Path | None, typer.Option("--compare", metavar="FILE", help="Plan for this shop too; show both.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Learn, and compile the cheapest procedure for the shop.

    Where the book is too large for the exact method, the search goes on until a limit. Equal --nodes give
    equal procedures; --seconds depend on the machine. Ctrl-C stops it and keeps the best found so far; a
    second Ctrl-C stops at once.
    """
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
            f"Print it with: benchlore show {board} {complaint}",
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
    _warn_of_stale(planned.stale, f"benchlore plan {board} {complaint}")
    if rare is None:
        rare = RARE if steps is None else 0.0
    text = ProcedureText(planned.procedure, planned.book, rare, steps, shop)
    say(text.lines([*_standing(library, board, complaint, shop), *shortfall_text.lines(planned)]))


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
    pairs = tuple(_pair(text) for text in readings or ())
    bench = Bench(
        pairs, tuple(failed or ()), tuple(setups or ()), tuple(skipped or ()), tuple(without or ()), budget
    )
    asked = ask(library_of(context), board, complaint, bench, shop_file=shop)
    if as_json:
        say_json(next_text.document(asked))
    else:
        say(next_text.lines(asked))


def _pair(text: str) -> tuple[str, str]:
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
        _warn_of_stale(proved.stale, f"benchlore prove {board} {complaint}")
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


@app.command("serve")
def serve_app(
    context: typer.Context,
    port: Annotated[int, typer.Option(help="Where to listen on this machine.", min=0, max=65535)] = 8470,
    browse: Annotated[bool, typer.Option("--open/--no-open", help="Open a browser.")] = True,
) -> None:
    """Serve the library as pages on this machine, until Ctrl-C."""
    from benchlore.web import ServingError, serve  # noqa: PLC0415 the server takes long to import

    library = library_of(context)

    def ready(address: str) -> None:
        say([f"{library.title}: {address}", "Ctrl-C ends it. Only this machine can open it."])
        if browse:
            webbrowser.open(address)

    try:
        serve(library, port=port, ready=ready)
    except ServingError as error:
        complain(f"benchlore: {error}")
        raise typer.Exit(REFUSED) from None


@app.command()
def export(
    context: typer.Context,
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new folder for the CSV files.")],
    as_json: AsJson = False,
) -> None:
    """Write every job to plain CSV files."""
    count = export_jobs(library_of(context), folder)
    if as_json:
        say_json({"folder": folder, "jobs": count})
    else:
        say([f"{counted(count, 'job')} written to {folder} (jobs.csv, readings.csv, attempts.csv)"])


@app.command()
def schema(
    of_shop: Annotated[
        bool, typer.Option("--shop", help="The shop file's instead of the fault book's.")
    ] = False,
) -> None:
    """Print the fault book's JSON Schema, for editors.

    An editor that knows it checks a book while it is written, and completes its keys.
    """
    say_json(shop_schema() if of_shop else book_schema())


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new folder, or an earlier demo's.")],
    effort: Annotated[Effort, typer.Option(help="How hard to look for each procedure.")] = Effort.NORMAL,
    as_json: AsJson = False,
) -> None:
    """Run the main job on an invented library."""
    with progress_shown(quiet=as_json) as report:
        made = make_demo(folder, now=datetime.now(UTC), effort=effort, report=report)
    if as_json:
        say_json({"folder": folder, "taken": [intake_text.summary(taken) for taken in made.taken]})
        return
    say(intake_text.demo_lines(made, folder))
    shown = made.planned[0]
    say(["", "-" * 80, "", *ProcedureText(shown.procedure, shown.book, 0.05).lines()])


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


def _warn_of_stale(stale: tuple[str, ...], renew: str) -> None:
    if stale:
        complain(f"note: {' and '.join(stale)} changed since this was made; renew it with '{renew}'")


def _standing(library: Library, board: str, complaint: str, shop: Path | None) -> list[str]:
    try:
        return proof_text.standing_lines(kept_proof(library, board, complaint, shop_file=shop))
    except NoProofError:
        return [f"Not proven yet: benchlore prove {board} {complaint}"]
