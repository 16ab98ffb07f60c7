"""Sheets that were uploaded and are not taken in yet: a folder each, named by a random token.

A sheet is hostile until it is parsed: its name is shown and kept, and never a path. It goes as soon as it
was taken in, or after a day.
"""

import json
import re
import secrets
import shutil
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import IO, Any, Final

from benchlore.library import LibraryError
from benchlore.library.folder import make_folder
from benchlore.notation import FileNotWritten, FileTrouble, read_text, reason_of, write_atomic

KEPT: Final = timedelta(days=1)
_TOKEN: Final = re.compile(r"[A-Za-z0-9_-]{22}")
_LONGEST_NAME: Final = 100
_STATE: Final = "upload.json"
_REFUSED: Final = "-refused"


class UploadGoneError(LibraryError):
    """There is no such upload, or it is there no more."""

    def __init__(self) -> None:
        super().__init__(
            "This sheet is not here any more: it was put away, or a day has passed. Upload it again; what "
            "was taken in is in the store, and taking a sheet in twice adds nothing."
        )


@dataclass(slots=True)
class Upload:
    """An uploaded sheet: its ``folder``, the ``name`` that it came with, its board and its mapping's name.

    ``taken`` tells what each taking in gave; ``rejects`` is the library's file of the rows that were refused
    last, which the sheet then consists of; ``is_over`` says that nothing of it is left.
    """

    folder: Path
    name: str
    board: str
    mapping_name: str
    made: datetime
    taken: list[dict[str, int]] = field(default_factory=list)
    rejects: str = ""
    is_over: bool = False

    @property
    def token(self) -> str:
        """What stands for it in addresses."""
        return self.folder.name

    @property
    def table(self) -> Path:
        """The sheet's file."""
        return self.folder / "table" / (self.refused_name if self.rejects else self.name)

    @property
    def refused_name(self) -> str:
        """What a file of its refused rows is called."""
        return f"{Path(self.name).stem.removesuffix(_REFUSED)}{_REFUSED}.csv"

    @property
    def mapping(self) -> Path:
        """The mapping's file."""
        return self.folder / "mapping" / self.mapping_name

    @property
    def text(self) -> str:
        """The mapping's text."""
        return read_text(self.mapping)

    @property
    def digest(self) -> str:
        """A fingerprint of the mapping's text and of what the sheet consists of now."""
        return sha256(f"{len(self.taken)}{self.text}".encode()).hexdigest()[:16]

    def put_mapping(self, text: str) -> None:
        """Keep another text of the mapping."""
        write_atomic(self.mapping, text)

    def save(self) -> None:
        """Keep what is known of the sheet."""
        known = {**asdict(self), "made": self.made.isoformat()}
        del known["folder"]
        write_atomic(self.folder / _STATE, json.dumps(known, ensure_ascii=False))

    def plain(self, message: str) -> str:
        """Say a message without the folder that nobody needs to know."""
        for folder in (self.table.parent, self.mapping.parent):
            message = message.replace(f"{folder}/", "")
        return message


class Uploads:
    """The folder of all uploads."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def add(self, stream: IO[bytes], name: str, board: str, mapping_name: str, now: datetime) -> Upload:
        """Keep an uploaded sheet; the mapping is put beside it later. Old ones go."""
        self.sweep(now)
        folder = self.folder / secrets.token_urlsafe(16)
        plain = plain_name(name, "sheet")
        upload = Upload(
            folder, plain, board, plain_name(mapping_name, f"{Path(plain).stem}.mapping.yaml"), now
        )
        for inside in (upload.table.parent, upload.mapping.parent):
            make_folder(inside)
        folder.chmod(0o700)
        try:
            with upload.table.open("xb") as target:
                shutil.copyfileobj(stream, target)
            upload.save()
        except OSError as error:
            self.remove(upload)
            raise FileNotWritten(folder, reason_of(error)) from error
        return upload

    def get(self, token: str) -> Upload:
        """Return an upload; raises ``UploadGoneError``."""
        folder = self.folder / token
        if not _TOKEN.fullmatch(token) or not (folder / _STATE).is_file():
            raise UploadGoneError
        return _read(folder)

    def all(self) -> Iterator[Upload]:
        """Give the uploads of which something is left, newest first."""
        found: list[Upload] = []
        for path in self.folder.glob(f"*/{_STATE}"):
            with suppress(UploadGoneError):
                found.append(_read(path.parent))
        left = [each for each in found if not each.is_over]
        yield from sorted(left, key=lambda each: each.made, reverse=True)

    def remove(self, upload: Upload) -> None:
        """Put an upload away."""
        shutil.rmtree(upload.folder, ignore_errors=True)

    def sweep(self, now: datetime) -> None:
        """Put away what is older than a day."""
        for path in self.folder.glob("*/"):
            with suppress(OSError):
                if now.timestamp() - path.stat().st_mtime > KEPT.total_seconds():
                    shutil.rmtree(path, ignore_errors=True)


def plain_name(name: str, otherwise: str) -> str:
    """Return the last part of a file's name without what file systems dislike, or ``otherwise``."""
    last = re.split(r"[/\\]", name)[-1]
    kept = "".join(letter for letter in last if letter.isprintable() and letter not in '<>:"|?*').strip(" .")
    stem, dot, ending = kept.rpartition(".")
    short = f"{stem[:_LONGEST_NAME]}{dot}{ending[:10]}" if dot else kept[:_LONGEST_NAME]
    return short or otherwise


def _read(folder: Path) -> Upload:
    """Read what is known of an upload; another version of benchlore may have left something else there."""
    try:
        known: dict[str, Any] = json.loads(read_text(folder / _STATE))
        return Upload(folder, **{**known, "made": datetime.fromisoformat(known["made"])})
    except (FileTrouble, ValueError, KeyError, TypeError):
        raise UploadGoneError from None
