"""A bag: files in one zip with their checksums, as BagIt has them (RFC 8493), the same bytes every time.

Everything stands in one folder; ``data/`` in it holds the files, the rest says what they are. A bag of a
stranger is hostile until it was looked through.
"""

import stat
import unicodedata
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import IO, Final

from benchlore.notation import FileNotWritten, quoted, reason_of, shortened
from benchlore.units import counted

DECLARATION: Final = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
MANIFEST: Final = "manifest-sha256.txt"
TAG_MANIFEST: Final = "tagmanifest-sha256.txt"
TAGS: Final = ("bag-info.txt", "bagit.txt", MANIFEST)
MOST_FILES: Final = 200_000
MOST_BYTES: Final = 4 * 1024**3
MOST_LISTED: Final = 64 * 1024**2
"""The most bytes of a file that names others."""

_WHEN: Final = (1980, 1, 1, 0, 0, 0)
"""The first time that a zip can hold: what is packed is dated by what it says, not by when it was packed."""

_RESERVED: Final = frozenset('<>:"|?*\\')


@dataclass(frozen=True, slots=True)
class BagTrouble:
    """One thing that is wrong with a bag: ``rule`` is its kind, ``name`` the file that it is about."""

    rule: str
    name: str
    message: str

    def __str__(self) -> str:
        """Print as a line."""
        return f"{shortened(self.name)}: {self.message}" if self.name else self.message


@dataclass(frozen=True, slots=True)
class Checked:
    """What looking through a bag found: how much was read, and everything that is wrong."""

    path: Path
    base: str
    files: int
    size: int
    digests: Mapping[str, str]
    troubles: tuple[BagTrouble, ...]

    @property
    def is_sound(self) -> bool:
        """Whether nothing is wrong."""
        return not self.troubles


def write_bag(out: Path, base: str, files: Mapping[str, Path | bytes], info: Mapping[str, str]) -> str:
    """Write a bag, whole or not at all, and return the zip's SHA-256; equal files give equal bytes.

    Raises
    ------
    FileNotWritten
        If it cannot be written.
    """
    digests = {f"data/{name}": sha256(_content(files[name])).hexdigest() for name in sorted(files)}
    size = sum(len(_content(each)) for each in files.values())
    told = {**info, "Payload-Oxum": f"{size}.{len(files)}"}
    tags = {
        "bag-info.txt": "".join(f"{key}: {_one_line(value)}\n" for key, value in told.items()).encode(),
        "bagit.txt": DECLARATION,
        MANIFEST: _listing(digests),
    }
    tags[TAG_MANIFEST] = _listing({name: sha256(tags[name]).hexdigest() for name in TAGS})
    whole = {**tags, **{f"data/{name}": content for name, content in files.items()}}
    beside = out.with_name(f".{out.name[:100]}.new")
    try:
        with zipfile.ZipFile(beside, "w", zipfile.ZIP_DEFLATED) as packed:
            for name in sorted(whole):
                entry = zipfile.ZipInfo(f"{base}/{name}", _WHEN)
                entry.create_system = 3
                entry.external_attr = (stat.S_IFREG | 0o644) << 16
                packed.writestr(entry, _content(whole[name]), zipfile.ZIP_DEFLATED, 9)
        digest = _digest_of(beside)
        beside.replace(out)
    except OSError as error:
        raise FileNotWritten(out, reason_of(error)) from error
    finally:
        beside.unlink(missing_ok=True)
    return digest


def check_bag(path: Path, *, most: int = MOST_BYTES) -> Checked:
    """Look a bag through, file by file, without unpacking it: whatever the zip is, the answer is troubles."""
    try:
        with zipfile.ZipFile(path) as packed:
            return _checked(path, packed, most)
    except FileNotFoundError:
        return _hopeless(path, "there is no such file")
    except OSError as error:
        return _hopeless(path, f"it cannot be read: {reason_of(error)}")
    except zipfile.BadZipFile:
        return _hopeless(path, "it is no zip that can be read, or only a part of one; get it anew")
    except (ValueError, NotImplementedError, RuntimeError, EOFError) as error:
        return _hopeless(path, f"it is no zip that can be read ({shortened(str(error))})")


@contextmanager
def opened_bag(checked: Checked) -> Iterator["OpenBag"]:
    """Open a bag that was found sound, to take files out of it."""
    with zipfile.ZipFile(checked.path) as packed:
        yield OpenBag(checked, packed)


class BagChangedError(Exception):
    """A bag is not what it was when it was looked through."""

    def __init__(self, name: str) -> None:
        super().__init__(f"{shortened(name)}: has changed while it was read; look the bundle through again")


class OpenBag:
    """The files of a sound bag."""

    def __init__(self, checked: Checked, packed: zipfile.ZipFile) -> None:
        self.checked, self.packed = checked, packed

    def names(self) -> tuple[str, ...]:
        """Names of the files, below ``data/``, sorted."""
        return tuple(sorted(name.removeprefix("data/") for name in self.checked.digests))

    def read(self, name: str) -> bytes:
        """Return a file's content, which is compared with its checksum once more."""
        content = self.packed.read(f"{self.checked.base}/data/{name}")
        if sha256(content).hexdigest() != self.checked.digests[f"data/{name}"]:
            raise BagChangedError(name)
        return content


def unsafe_reason(name: str) -> str:
    """Say why a name in a zip could write elsewhere than into the folder that it is unpacked to; or ``""``.

    >>> unsafe_reason("a/../../b")
    "the name leads out of the folder ('..')"
    """
    parts = name.split("/")
    if name.startswith("/") or name[1:2] == ":":
        return "the name is an absolute path"
    if ".." in parts:
        return "the name leads out of the folder ('..')"
    if _RESERVED & set(name) or not name.isprintable():
        return "the name holds signs that some systems read as something else"
    if any(not part or part == "." or part != part.strip() or part.endswith(".") for part in parts):
        return "the name has an empty part, or one that some systems change"
    return ""


