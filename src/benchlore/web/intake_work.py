"""Previews and takings in at work: each in a thread of its own, with how far it is."""

import logging
import shutil
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, Literal, TypeAlias

from benchlore.jobs import JobUnstorable, StoreTrouble
from benchlore.library import (
    Library,
    LibraryError,
    MappingRefusedError,
    ShownPreview,
    TakenIn,
    preview_table,
    shown_of,
    take_in,
)
from benchlore.notation import FileTrouble, read_text
from benchlore.web.uploads import Upload
from benchlore.web.work import Progress

FORESEEN: Final = (LibraryError, FileTrouble, StoreTrouble, JobUnstorable)
MOST_KEPT: Final = 16
"""Finished works whose results are kept; others are looked at again when somebody asks."""

MOST_REJECTS: Final = 256 * 1024**2

log = logging.getLogger("benchlore.web")


@dataclass(slots=True)
class Work(Progress):
    """One piece of work on an upload, as it stands.

    ``digest`` is that of the upload when it began; ``problems`` are the mapping's.
    """

    kind: Literal["preview", "take"]
    digest: str
    stage: str = field(default="Reading the sheet", kw_only=True)
    shown: ShownPreview | None = None
    problems: tuple[str, ...] = ()


Act: TypeAlias = Callable[[Upload, Work], None]


class Works:
    """What is being done on which upload: one thing at a time on each."""

    def __init__(self, library: Library) -> None:
        self._library = library
        self._works: OrderedDict[str, Work] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, upload: Upload) -> Work | None:
        """Return the work on an upload, if there is any that still holds."""
        work = self._works.get(upload.token)
        return work if work and (work.is_running or work.digest == upload.digest) else None

    def look(self, upload: Upload) -> Work:
        """Preview an upload, unless that was done or anything else goes on with it."""
        return self._begin(upload, "preview")

    def take(self, upload: Upload) -> Work:
        """Take an upload in, unless something else goes on with it."""
        return self._begin(upload, "take")

    def forget(self, upload: Upload) -> None:
        """Forget what was found of an upload."""
        with self._lock:
            self._works.pop(upload.token, None)

    def _begin(self, upload: Upload, kind: Literal["preview", "take"]) -> Work:
        with self._lock:
            found = self.of(upload)
            if found and (found.is_running or (kind == "preview" and not found.failure)):
                return found
            work = self._works[upload.token] = Work(kind, upload.digest)
            self._works.move_to_end(upload.token)
            finished = [token for token, each in self._works.items() if not each.is_running]
            for token in finished[: len(self._works) - MOST_KEPT]:
                del self._works[token]
        act = self._look if kind == "preview" else self._take
        threading.Thread(target=self._run, args=(act, upload, work), daemon=True).start()
        return work

    def _run(self, act: Act, upload: Upload, work: Work) -> None:
        try:
            act(upload, work)
        except MappingRefusedError as error:
            work.problems = tuple(upload.plain(str(problem)) for problem in error.problems)
        except FORESEEN as error:
            work.failure = upload.plain(str(error))
        except Exception:
            log.exception("failed on an uploaded sheet")
            work.failure = "Something went wrong inside benchlore. The terminal says more."
        finally:
            work.end()

    def _look(self, upload: Upload, work: Work) -> None:
        taken = preview_table(
            self._library, upload.table, upload.mapping, now=datetime.now(UTC), report=work.report
        )
        work.shown = shown_of(taken.preview)
        work.problems = tuple(upload.plain(problem) for problem in work.shown.problems)

    def _take(self, upload: Upload, work: Work) -> None:
        taken = take_in(
            self._library, upload.table, upload.mapping, now=datetime.now(UTC), report=work.report
        )
        self._settle(upload, taken)
        if upload.is_over:
            work.shown = shown_of(taken.preview)
        else:
            self._look(upload, work)
        work.digest = upload.digest

    def _settle(self, upload: Upload, taken: TakenIn) -> None:
        """Keep only what was refused: the sheet then is the file of its refused rows."""
        assert taken.added is not None
        before = Path(upload.rejects) if upload.rejects else None
        old_table, old_text = upload.table, _text_of(before)
        was_untouched = before is not None and old_text == upload_text(upload)
        added = taken.added
        upload.taken.append(
            {
                "new": added.new,
                "merged": added.merged,
                "same": added.same,
                "conflicting": added.conflicting,
                "refused": sum(1 for row in taken.preview.rows if row.verdict == "refused"),
            }
        )
        upload.rejects = str(taken.rejects or "")
        upload.is_over = taken.rejects is None
        old_table.unlink(missing_ok=True)
        if taken.rejects is not None:
            shutil.copyfile(taken.rejects, upload.table)
            shutil.copyfile(taken.rejects, upload.folder / "as-refused.csv")
        upload.save()
        if before is not None and was_untouched and before != taken.rejects:
            before.unlink(missing_ok=True)  # each of its rows is in the store now, or in the newer file


def upload_text(upload: Upload) -> str | None:
    """The file of refused rows as the last taking in wrote it."""
    return _text_of(upload.folder / "as-refused.csv")


def _text_of(path: Path | None) -> str | None:
    if path is None:
        return None
    try:
        return read_text(path, most=MOST_REJECTS)
    except FileTrouble:
        return None
