"""Text files that are read with care and written whole or not at all.

FileTrouble
    FileMissing     there is no such file
    FileUnreadable  it is there and cannot be read
    FileNotText     it is not UTF-8 text
    FileTooLarge    it is larger than the reader accepts
    FileNotWritten  it could not be written; the old file still stands
"""

import contextlib
import os
import secrets
import stat
from pathlib import Path
from typing import Any, Final

LARGEST: Final = 2 * 1024 * 1024
"""The most bytes that a book or shop file may have."""


class FileTrouble(Exception):  # noqa: N818  its kinds read as sentences: file missing, file not text
    """A file could not be read or written; ``said`` is the message without its place."""

    line: int | None = None
    """The line of the file that is meant, if it is one."""

    def __init__(self, path: Path, said: str, line: int | None = None, *, within: str = "") -> None:
        place = f"{path}{within}" if line is None else f"{path}:{line}"
        super().__init__(f"{place}: {said}")
        self.path, self.said, self.line = path, said, line

    def __reduce__(self) -> tuple[Any, ...]:
        """Let it come back from another process, whatever its kind is made from."""
        return _again, (type(self), str(self), self.__dict__)


def _again(kind: type[FileTrouble], message: str, said: dict[str, Any]) -> FileTrouble:
    trouble = kind.__new__(kind)
    Exception.__init__(trouble, message)
    trouble.__dict__.update(said)
    return trouble


class FileMissing(FileTrouble):
    """There is no such file."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, "there is no such file; check the name and the folder")


class FileUnreadable(FileTrouble):
    """The file is there and cannot be read."""

    def __init__(self, path: Path, reason: str) -> None:
        super().__init__(path, f"cannot be read: {reason}")
        self.reason = reason


class FileNotText(FileTrouble):
    """The file is not UTF-8 text."""

    def __init__(self, path: Path, line: int) -> None:
        super().__init__(path, "is not UTF-8 text; save it as UTF-8 in your editor", line)


class FileTooLarge(FileTrouble):
    """The file is larger than the reader accepts."""

    def __init__(self, path: Path, most: int) -> None:
        super().__init__(path, f"is larger than {most:,} bytes; split it or take the pictures out")
        self.most = most


class FileNotWritten(FileTrouble):
    """The file could not be written; what was there before, if anything, still stands."""

    def __init__(self, path: Path, reason: str) -> None:
        before = "; what was there before is unchanged" if os.path.lexists(path) else ""
        super().__init__(path, f"was not written: {reason}{before}")
        self.reason = reason


def read_text(path: Path | str, *, most: int = LARGEST) -> str:
    """Read UTF-8 text of at most ``most`` bytes; a byte order mark is dropped, line ends become line feeds.

    Raises
    ------
    FileTrouble
        One of its kinds above, but ``FileNotWritten``.
    """
    path = Path(path)
    data = _read_bytes(path, most)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileNotText(path, data.count(b"\n", 0, error.start) + 1) from None
    return text.replace("\r\n", "\n").replace("\r", "\n")


def write_atomic(path: Path | str, content: str | bytes, *, mode: int | None = None) -> None:
    """Write ``content`` so that a reader, or a power cut, finds the old file or the new one, never half.

    Text is written as UTF-8 with its line ends as they are. A symbolic link is followed. The file has the
    permissions ``mode`` from its first byte on; where none are given, those of the old file.

    Raises
    ------
    FileNotWritten
        With the system's reason (disk full, read-only, no such folder).
    """
    path = Path(path)
    try:
        data = content.encode() if isinstance(content, str) else content
        _replace(path.resolve(), data, mode)
    except UnicodeEncodeError:
        raise FileNotWritten(path, "the text holds half a character (a lone surrogate)") from None
    except FileNotFoundError as error:
        raise FileNotWritten(path, "there is no such folder") from error
    except (OSError, ValueError, RuntimeError) as error:
        raise FileNotWritten(path, reason_of(error)) from error


def _read_bytes(path: Path, most: int) -> bytes:
    """Read at most ``most`` bytes, so that a device file or a huge upload cannot fill the memory."""
    try:
        with path.open("rb") as stream:
            data = stream.read(most + 1)
    except FileNotFoundError:
        raise FileMissing(path) from None
    except (OSError, ValueError) as error:
        raise FileUnreadable(path, reason_of(error)) from error
    if len(data) > most:
        raise FileTooLarge(path, most)
    return data


def _replace(path: Path, data: bytes, mode: int | None) -> None:
    """Write beside ``path``, push to disk, then rename: rename within a folder is atomic on POSIX."""
    beside = path.with_name(f".{path.name[:100]}.{secrets.token_hex(8)}.new")
    handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666 if mode is None else mode)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        if mode is None:
            _copy_mode(path, beside)
        beside.replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise
    _sync_folder(path.parent)


def _copy_mode(old: Path, new: Path) -> None:
    with contextlib.suppress(FileNotFoundError):
        new.chmod(stat.S_IMODE(old.stat().st_mode))


def _sync_folder(folder: Path) -> None:
    """Make the rename itself survive a power cut, where the system lets a folder be synced."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def reason_of(error: Exception) -> str:
    """Say why the system refused a file, in the same words wherever it happens.

    >>> reason_of(PermissionError(13, "Permission denied"))
    'permission denied'
    """
    if isinstance(error, FileNotFoundError):
        return "there is no such file or folder"
    return (getattr(error, "strerror", None) or str(error) or type(error).__name__).lower()
