"""What can go wrong between a library folder and the engine; each class is a case of its own.

```
LibraryError
├── NoLibraryError        no library folder here or above
├── LibraryFileError      library.yaml cannot be understood
├── NotEmptyError         a folder that is to become a library already holds something
├── BoardNameError        a first book's board that cannot be called so
├── NoBookError           the library has no book of that name
├── BookRefusedError      the book has errors, so nothing can be built from it
├── ShopRefusedError      the shop file has errors
├── NoComplaintError      the book has no such complaint
├── NoProcedureError      nothing was planned yet for that board, complaint and shop
├── NoPictureError        a book's folder has no such picture
├── NoSkillError          the library has no such skills page
├── BundleRefusedError    a bundle is not sound, or holds no library
├── NoProofError          nothing was proven yet for that board, complaint and shop
├── OtherBookError        another version of a book cannot be compared with
├── MappingRefusedError   a mapping file has errors, or does not fit its table and the books
├── CandidatesRefusedError a table of candidates has mistakes
├── PricesRefusedError    a table of prices has mistakes
├── NoDemandError         no dated job says how often a complaint comes
├── NoCurveError          too few boards, here and on like boards, to say how knowledge grows
├── RejectsInTheWayError  the file for refused rows holds something else
├── NothingStoredError    no job was taken in yet
├── NoJobError            there is no such finished job
├── AccountsUnreadableError  the file of the accounts is not what was written
├── AccountRefusedError   a name or a password that no account can have
├── NoAccountError        nobody of that name has an account
├── EntryRefusedError     an entry that a job on the bench, as it stands, cannot take
├── RecordRefusedError    a file is no restart record
├── NoRateError           a complaint always shows, and nobody says how often it comes
└── ReadingError          a reading, fix or setup typed at the bench means nothing to the book
```
"""

from pathlib import Path

from benchlore.notation import Problem, did_you_mean, quoted
from benchlore.notation.names import LONGEST_NAME
from benchlore.soak import RecordError


class LibraryError(Exception):
    """The base of all errors of this package."""


class NoLibraryError(LibraryError):
    """Neither the folder nor one above it is a library."""

    def __init__(self, start: Path) -> None:
        self.start = start
        super().__init__(
            f"{start}: no library here or in a folder above (a library has a file 'library.yaml'); "
            f"make one with 'benchlore init FOLDER', or name it with '--library FOLDER'"
        )


class LibraryFileError(LibraryError):
    """The library's own file cannot be understood."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        super().__init__("\n".join(str(problem) for problem in problems))


class NotEmptyError(LibraryError):
    """A new library would mix with what is there."""

    def __init__(self, folder: Path, found: str) -> None:
        self.folder = folder
        super().__init__(f"{folder}: '{found}' is in the way; name a folder that is new or empty")


class BoardNameError(LibraryError):
    """The board of a new library's first book cannot be called so."""

    def __init__(self, board: str) -> None:
        self.board = board
        super().__init__(
            f"--board {quoted(board)}: no board can be called so; write lower-case letters (a to z), digits "
            f"and single hyphens between them, {LONGEST_NAME} signs at most, such as my-board"
        )


class NoBookError(LibraryError):
    """The library has no book of that name."""

    def __init__(self, board: str, known: tuple[str, ...]) -> None:
        self.board = board
        self.known = known
        super().__init__(f"no book '{board}' in this library{did_you_mean(board, known)}")


class BookRefusedError(LibraryError):
    """The book has errors."""

    def __init__(self, board: str, problems: tuple[Problem, ...]) -> None:
        self.board = board
        self.problems = problems
        super().__init__(
            f"the book '{board}' has errors; mend them first ('benchlore review {board}'):\n"
            + "\n".join(f"  {problem}" for problem in problems)
        )


class ShopRefusedError(LibraryError):
    """The shop file has errors."""

    def __init__(self, path: Path, problems: tuple[Problem, ...]) -> None:
        self.path = path
        self.problems = problems
        super().__init__(
            "the shop file has errors; mend them first:\n" + "\n".join(f"  {problem}" for problem in problems)
        )


class NoComplaintError(LibraryError):
    """The book has no such complaint."""

    def __init__(self, board: str, complaint: str, known: tuple[str, ...]) -> None:
        self.board = board
        self.complaint = complaint
        self.known = known
        super().__init__(
            f"the book '{board}' has no complaint '{complaint}'{did_you_mean(complaint, known)}"
            if known
            else f"the book '{board}' has no complaints yet; write one under 'complaints:'"
        )


class NoProcedureError(LibraryError):
    """Nothing was planned yet."""

    def __init__(self, board: str, complaint: str, shop: str) -> None:
        self.board = board
        self.complaint = complaint
        super().__init__(
            f"no procedure for '{board}', complaint '{complaint}', at {shop} yet; "
            f"make it with 'benchlore plan {board} {complaint}'"
        )


class NoProofError(LibraryError):
    """Nothing was proven yet for that board, complaint and shop, or what is kept cannot be read."""

    def __init__(self, board: str, complaint: str, shop: str, *, is_kept: bool = False) -> None:
        self.board, self.complaint, self.shop = board, complaint, shop
        found = "what is kept cannot be read" if is_kept else "nothing is proven yet"
        super().__init__(
            f"{found} for {board} {complaint} at {shop}; run 'benchlore prove {board} {complaint}'"
        )


