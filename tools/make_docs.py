"""Write the generated pages of the manual, or say (``--check``) which of them are out of date.

``docs/commands.md`` comes from the commands' own help, ``docs/book.schema.json`` from the notation, and
``docs/pictures/procedure.svg`` from the demo library's own procedure as the terminal prints it.
"""

import argparse
import json
import sys
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from html import escape
from pathlib import Path

import typer
from typer.testing import CliRunner

from benchlore.book import json_schema
from benchlore.cli import app
from benchlore.cli.app import ORDER
from benchlore.cli.procedure_text import ProcedureText
from benchlore.library import make_demo

DOCS = Path(__file__).resolve().parent.parent / "docs"
PICTURED = ("halden-t4", "restarts")
PICTURE_LINES = 46
PLAIN = {"COLUMNS": "80", "NO_COLOR": "1"}
PAPER, INK, COPPER = "#faf7f0", "#22252a", "#b06a30"

EXIT_CODES = """
Exit codes: 0 done, 1 refused by content (an error in a book, a mapping that does not fit, nothing planned
yet), 2 wrong usage. With `--json` a command prints one JSON document on standard output, also for a refusal
(`{"error": {"kind", "message"}}`).
Progress and notes go to standard error.
"""


def commands_page() -> str:
    """Write every command's help into one page."""
    parts = [
        "# Commands",
        "",
        "Written by `make docs` from the program's own help; do not edit.",
        EXIT_CODES,
        _help(),
    ]
    for name in sorted(commands_of(app), key=lambda name: ORDER.index(name[0])):
        parts += ["", f"## benchlore {' '.join(name)}", "", _help(*name)]
    return "\n".join(parts) + "\n"


def commands_of(group: typer.Typer, *above: str) -> Iterator[tuple[str, ...]]:
    """Name every command of a group, then those of the groups inside it."""
    for command in group.registered_commands:
        assert command.callback is not None
        yield *above, command.name or command.callback.__name__
    for inner in group.registered_groups:
        assert inner.typer_instance is not None
        yield from commands_of(inner.typer_instance, *above, str(inner.typer_instance.info.name))


def _help(*command: str) -> str:
    shown = CliRunner().invoke(app, [*command, "--help"], prog_name="benchlore", env=PLAIN)
    assert shown.exit_code == 0, shown.output
    return f"```text\n{shown.output.rstrip()}\n```"


def schema_page() -> str:
    """Write the fault book's JSON Schema."""
    return json.dumps(json_schema(), ensure_ascii=False, indent=2) + "\n"


def picture() -> str:
    """Draw the first lines of a demo procedure as the terminal prints them."""
    with tempfile.TemporaryDirectory() as folder:
        made = make_demo(Path(folder), now=datetime(2026, 1, 1, tzinfo=UTC))
    planned = next(p for p in made.planned if (p.procedure.board, p.procedure.complaint) == PICTURED)
    lines = ProcedureText(planned.procedure, planned.book, 0.08).lines()[:PICTURE_LINES]
    return svg_of([f"$ benchlore show {' '.join(PICTURED)}", "", *lines, "    …"])


def svg_of(lines: list[str]) -> str:
    """Set lines of plain text as an SVG picture on paper."""
    height = 18 * len(lines) + 40
    rows = "\n".join(
        f'<text x="24" y="{34 + 18 * k}" fill="{INK if k else COPPER}">{escape(line)}</text>'
        for k, line in enumerate(lines)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="740" height="{height}" viewBox="0 0 740 {height}" '
        f'role="img" aria-label="The first steps of a procedure in a terminal">\n'
        f'<rect width="740" height="{height}" fill="{PAPER}"/>\n'
        f'<rect width="6" height="{height}" fill="{COPPER}"/>\n'
        f'<g font-family="ui-monospace, \'DejaVu Sans Mono\', monospace" font-size="14" '
        f'xml:space="preserve">\n{rows}\n</g>\n</svg>\n'
    )


def main() -> int:
    """Write the pages, or compare them with what stands there."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true", help="write nothing; fail if a page is out of date")
    check = parser.parse_args().check
    pages = {"commands.md": commands_page(), "book.schema.json": schema_page()}
    if not check:  # the last digits of a long computation may differ between machines
        pages["pictures/procedure.svg"] = picture()
    stale = [name for name, text in pages.items() if not _stands(DOCS / name, text)]
    if check:
        for name in stale:
            print(f"docs/{name} is out of date; run 'make docs'", file=sys.stderr)
        return bool(stale)
    for name in stale:
        (DOCS / name).parent.mkdir(parents=True, exist_ok=True)
        (DOCS / name).write_text(pages[name], encoding="utf-8")
        print(f"docs/{name} written")
    return 0


def _stands(path: Path, text: str) -> bool:
    return path.exists() and path.read_text(encoding="utf-8") == text


if __name__ == "__main__":
    sys.exit(main())
