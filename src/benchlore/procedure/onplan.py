"""Where a job stands on a compiled procedure, if it does."""

from collections.abc import Collection, Mapping

from benchlore.procedure.policy import STILL_THERE
from benchlore.procedure.values import RELEASE, Kind, Procedure, Step


def path_to(
    procedure: Procedure, readings: Mapping[str, str], failed: Collection[str]
) -> tuple[Step, ...] | None:
    """Return the steps that a job took and, last, the one that it stands at; ``None`` if it left the graph.

    ``readings`` are results by check, ``failed`` are fixes after which the complaint was still there; their
    order carries no meaning. A job that did anything which its way through the graph does not ask for has
    left it.
    """
    path, step = list[Step](), procedure.steps[0]
    while True:
        path.append(step)
        result = _result(step, readings, failed)
        if result is None:
            done = len(path) - 1 == len(readings) + len(failed)
            return tuple(path) if done else None
        target = step.branches.get(result, RELEASE)
        if target == RELEASE:
            return None
        step = procedure.steps[target]


def step_at(procedure: Procedure, readings: Mapping[str, str], failed: Collection[str]) -> Step | None:
    """Return the procedure's step where a job stands exactly on it, as :func:`path_to` says."""
    path = path_to(procedure, readings, failed)
    return None if path is None else path[-1]


def _result(step: Step, readings: Mapping[str, str], failed: Collection[str]) -> str | None:
    """What a step showed; ``None`` where it was not done."""
    if step.kind is Kind.CHECK:
        return readings.get(step.action)
    return STILL_THERE if step.kind is Kind.FIX and step.action in failed else None
