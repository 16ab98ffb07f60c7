"""Boards that are kept prepared, and prepared anew when what they are made from has changed."""

import logging
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path
from threading import Lock, Thread
from typing import TypeAlias

from benchlore.jobs import StoreTrouble
from benchlore.library.asking import Companion, companion_of
from benchlore.library.compiled import procedure_folder
from benchlore.library.errors import LibraryError
from benchlore.library.folder import Library
from benchlore.library.planning import learn_board
from benchlore.model import ModelError
from benchlore.notation import FileTrouble
from benchlore.procedure import PlanningError
from benchlore.shop import Shop

log = logging.getLogger("benchlore.library")

_Stamp: TypeAlias = tuple[tuple[int, int] | None, ...]


@dataclass(frozen=True, eq=False)
class Prepared:
    """A companion; ``trouble`` says why it is an older one, where book or shop have errors now."""

    companion: Companion
    trouble: str = ""


class Companions:
    """Companions by board and complaint, for one shop file; may be asked from several threads.

    A companion is made anew when its book, the shop file, or the model or procedure that are kept of it have
    another size or time of change. So it is when the board's models were learned anew, by whatever program.
    A job that is closed or opened again has them learned in the background (:meth:`learn_anew`): a companion
    answers at once from what it knows until then, as ``benchlore next`` would have before that job.
    """

    def __init__(self, library: Library, shop_file: Path | None) -> None:
        self._library = library
        self._shop_file = shop_file
        self._kept: dict[tuple[str, str], tuple[_Stamp, Prepared]] = {}
        self._locks: defaultdict[tuple[str, str], Lock] = defaultdict(Lock)
        self._lock = Lock()
        self._learning = Lock()
        self._unlearned: set[str] = set()
        self._learner: Thread | None = None

    def learn_anew(self, board: str) -> None:
        """Have a board's models learned from the jobs as they are now; one board at a time, in a thread."""
        with self._learning:
            self._unlearned.add(board)
            if self._learner is None:
                self._learner = Thread(target=self._learn, name="benchlore learning", daemon=True)
                self._learner.start()

    def wait(self) -> None:
        """Wait until everything that was to be learned is learned."""
        with self._learning:
            learner = self._learner
        if learner is not None:
            learner.join()

    def _learn(self) -> None:
        while True:
            with self._learning:
                if not self._unlearned:
                    self._learner = None
                    return
                board = self._unlearned.pop()
            try:
                learn_board(self._library, board)
            except (LibraryError, FileTrouble, StoreTrouble, ModelError):
                # A book that has errors now, or a store that is busy: whoever asks about the board is told.
                log.warning("the models of %s were not learned anew", board, exc_info=True)

    def of(self, board: str, complaint: str) -> Prepared:
        """Return a board's companion; errors are those of :func:`companion_of`."""
        with self._lock:
            lock = self._locks[board, complaint]
        with lock:
            kept = self._kept.get((board, complaint))
            if kept is not None and kept[0] == self._stamp(board, complaint, kept[1].companion.shop):
                return kept[1]
            return self._renewed(board, complaint, None if kept is None else kept[1].companion)

    def _renewed(self, board: str, complaint: str, older: Companion | None) -> Prepared:
        # Taken before reading: what changes meanwhile is then read once more, never missed.
        book, shop_file = self._files(board)
        before = (_stat(book), _stat(shop_file))
        try:
            companion = companion_of(self._library, board, complaint, shop_file=self._shop_file)
            prepared = Prepared(companion)
        except (LibraryError, PlanningError, FileTrouble) as error:
            if older is None:
                raise
            prepared = Prepared(older, str(error))
        stamp = self._stamp(board, complaint, prepared.companion.shop)
        self._kept[board, complaint] = ((*before, *stamp[2:]), prepared)
        return prepared

    def _files(self, board: str) -> tuple[Path, Path]:
        folder = self._library.books / board
        return folder / "book.yaml", self._shop_file or self._library.shop_file

    def _stamp(self, board: str, complaint: str, shop: Shop) -> _Stamp:
        model = self._library.compiled / board / complaint / "model.json"
        procedure = procedure_folder(self._library, board, complaint, shop) / "procedure.json"
        return tuple(_stat(path) for path in (*self._files(board), model, procedure))


def _stat(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size
