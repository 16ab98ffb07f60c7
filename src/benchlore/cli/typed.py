"""Commands that a reader may type next: they work when they are pasted from where the reader stands."""

import shlex
from pathlib import Path

import typer

from benchlore.cli.text import program


def to_type(context: typer.Context, *words: str, shop: Path | None = None) -> str:
    """Write a command with the library and the shop file that were named to this one."""
    root = context.find_root()
    source = root.get_parameter_source("library")
    is_named = source is not None and source.name == "COMMANDLINE"
    library = ("--library", str(root.params["library"])) if is_named else ()
    other = () if shop is None else ("--shop", str(shop))
    return f"{program()} {shlex.join((*library, *words, *other))}"
