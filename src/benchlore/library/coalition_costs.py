"""What procedures cost that were compiled from some contributors' jobs, kept while nothing has changed."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import TypeAlias

import benchlore
from benchlore.jobs import Job
from benchlore.library.compiled import digest_of_shop, read_json, write_json
from benchlore.library.folder import Library
from benchlore.library.progress import Report
from benchlore.library.workers import cores, working
from benchlore.model import Model
from benchlore.model import to_json as model_to_json
from benchlore.money import Coalition, coalition_costs
from benchlore.notation import FileNotWritten, FileTrouble
from benchlore.procedure import Effort
from benchlore.shop import Shop

Members: TypeAlias = tuple[tuple[str, ...], tuple[Job, ...]]
"""The names of a coalition's members, and all their jobs."""

FEW = 4
"""Coalitions that are compiled here: starting other processes would take longer."""


@dataclass(frozen=True, eq=False)
class Asked:
    """What does not change from one coalition of a board to the next."""

    models: tuple[Model, ...]
    full: tuple[Model, ...]
    places: tuple[int, ...]
    shop: Shop
    effort: Effort


def priced_coalitions(
    library: Library,
    asked: Asked,
    coalitions: Mapping[int, Members],
    *,
    workers: int | None,
    report: Report,
) -> dict[int, tuple[float, ...]]:
    """What each coalition's procedures cost, complaint by complaint; kept ones are not made again."""
    path = _place(library, asked)
    names = {mask: _digest(members) for mask, members in coalitions.items()}
    stamp = _stamp(asked)
    kept = _kept(path, stamp, len(asked.places))
    missing = [mask for mask in coalitions if names[mask] not in kept]
    tasks = [
        Coalition(asked.models, asked.full, coalitions[mask][1], asked.places, asked.shop, asked.effort)
        for mask in missing
    ]
    stage, total = f"Coalitions of {asked.models[0].board}", len(coalitions)
    report(stage, total - len(missing), total)
    wanted = (cores() if workers is None else workers) if len(tasks) > FEW else 1
    try:
        with working(wanted) as run:
            for k, costs in enumerate(run(coalition_costs, tasks)):
                kept[names[missing[k]]] = costs
                report(stage, total - len(missing) + k + 1, total)
    finally:
        # Whoever stops the work goes on from here; a library that may only be read answers all the same.
        if missing:
            with suppress(FileNotWritten):
                write_json(path, {"made_from": stamp, "costs": kept})
    return {mask: kept[name] for mask, name in names.items()}


def _place(library: Library, asked: Asked) -> Path:
    shop = digest_of_shop(asked.shop)[:16]
    return library.compiled / asked.models[0].board / f"credit-{shop}-{asked.effort}.json"


def _stamp(asked: Asked) -> str:
    """A fingerprint of what all coalitions share: the program, the book, all jobs, complaints, the shop."""
    digest = sha256(benchlore.__version__.encode())
    for model in (*asked.models, *asked.full):
        digest.update(repr(model_to_json(model)).encode())
    digest.update(repr((asked.places, digest_of_shop(asked.shop))).encode())
    return digest.hexdigest()


def _digest(members: Members) -> str:
    """A fingerprint of a coalition's jobs; who recorded them makes no difference to what they cost."""
    return sha256(repr([repr(job) for job in members[1]]).encode()).hexdigest()


def _kept(path: Path, stamp: str, complaints: int) -> dict[str, tuple[float, ...]]:
    """Costs kept from an earlier time; none where anything has changed since, or they cannot be read."""
    try:
        data = read_json(path)
        costs: Mapping[str, Sequence[float]] = data["costs"] if data["made_from"] == stamp else {}
        found = {name: tuple(map(float, each)) for name, each in costs.items()}
    except (FileTrouble, ValueError, KeyError, TypeError, AttributeError):
        return {}
    return {name: each for name, each in found.items() if len(each) == complaints}
