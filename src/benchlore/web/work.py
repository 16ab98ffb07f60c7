"""Long work in a thread of its own, with how far it is: nobody's request waits for it."""

import logging
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final, Generic, TypeVar

from benchlore.jobs import StoreTrouble
from benchlore.library import LibraryError
from benchlore.money import MoneyError
from benchlore.notation import FileTrouble

FORESEEN: Final = (LibraryError, FileTrouble, StoreTrouble, MoneyError)
MOST_KEPT: Final = 16
"""Finished works whose results are kept; others are done again when somebody asks."""

Result = TypeVar("Result")
log = logging.getLogger("benchlore.web")


@dataclass(slots=True, kw_only=True)
class Progress:
    """How far work is."""

    stage: str = "Beginning"
    done: float = 0
    total: float = 0
    failure: str = ""
    """Why it ended without a result."""
    _ended: threading.Event = field(default_factory=threading.Event)

    @property
    def is_running(self) -> bool:
        """Whether it goes on."""
        return not self._ended.is_set()

    def report(self, stage: str, done: float, total: float, note: str = "") -> None:  # noqa: ARG002  a Report
        """Take note of how far it is."""
        self.stage, self.done, self.total = stage, done, total

    def wait(self, seconds: float) -> None:
        """Wait for the end, but not longer."""
        self._ended.wait(seconds)

    def end(self) -> None:
        """Say that it is over."""
        self._ended.set()


@dataclass(slots=True, kw_only=True)
class Asked(Progress, Generic[Result]):
    """A question that takes long, and its answer once there is one."""

    result: Result | None = None


class Answers(Generic[Result]):
    """Answers by what was asked: each is worked out once, however often somebody looks."""

    def __init__(self) -> None:
        self._asked: OrderedDict[str, Asked[Result]] = OrderedDict()
        self._lock = threading.Lock()

    def ask(self, key: str, act: Callable[[Asked[Result]], Result]) -> Asked[Result]:
        """Return what was asked, and begin with it where nobody has; the same question fails the same way."""
        with self._lock:
            found = self._asked.get(key)
            if found is not None:
                return found
            asked = self._asked[key] = Asked[Result]()
            self._asked.move_to_end(key)
            finished = [name for name, each in self._asked.items() if not each.is_running]
            for name in finished[: max(0, len(self._asked) - MOST_KEPT)]:
                del self._asked[name]
        threading.Thread(target=_run, args=(act, asked), daemon=True).start()
        return asked


def _run(act: Callable[[Asked[Result]], Result], asked: Asked[Result]) -> None:
    try:
        asked.result = act(asked)
    except FORESEEN as error:
        asked.failure = str(error)
    except Exception:
        log.exception("failed at long work")
        asked.failure = "Something went wrong inside benchlore. The terminal says more."
    finally:
        asked.end()