def _checked(path: Path, packed: zipfile.ZipFile, most: int) -> Checked:
    entries = packed.infolist()
    troubles = list(_troubles_of_names(entries, most))
    if troubles:
        return Checked(path, "", len(entries), 0, {}, tuple(troubles))
    base = entries[0].filename.split("/")[0] if entries else ""
    by_name = {entry.filename.removeprefix(f"{base}/"): entry for entry in entries}
    listed, tagged = _listings(packed, by_name, troubles)
    size = 0
    for name, entry in sorted(by_name.items()):
        expected = listed.get(name) if name.startswith("data/") else tagged.get(name)
        if expected is None:
            if name != TAG_MANIFEST:
                troubles.append(BagTrouble("extra", name, "is in the zip and in no list of checksums"))
            continue
        try:
            with packed.open(entry) as stream:
                digest, read = _read_through(stream)
        except (zipfile.BadZipFile, EOFError, OSError, ValueError) as error:
            troubles.append(BagTrouble("damaged", name, f"cannot be read ({shortened(str(error))})"))
            continue
        size += read
        if digest != expected:
            troubles.append(BagTrouble("changed", name, "is not what its checksum says"))
    lacking = sorted((listed.keys() | tagged.keys()) - by_name.keys())
    troubles.extend(BagTrouble("missing", name, "is listed and not in the zip") for name in lacking)
    return Checked(path, base, len(by_name), size, dict(sorted(listed.items())), tuple(troubles))


def _troubles_of_names(entries: list[zipfile.ZipInfo], most: int) -> Iterator[BagTrouble]:
    if not entries:
        yield BagTrouble("empty", "", "the zip is empty")
    if len(entries) > MOST_FILES:
        yield BagTrouble("too-many", "", f"it holds more than {counted(MOST_FILES, 'file')}")
        return
    size = sum(entry.file_size for entry in entries)
    if size > most:
        yield BagTrouble(
            "too-large",
            "",
            f"unpacked it would take {size:,} bytes, more than {most:,}; nothing was unpacked",
        )
        return
    seen: dict[str, str] = {}
    for entry in entries:
        name = entry.orig_filename
        if reason := unsafe_reason(name) or _unsafe_kind(entry):
            yield BagTrouble("unsafe", name, reason)
        folded = unicodedata.normalize("NFC", name).casefold()
        if folded in seen:
            yield BagTrouble(
                "twice", name, f"is there twice, or differs from {quoted(seen[folded])} by case only"
            )
        seen[folded] = name
        if entry.filename.split("/")[0] != entries[0].filename.split("/")[0]:
            yield BagTrouble("outside", name, "stands outside the bundle's one folder")


def _unsafe_kind(entry: zipfile.ZipInfo) -> str:
    kind = stat.S_IFMT(entry.external_attr >> 16)
    if kind == stat.S_IFLNK:
        return "is a link; a bundle holds plain files only"
    if kind not in {0, stat.S_IFREG} or entry.is_dir():
        return "is no plain file"
    if entry.flag_bits & 0x1:
        return "is encrypted"
    if entry.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}:
        return "is packed in a way that bundles do not use"
    return ""


def _listings(
    packed: zipfile.ZipFile, by_name: Mapping[str, zipfile.ZipInfo], troubles: list[BagTrouble]
) -> tuple[dict[str, str], dict[str, str]]:
    found: list[dict[str, str]] = []
    for listing in (MANIFEST, TAG_MANIFEST):
        entry = by_name.get(listing)
        if entry is None or entry.file_size > MOST_LISTED:
            troubles.append(BagTrouble("no-list", listing, "the list of checksums is missing, or too large"))
            found.append({})
            continue
        found.append(_parsed(packed.read(entry), listing, troubles))
    declaration = by_name.get("bagit.txt")
    if declaration is None or declaration.file_size > 1000 or packed.read(declaration) != DECLARATION:
        troubles.append(
            BagTrouble("no-bag", "bagit.txt", "does not say that this is a bag (BagIt 1.0, RFC 8493)")
        )
    troubles.extend(
        BagTrouble("bad-list", name, "is listed among the files and stands elsewhere")
        for name in found[0]
        if not name.startswith("data/")
    )
    return found[0], found[1]


def _parsed(content: bytes, listing: str, troubles: list[BagTrouble]) -> dict[str, str]:
    found: dict[str, str] = {}
    for number, line in enumerate(content.decode("utf-8", "replace").splitlines(), 1):
        digest, _, name = line.partition("  ")
        if len(digest) != 64 or set(digest) - set("0123456789abcdef") or not name or name in found:
            troubles.append(BagTrouble("bad-list", listing, f"line {number} is no checksum with a name"))
            continue
        found[name] = digest
    return found


def _read_through(stream: IO[bytes]) -> tuple[str, int]:
    digest, size = sha256(), 0
    while block := stream.read(1024 * 1024):
        digest.update(block)
        size += len(block)
    return digest.hexdigest(), size


def _listing(digests: Mapping[str, str]) -> bytes:
    return "".join(f"{digest}  {name}\n" for name, digest in sorted(digests.items())).encode()


def _content(content: Path | bytes) -> bytes:
    return content if isinstance(content, bytes) else content.read_bytes()


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _digest_of(path: Path) -> str:
    with path.open("rb") as stream:
        return _read_through(stream)[0]


def _hopeless(path: Path, reason: str) -> Checked:
    return Checked(path, "", 0, 0, {}, (BagTrouble("unreadable", path.name, reason),))