class OtherBookError(LibraryError):
    """The version of a book that is to be compared with cannot be."""

    def __init__(self, file: str, reason: str) -> None:
        self.file = file
        super().__init__(f"{file}: {reason}")


class NoPictureError(LibraryError):
    """A book's folder has no such picture."""

    def __init__(self, board: str, name: str) -> None:
        self.board, self.name = board, name
        super().__init__(f"the book '{board}' has no picture {quoted(name)} that a page can show")


class NoSkillError(LibraryError):
    """The library has no such skills page."""

    def __init__(self, name: str, known: tuple[str, ...]) -> None:
        self.name = name
        super().__init__(f"no skills page '{name}' in this library{did_you_mean(name, known)}")


class BundleRefusedError(LibraryError):
    """A bundle is not sound, or holds no library."""

    def __init__(self, path: Path, reasons: tuple[str, ...]) -> None:
        self.path, self.reasons = path, reasons
        super().__init__(
            f"{path}: this bundle is not sound; nothing was written:\n"
            + "\n".join(f"  {reason}" for reason in reasons)
        )


class MappingRefusedError(LibraryError):
    """A mapping file has errors, or does not fit its table and the books."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        super().__init__(
            "the mapping has errors; nothing was taken in:\n"
            + "\n".join(f"  {problem}" for problem in problems)
        )


class CandidatesRefusedError(LibraryError):
    """A table of candidates for the fund plan has mistakes."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        super().__init__(
            "the table of candidates has mistakes; nothing was planned:\n"
            + "\n".join(f"  {problem}" for problem in problems)
        )


class PricesRefusedError(LibraryError):
    """A table of prices of equipment has mistakes."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        super().__init__(
            "the table of prices has mistakes; nothing was planned:\n"
            + "\n".join(f"  {problem}" for problem in problems)
        )


class NoDemandError(LibraryError):
    """No dated job says how often a complaint comes."""

    def __init__(self, what: str, instead: str) -> None:
        self.what = what
        super().__init__(f"no dated job of {what} is recorded; {instead}")


class NoCurveError(LibraryError):
    """Neither a board's own jobs nor those of like boards say how knowledge grows."""

    def __init__(self, board: str, complaint: str, why: str) -> None:
        self.board, self.complaint = board, complaint
        super().__init__(f"{board}, {complaint}: {why}")


class RejectsInTheWayError(LibraryError):
    """The file that is to take the refused rows holds something else."""

    def __init__(self, path: Path) -> None:
        self.path = path
        super().__init__(
            f"{path}: is there already and holds something else, perhaps rows that you mended; nothing was "
            f"taken in; name a new file with --rejects, or leave it out"
        )


class NothingStoredError(LibraryError):
    """No job was taken in yet."""

    def __init__(self, folder: Path) -> None:
        super().__init__(
            f"{folder}: no jobs yet; take some in with 'benchlore intake FILE --mapping MAPPING'"
        )


class ReadingError(LibraryError):
    """What was typed at the bench means nothing to the book."""

    def __init__(self, text: str, reason: str) -> None:
        self.text = text
        self.reason = reason
        super().__init__(f"{quoted(text)}: {reason}")


class RecordRefusedError(LibraryError):
    """A file is no restart record."""

    def __init__(self, path: Path, error: RecordError) -> None:
        self.path = path
        self.line = error.line
        where = f"{path}" if error.line is None else f"{path}:{error.line}"
        super().__init__(f"{where}: {error.wrong}; {error.expected}")


class NoRateError(LibraryError):
    """A complaint that always shows needs no soak."""

    def __init__(self, complaint: str) -> None:
        self.complaint = complaint
        super().__init__(
            f"by the book, the complaint '{complaint}' always shows: trying it once tells; if it comes and "
            f"goes, say how often (--says, --record), or write 'intermittent' under it in the book"
        )


class NoJobError(LibraryError):
    """There is no such finished job."""

    def __init__(self, shop: str, number: str) -> None:
        self.shop, self.number = shop, number
        super().__init__(
            f"there is no job {quoted(number)} of shop {quoted(shop)} in this library; check the number"
        )


class EntryRefusedError(LibraryError):
    """An entry that a job on the bench, as it stands, cannot take."""

    def __init__(self, what: str, reason: str) -> None:
        self.what = what
        self.reason = reason
        super().__init__(f"{what}: {reason}; nothing was stored")


class AccountsUnreadableError(LibraryError):
    """The file of the accounts is not what this program wrote; nobody signs in by it."""

    def __init__(self, path: Path, reason: str) -> None:
        self.path = path
        super().__init__(
            f"{path}: the accounts cannot be read, so nobody can sign in: {reason}; put back a backup of the "
            f"file, or delete it and add the accounts anew with 'benchlore account add'"
        )


class AccountRefusedError(LibraryError):
    """A name or a password that no account can have."""

    def __init__(self, name: str, reason: str) -> None:
        self.name, self.reason = name, reason
        super().__init__(f"{quoted(name)}: {reason}; nothing was changed")


class NoAccountError(LibraryError):
    """Nobody of that name has an account."""

    def __init__(self, name: str, known: tuple[str, ...]) -> None:
        self.name = name
        super().__init__(
            f"nobody of the name {quoted(name)} has an account"
            f"{did_you_mean(name, known) if known else '; add one with benchlore account add'}"
        )
