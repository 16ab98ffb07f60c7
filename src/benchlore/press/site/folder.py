"""The folder that a site stands in: new files are written beside the old, then swapped in at the end.

``OUT/.press`` holds the manifest, and, while a press is at work, the new files. Once all of them are on disk
a journal is written that names every file to put in place and every file to take away; then each is renamed
over its old one, which the system does whole or not at all (POSIX ``rename``; on Windows ``MoveFileEx`` with
replacement), pages after what they show; then the manifest follows, and the journal goes. Until the journal
stands, an interrupted or failed press leaves the old site as it was. After that, the swap can only go
forwards: the next press into the folder finishes it first. Files that the manifest does not name
are not ours: they are never written over and never taken away.
"""

import json
import os
import secrets
import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import file_digest, sha256
from pathlib import Path
from typing import Final

from benchlore.library.compiled import MOST_COMPILED
from benchlore.notation import FileMissing, FileNotWritten, read_text, reason_of, write_atomic
from benchlore.press.site.errors import BusyFolderError, ForeignFolderError, HalfSwappedError, InTheWayError
from benchlore.press.site.locking import locked
from benchlore.press.site.manifest import Manifest, is_inside, manifest_text, read_manifest

OWN: Final = ".press"
MANIFEST: Final = "manifest.json"
JOURNAL: Final = "journal.json"
LOCK: Final = "lock"
STAGE: Final = "new-"


@dataclass(frozen=True, slots=True)
class SiteFolder:
    """A folder that only this press writes to, what stands in it, and where new files are gathered."""

    out: Path
    manifest: Manifest
    stage: Path

    def is_whole(self, files: Mapping[str, str]) -> bool:
        """Whether files stand as they were written."""
        return all(digest_of_file(self.out / path) == digest for path, digest in files.items())


@contextmanager
def site_folder(out: Path) -> Iterator[SiteFolder]:
    """Open a site's folder for one press, after finishing a swap that was cut short.

    Raises
    ------
    SiteTrouble
        One of its kinds.
    FileNotWritten
        If the folder cannot be written to.
    """
    own = out / OWN
    _refuse_foreign(out)
    with _written(out):
        own.mkdir(parents=True, exist_ok=True)
    with locked(own / LOCK) as alone:
        if not alone:
            raise BusyFolderError(out)
        _finish(out)
        for left in own.glob(f"{STAGE}*"):
            shutil.rmtree(left, ignore_errors=True)
        stage = own / f"{STAGE}{secrets.token_hex(8)}"
        with _written(out):
            stage.mkdir()
        try:
            yield SiteFolder(out, read_manifest(own / MANIFEST) or Manifest(), stage)
        finally:
            if not (own / JOURNAL).exists():
                shutil.rmtree(stage, ignore_errors=True)


def gather(stage: Path, path: str, content: bytes) -> str:
    """Write a new file beside the old site; return its SHA-256."""
    target = stage / path
    with _written(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
        if not hasattr(os, "sync"):  # elsewhere the whole stage is pushed to disk at once, before the swap
            _push(target)
    return sha256(content).hexdigest()


def swap(folder: SiteFolder, manifest: Manifest, moved: Callable[[int, int], None]) -> tuple[int, int]:
    """Put the gathered files in place, take away what the site no longer has; return how many of each.

    Raises
    ------
    InTheWayError
        If a file that is not ours stands in the way; the old site is as it was.
    FileNotWritten
        If a file cannot be replaced (on Windows, while a program holds it open): the next press goes on
        there.
    """
    gathered = {
        path: digest
        for path, digest in manifest.files.items()
        if (folder.stage / path).is_file() and digest_of_file(folder.out / path) != digest
    }
    removed = [path for path in folder.manifest.files if path not in manifest.files]
    for path in gathered:
        _refuse_in_the_way(folder, path)
    text = gather(folder.stage, f"{OWN}/{MANIFEST}", manifest_text(manifest))
    if hasattr(os, "sync"):
        os.sync()
    journal = {"stage": folder.stage.name, "put": gathered, "remove": removed, "manifest": text}
    write_atomic(folder.out / OWN / JOURNAL, json.dumps(journal) + "\n")
    _finish(folder.out, moved)
    return len(gathered), len(removed)


def digest_of_file(path: Path) -> str:
    """Return a file's SHA-256, ``""`` where there is none."""
    try:
        with path.open("rb") as stream:
            return file_digest(stream, "sha256").hexdigest()
    except OSError:
        return ""


def _refuse_foreign(out: Path) -> None:
    own = out / OWN
    if (own / MANIFEST).exists() or (own / JOURNAL).exists() or not os.path.lexists(out):
        return
    with _written(out):
        found = sorted(path.name for path in out.iterdir()) if out.is_dir() else [out.name]
    foreign = [name for name in found if name != OWN]
    if foreign:
        raise ForeignFolderError(out, foreign[0])


def _refuse_in_the_way(folder: SiteFolder, path: str) -> None:
    """Refuse to write over what is not ours, or through a link that leads out of the folder."""
    target = folder.out / path
    if os.path.lexists(target) and (path not in folder.manifest.files or target.is_dir()):
        raise InTheWayError(target)
    for parent in list(target.relative_to(folder.out).parents)[:-1]:
        above = folder.out / parent
        if above.is_symlink() or (above.exists() and not above.is_dir()):
            raise InTheWayError(above)


def _finish(out: Path, moved: Callable[[int, int], None] = lambda _done, _total: None) -> None:
    """Do what the journal says, as far as it is not done yet; nothing where there is no journal."""
    own = out / OWN
    try:
        journal = json.loads(read_text(own / JOURNAL, most=MOST_COMPILED))
    except FileMissing:
        return
    if not all(map(is_inside, [journal["stage"], *journal["put"], *journal["remove"]])):
        raise HalfSwappedError(own / JOURNAL)
    stage = own / journal["stage"]
    put = sorted(journal["put"].items(), key=lambda item: _turn(item[0]))
    for done, (path, digest) in enumerate(put, start=1):
        _put(stage / path, out / path, digest)
        moved(done, len(put))
    for path in journal["remove"]:
        _remove(out, path)
    _put(stage / OWN / MANIFEST, own / MANIFEST, journal["manifest"])
    with _written(own):
        (own / JOURNAL).unlink()
    shutil.rmtree(stage, ignore_errors=True)


def _turn(path: str) -> tuple[int, str]:
    """Put pages after what they show, and what leads to pages last."""
    return (3 if "/" not in path else 1 if path.endswith(".html") else 0), path


def _put(new: Path, target: Path, digest: str) -> None:
    if not new.is_file():
        if digest_of_file(target) != digest:
            raise HalfSwappedError(target)
        return
    with _written(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        new.replace(target)


def _remove(out: Path, path: str) -> None:
    """Take a file away, and the folders that it leaves empty."""
    with _written(out / path):
        (out / path).unlink(missing_ok=True)
    for parent in list((out / path).relative_to(out).parents)[:-1]:
        try:
            (out / parent).rmdir()
        except OSError:  # something else stands in it
            return


def _push(path: Path) -> None:
    with path.open("rb") as stream:
        os.fsync(stream.fileno())


@contextmanager
def _written(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise FileNotWritten(path, reason_of(error)) from error
