"""Planning problems in plain JSON: one number for each cost, no names for results.

The layout is a mapping with ``faults`` (``prior``), ``setups`` (``minutes``, optional ``after``),
``conditions`` (``p[fault][state]``), ``checks`` (``condition``, ``minutes``, ``setups``,
``p[state][result]``, optional ``gates``), ``fixes`` (``cost``, ``verify``, ``setups``, ``rho[fault]``,
optional ``gates``, optional ``soaks``), ``detect``, ``give_up``, ``comeback`` and ``mode``. A gate is
``{"check": index, "results": [indices]}``. With ``soaks`` a fix has a choice of retests, each ``{"minutes":
soak, "verify": cost, "detect": [by fault]}`` in place of its ``verify`` and the common ``detect``.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from benchlore.model import Gate
from benchlore.procedure.errors import InvalidInstanceError
from benchlore.procedure.instance import CheckOption, FixOption, Instance, Mode, SetupOption
from benchlore.procedure.values import Cost


def instance_from_dict(data: Mapping[str, Any]) -> Instance:
    """Read a planning problem from its plain form.

    Raises
    ------
    InvalidInstanceError
        If a field is missing, of the wrong kind, or makes no sense.
    """
    try:
        return _instance(data)
    except KeyError as error:
        raise InvalidInstanceError("problem", f"no {error}", "all fields of the plain form") from None
    except (TypeError, AttributeError, IndexError) as error:
        raise InvalidInstanceError("problem", str(error), "the plain form") from None


def _instance(data: Mapping[str, Any]) -> Instance:
    closed = _closed([tuple(setup.get("after", ())) for setup in data["setups"]])
    return Instance(
        faults=_names(data["faults"], "f"),
        prior=np.array([fault["prior"] for fault in data["faults"]], dtype=float),
        tables=tuple(np.array(condition["p"], dtype=float) for condition in data["conditions"]),
        checks=tuple(_check(k, check, closed) for k, check in enumerate(data["checks"])),
        fixes=tuple(
            option for k, fix in enumerate(data["fixes"]) for option in _fixes(k, fix, data["detect"], closed)
        ),
        setups=tuple(
            SetupOption(name, Cost(setups=float(setup["minutes"])), closed[k])
            for k, (name, setup) in enumerate(zip(_names(data["setups"], "u"), data["setups"], strict=True))
        ),
        give_up=float(data["give_up"]),
        comeback=float(data["comeback"]),
        mode=Mode(data.get("mode", "repair")),
    )


def _check(index: int, data: Mapping[str, Any], closed: Sequence[int]) -> CheckOption:
    table = np.array(data["p"], dtype=float)
    return CheckOption(
        name=data.get("id", f"c{index}"),
        condition=int(data["condition"]),
        results=tuple(f"r{result}" for result in range(table.shape[1])),
        table=table,
        cost=Cost(hands_on=float(data["minutes"])),
        setups=_mask(data.get("setups", ()), closed),
        gates=_gates(data),
    )


def _fixes(
    index: int, data: Mapping[str, Any], detect: Sequence[float], closed: Sequence[int]
) -> Iterator[FixOption]:
    """Yield a fix, once for each of its soaks."""
    retests = data["soaks"] if "soaks" in data else [{"verify": data["verify"], "detect": detect}]
    for retest in retests:
        yield FixOption(
            name=data.get("id", f"a{index}"),
            cures=np.array(data["rho"], dtype=float),
            cost=Cost(hands_on=float(data["cost"]), retest=float(retest["verify"])),
            setups=_mask(data.get("setups", ()), closed),
            gates=_gates(data),
            detects=np.array(retest["detect"], dtype=float),
            soak=float(retest.get("minutes", 0.0)),
        )


def _gates(data: Mapping[str, Any]) -> tuple[Gate, ...]:
    return tuple(Gate(int(gate["check"]), tuple(gate["results"])) for gate in data.get("gates", ()))


def _names(entries: Sequence[Mapping[str, Any]], letter: str) -> tuple[str, ...]:
    return tuple(entry.get("id", f"{letter}{index}") for index, entry in enumerate(entries))


def _mask(setups: Sequence[int], closed: Sequence[int]) -> int:
    mask = 0
    for setup in setups:
        mask |= closed[setup]
    return mask


def _closed(after: Sequence[tuple[int, ...]]) -> list[int]:
    """Masks of each setup with all that stand before it, however the setups are ordered."""
    masks = [1 << k for k in range(len(after))]
    for _ in after:
        for k, before in enumerate(after):
            masks[k] |= _mask(before, masks)
    return masks
