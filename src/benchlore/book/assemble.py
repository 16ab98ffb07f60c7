"""From checked shapes to a book's values: names are looked up, rows filled, spans read."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from benchlore.book.bench import Bench, circles
from benchlore.book.fields import GateText
from benchlore.book.known import Known, normal_first
from benchlore.book.shape import (
    BookShape,
    CheckShape,
    ComplaintShape,
    ConditionShape,
    FaultShape,
    FixShape,
    PersonShape,
    PictureShape,
    RetestShape,
    SeenShape,
    SetupShape,
    WorkShape,
)
from benchlore.book.showing import Showing, fill_row
from benchlore.book.values import (
    Board,
    Book,
    Check,
    Complaint,
    Condition,
    Fault,
    Fix,
    Gate,
    Part,
    Person,
    Picture,
    Seen,
    Setup,
    Wire,
    Work,
)
from benchlore.notation import Key, listed, quoted
from benchlore.notation.names import LONGEST_NAME
from benchlore.notation.scalars import Money, StatedChance
from benchlore.units import Chance, Span

BY_CHANCE = 0.02
"""How often a condition leaves its first state by chance where the book does not say (our own choice)."""

UNLISTED = "unlisted"
"""The reserved name that stands for every fault which a book does not know."""


@dataclass(frozen=True)
class Entries:
    """The entries of each section that have the right shape."""

    people: Mapping[str, PersonShape]
    setups: Mapping[str, SetupShape]
    conditions: Mapping[str, ConditionShape]
    checks: Mapping[str, CheckShape]
    faults: Mapping[str, FaultShape]
    fixes: Mapping[str, FixShape]
    complaints: Mapping[str, ComplaintShape]


class Assembly:
    """Puts a book together; every mistake goes to ``known.findings``, so that one hides no other."""

    def __init__(self, entries: Entries, known: Known, currency: str | None) -> None:
        self._entries = entries
        self._known = known
        self._findings = known.findings
        self._currency = currency
        names = known.names["setups"]
        after = {name: _before(known.setups[name], names) if name in known.setups else () for name in names}
        self._bench = Bench(after, known.equipment)

    def book(self, header: BookShape | None, name: str | None) -> Book | None:
        """Return the book; ``None`` where its header has mistakes. Other mistakes leave things out."""
        self._check_names()
        entries = self._entries
        setups = {name: self._setup(name, shape) for name, shape in entries.setups.items()}
        conditions = {name: self._condition(name, shape) for name, shape in entries.conditions.items()}
        checks = {name: self._check(name, shape) for name, shape in entries.checks.items()}
        faults = {name: self._fault(name, shape) for name, shape in entries.faults.items()}
        fixes = {name: self._fix(name, shape) for name, shape in entries.fixes.items()}
        complaints = {name: self._complaint(name, shape) for name, shape in entries.complaints.items()}
        if header is None:
            return None
        board = header.board
        return Book(
            board=Board(name or _slug(board.name), board.name, board.device, board.revision or None),
            licence=header.licence,
            currency=self._currency or "EUR",
            people={
                n: Person(n, shape.name, shape.roles, shape.orcid) for n, shape in entries.people.items()
            },
            equipment=self._used_equipment(
                header, [*setups.values(), *checks.values(), *fixes.values(), *complaints.values()]
            ),
            setups=setups,
            conditions=conditions,
            checks=checks,
            faults=faults,
            fixes=fixes,
            complaints=complaints,
        )

    def _check_names(self) -> None:
        for name in self._known.names["setups"]:
            if name in self._known.equipment:
                message = f"{quoted(name)} is an instrument or skill too; give the setup another name"
                self._findings.error(("setups", name), "two-meanings", message)
        for circle in circles(self._bench.after):
            message = (
                f"{listed(circle)} wait for each other in a circle"
                if len(circle) > 1
                else "it waits for itself"
            )
            self._findings.error(
                ("setups", circle[0], "after"), "circle", f"{message}; take one 'after' or 'needs' away"
            )
        if UNLISTED in self._known.names["faults"]:
            message = f"'{UNLISTED}' stands for every fault that the book does not know; take another name"
            self._findings.error(("faults", UNLISTED), "reserved-name", message)
        for section, kind in (("faults", "fault"), ("complaints", "complaint")):
            if not self._known.names[section]:
                self._findings.error((section,), "missing", f"a book has at least one {kind}; add it")

    def _used_equipment(
        self, header: BookShape, parts: Iterable[Setup | Check | Fix | Complaint]
    ) -> dict[str, str]:
        """Return the book's own equipment and the standard one that it uses, each with its line."""
        works = [part.retest if isinstance(part, Complaint) else part.work for part in parts]
        used = sorted({name for work in works for name in work.equipment})
        return {name: self._known.equipment[name] for name in (*header.instruments, *header.skills, *used)}

    def _work(self, shape: WorkShape, key: Key, waits: float | None = None) -> Work:
        setups, equipment = self._bench.split(shape.needs, (*key, "needs"), self._findings)
        ruins = shape.ruins.chance.probability if shape.ruins else 0.0
        waits = shape.waits if waits is None else waits
        return Work(shape.takes, waits, ruins, setups, equipment, tuple(dict.fromkeys(shape.cautions)))

    def _setup(self, name: str, shape: SetupShape) -> Setup:
        key: Key = ("setups", name)
        for place, other in enumerate(shape.after):
            self._known.has("setups", "setup", other, (*key, "after", place))
        work = self._work(shape, key)
        before = self._bench.closed(self._bench.after[name])
        work = replace(work, setups=tuple(each for each in before if each != name))
        return Setup(name, shape.title or name, work, shape.how)

    def _condition(self, name: str, shape: ConditionShape) -> Condition:
        key: Key = ("conditions", name, "states")
        self._check_distinct(shape.states, "state", key)
        by_chance = shape.by_chance.chance.probability if shape.by_chance else BY_CHANCE
        return Condition(name, shape.title or name, shape.at, normal_first(shape.states), by_chance)

    def _check(self, name: str, shape: CheckShape) -> Check:
        key: Key = ("checks", name)
        results = tuple(dict.fromkeys(shape.results))
        chances, spans = self._shown(shape, results, key)
        return Check(
            name=name,
            title=shape.title or name,
            reads=shape.reads,
            how=shape.how,
            work=self._work(shape, key),
            results=results,
            chances=chances,
            measures=shape.measures,
            spans=spans,
            gates=self._gates(shape.only_after, key),
            picture=_picture(shape.picture),
            from_record=self._from_record(shape, results, (*key, "from record")),
            also=shape.also,
        )

    def _from_record(self, shape: CheckShape, results: tuple[str, ...], key: Key) -> Mapping[str, str]:
        """Return the result of each kind of restart record; a number cannot be had from one."""
        if shape.from_record and not results:
            message = "a kind of record gives a named result; this check measures a number"
            self._findings.error(key, "bad-value", message)
            return {}
        return {
            kind: result
            for kind, result in shape.from_record.items()
            if self._known.is_one(result, results, "result", (*key, result))
        }

    def _shown(
        self, shape: CheckShape, results: tuple[str, ...], key: Key
    ) -> tuple[Mapping[str, Mapping[str, Chance]], Mapping[str, Span]]:
        """Return what each state shows, as chances of results or as spans."""
        is_known = self._known.has("conditions", "condition", shape.reads, (*key, "reads"))
        states = self._known.states(shape.reads) if is_known else None
        if bool(results) == bool(shape.measures):
            message = "either 'measures' (a number) or 'results' (named outcomes) is expected"
            self._findings.error(key, "missing", f"{message}, not {'both' if results else 'neither'}")
            return {}, {}
        if results:
            self._check_distinct(shape.results, "result", (*key, "results"))
        if states is None:
            return {}, {}
        showing = Showing(self._known, (*key, "shows"), states)
        if shape.measures:
            return {}, showing.spans(shape.shows, shape.measures)
        return showing.chances(shape.shows, results), {}

    def _fault(self, name: str, shape: FaultShape) -> Fault:
        key: Key = ("faults", name)
        causes = {
            condition: row
            for condition, stated in shape.causes.items()
            if (row := self._cause(condition, stated, (*key, "causes", condition))) is not None
        }
        if shape.about_every == 0:
            self._findings.error(
                (*key, "about every"), "bad-value", "events are some time apart; write more than 0 min"
            )
        part = shape.part
        return Fault(
            name=name,
            title=shape.title or name,
            part_ref=(part.ref or None) if part else None,
            part_class=(part.class_ or None) if part else None,
            causes=causes,
            about_every=shape.about_every,
            notes=shape.notes,
            also=shape.also,
        )

    def _cause(
        self, condition: str, stated: Mapping[str, StatedChance], key: Key
    ) -> dict[str, Chance] | None:
        if not self._known.has("conditions", "condition", condition, key):
            return None
        states = self._known.states(condition)
        if states is None:
            return None
        # A list, not a generator: every state that does not exist is to be named.
        if not all([self._known.is_one(state, states, "state", (*key, state)) for state in stated]):  # noqa: C419
            return None
        return fill_row(self._known, stated, states, "normal" if "normal" in states else None, key)

    def _fix(self, name: str, shape: FixShape) -> Fix:
        key: Key = ("fixes", name)
        cures = {
            fault: stated.chance
            for fault, stated in shape.cures.items()
            if self._known.has("faults", "fault", fault, (*key, "cures", fault))
        }
        return Fix(
            name=name,
            title=shape.title or name,
            how=shape.how,
            work=self._work(shape, key),
            cures=cures,
            parts=tuple(
                Part(part.title, self._amount(part.price, (*key, "parts", place, "price")))
                for place, part in enumerate(shape.parts)
            ),
            wire=self._wire(shape, key),
            picture=_picture(shape.picture),
            gates=self._gates(shape.only_after, key),
            also=shape.also,
        )

    def _wire(self, shape: FixShape, key: Key) -> Wire | None:
        if shape.wire is None:
            return None
        wire = shape.wire
        for name, value in (("carries", wire.carries), ("may drop", wire.may_drop)):
            if value is not None and value <= 0:
                self._findings.error((*key, "wire", name), "bad-value", "more than zero is expected")
        return Wire(wire.from_, wire.to, wire.carries, wire.may_drop)

    def _complaint(self, name: str, shape: ComplaintShape) -> Complaint:
        key: Key = ("complaints", name)
        every = shape.intermittent.about_every if shape.intermittent else None
        if every == 0:
            message = "events are some time apart; write more than 0 min"
            self._findings.error((*key, "intermittent", "about every"), "bad-value", message)
        return Complaint(
            name=name,
            title=shape.title or name,
            retest=self._retest(shape.retest, (*key, "retest")),
            about_every=every,
            retest_how=shape.retest.how,
            seen=self._seen(shape.seen, (*key, "seen")) if shape.seen else None,
            worth=self._amount(shape.worth, (*key, "worth")) if shape.worth else None,
            also=shape.also,
        )

    def _retest(self, shape: RetestShape, key: Key) -> Work:
        if shape.soak is not None and shape.waits:
            message = "'soak' and 'waits' mean the same here; write one of them"
            self._findings.error((*key, "waits"), "two-meanings", message)
        return self._work(shape, key, shape.waits if shape.soak is None else shape.soak)

    def _seen(self, shape: SeenShape, key: Key) -> Seen:
        known = [
            fault
            for fault in shape.faults
            if fault == UNLISTED or self._known.has("faults", "fault", fault, (*key, "faults", fault))
        ]
        if UNLISTED in known:
            message = "boards beyond the sum of the other faults are unlisted by themselves; leave this out"
            self._findings.error((*key, "faults", UNLISTED), "reserved-name", message)
        total = sum(shape.faults.values())
        if total > shape.boards:
            message = f"the faults add up to {total:g}, more than the {shape.boards:g} boards that were seen"
            self._findings.error((*key, "faults"), "seen-sum", message)
        return Seen(shape.boards, {fault: shape.faults[fault] for fault in known}, shape.weight)

    def _amount(self, money: Money, key: Key) -> float:
        if self._currency is None and money.currency is None:
            message = "a price needs a currency; add 'currency: EUR', or yours, at the top of the book"
            self._findings.error(key, "currency", message)
        elif money.currency not in {None, self._currency}:
            message = (
                f"prices of this book are in {self._currency or 'no currency yet'}, not {money.currency}"
            )
            self._findings.error(
                key, "currency", f"{message}; write it so, with 'currency' at the top of the book"
            )
        return money.amount

    def _gates(self, gates: tuple[GateText, ...], key: Key) -> tuple[Gate, ...]:
        return tuple(
            Gate(gate.check, gate.state, gate.negated)
            for gate in gates
            if self._is_gate(gate, (*key, "only after", *gate.key))
        )

    def _is_gate(self, gate: GateText, key: Key) -> bool:
        if not self._known.has("checks", "check", gate.check, key):
            return False
        check = self._known.checks.get(gate.check)
        states = self._known.states(check.reads) if check else None
        if gate.state is None or check is None or states is None:
            return True
        return self._known.is_one(
            gate.state, (*states, *check.results), f"state or result of {quoted(gate.check)}:", key
        )

    def _check_distinct(self, names: tuple[str, ...], kind: str, key: Key) -> None:
        for place, name in enumerate(names):
            if name in names[:place]:
                self._findings.error(
                    (*key, place), "twice", f"the {kind} {quoted(name)} stands twice; take one away"
                )
        if len(set(names)) < 2:
            self._findings.error(
                key, "too-few", f"at least two {kind}s are expected; with one there is nothing to tell apart"
            )


def _before(shape: SetupShape, setups: tuple[str, ...]) -> tuple[str, ...]:
    """Return what must stand before a setup: what it comes after, and setups that it needs."""
    return (*shape.after, *(name for name in shape.needs if name in setups))


def _picture(shape: PictureShape | None) -> Picture | None:
    return Picture(shape.file, shape.at) if shape else None


def _slug(title: str) -> str:
    """Make a board's identifier from its title."""
    name = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")[:LONGEST_NAME].strip("-")
    return name or "board"
