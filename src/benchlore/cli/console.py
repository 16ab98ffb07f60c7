"""Where output goes: results to standard output, progress and complaints to standard error."""

import ctypes
import json
import os
import signal
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from threading import Event
from types import FrameType
from typing import Any

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

from benchlore.cli.plain import plain
from benchlore.cli.text import wrapped
from benchlore.library import Report

COPPER = "rgb(176,106,48)"


def say(lines: Iterable[str]) -> None:
    """Print plain lines."""
    sys.stdout.writelines(f"{line.rstrip()}\n" for line in lines)


def say_json(data: Any) -> None:
    """Print one JSON document; a number that JSON has no form for is a mistake in the program."""
    sys.stdout.write(json.dumps(plain(data), ensure_ascii=False, indent=2, allow_nan=False) + "\n")


def complain(message: str) -> None:
    """Print a message on standard error; a terminal has it wrapped, a file each finding on its line."""
    lines = message.split("\n")
    if sys.stderr.isatty():
        lines = [part for line in lines for part in _set(line)]
    sys.stderr.writelines(f"{line}\n" for line in lines)


def _set(line: str) -> list[str]:
    indent = len(line) - len(line.lstrip())
    return wrapped(line, indent=indent, hang=2, whole=True) or [""]


@contextmanager
def progress_shown(*, quiet: bool = False, told: bool = False) -> Iterator[Report]:
    """Show long work as bars on a terminal; elsewhere stay silent, or (``told``) say a line for each step."""
    console = Console(stderr=True)
    if quiet or not console.is_terminal:
        yield _steps_told() if told and not quiet else lambda *_: None
        return
    bars = Progress(
        TextColumn("{task.description}"),
        BarColumn(bar_width=28, style="dim", complete_style=COPPER, finished_style=COPPER),
        TextColumn("{task.fields[note]}"),
        TimeElapsedColumn(),
        console=console,
        transient=True,
    )
    tasks: dict[str, Any] = {}

    def report(stage: str, done: float, total: float, note: str = "") -> None:
        if stage not in tasks:
            tasks[stage] = bars.add_task(stage, total=total or None, note=note)
        bars.update(tasks[stage], completed=done, total=total or None, note=note)

    with bars:
        yield report


def _steps_told() -> Report:
    stages: set[str] = set()

    def report(stage: str, done: float, total: float, note: str = "") -> None:  # noqa: ARG001
        if stage not in stages:
            stages.add(stage)
            complain(f"{stage} …")

    return report


@contextmanager
def stopping_gently() -> Iterator[Callable[[], bool]]:
    """Ask whether Ctrl-C was pressed, so that long work ends with what it has; a second one stops it hard."""
    pressed = Event()

    def on_interrupt(number: int, frame: FrameType | None) -> None:
        if pressed.is_set():
            signal.default_int_handler(number, frame)
        pressed.set()
        complain("stopping with the best procedure found so far; press Ctrl-C again to stop at once")

    before = signal.signal(signal.SIGINT, on_interrupt)
    try:
        yield pressed.is_set
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def solver_silenced() -> Iterator[None]:
    """Keep out of the output what the solver prints by itself.

    HiGHS writes some lines with C's own ``printf`` whatever its options say; they would break a JSON answer.
    """
    flush = ctypes.CDLL(None).fflush
    sys.stdout.flush()
    flush(None)
    kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    try:
        yield
    finally:
        flush(None)
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
