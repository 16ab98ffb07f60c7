"""A bundle becomes a library again, to be carried on by whoever has it."""

import re
import secrets
import shutil
from pathlib import Path
from typing import Final

from benchlore.jobs import ExportTrouble, JobUnstorable, Store, import_csv
from benchlore.library.bag import BagChangedError, Checked, OpenBag, check_bag, opened_bag
from benchlore.library.errors import BundleRefusedError, NotEmptyError
from benchlore.library.folder import Library, make_folder, open_library
from benchlore.notation import FileNotWritten, reason_of

TEXTS: Final = "library/"
JOBS: Final = "jobs/"

_OURS: Final = re.compile(
    r"library\.yaml|shop\.yaml|LICENSE|editions\.json|books/[a-z0-9-]+/[^/]+(/[^/]+)*|skills/[a-z0-9-]+\.md"
    r"|compiled/[a-z0-9-]+/[a-z0-9-]+(/[a-z0-9-]+)?/[a-z-]+\.json"
)


def take_on(bundle: Path, folder: Path) -> tuple[Library, int]:
    """Make a working library of a bundle; return it, and how many jobs it brought.

    Raises
    ------
    BundleRefusedError
        If the bundle is not sound; nothing was written.
    NotEmptyError
        If the folder holds anything.
    FileNotWritten
        If it cannot be written.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise NotEmptyError(folder, folder.name if not folder.is_dir() else next(folder.iterdir()).name)
    checked = check_bag(bundle)
    if not checked.is_sound:
        raise BundleRefusedError(bundle, tuple(map(str, checked.troubles)))
    folder = folder.resolve()
    beside = folder.with_name(f".{folder.name[:100]}.{secrets.token_hex(8)}.new")
    try:
        jobs = _unpack(checked, beside)
        if folder.exists():
            folder.rmdir()
        beside.replace(folder)
    except OSError as error:
        raise FileNotWritten(folder, reason_of(error)) from error
    except (BagChangedError, ExportTrouble, JobUnstorable) as error:
        raise BundleRefusedError(bundle, (str(error),)) from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return open_library(folder), jobs


def _unpack(checked: Checked, folder: Path) -> int:
    with opened_bag(checked) as bag:
        names = [name for name in bag.names() if name.startswith(TEXTS)]
        strange = [name for name in names if not _OURS.fullmatch(name.removeprefix(TEXTS))]
        if strange or f"{TEXTS}library.yaml" not in names:
            reason = f"{strange[0]}: is no part of a library" if strange else "it holds no library.yaml"
            raise BundleRefusedError(checked.path, (reason,))
        make_folder(folder)
        for name in names:
            target = folder / name.removeprefix(TEXTS)
            make_folder(target.parent)
            target.write_bytes(bag.read(name))
        jobs = _jobs(bag, folder)
    open_library(folder)
    return jobs


def _jobs(bag: OpenBag, folder: Path) -> int:
    tables = folder / ".jobs"
    make_folder(tables)
    for name in bag.names():
        if name.startswith(JOBS) and name.endswith(".csv"):
            (tables / Path(name).name).write_bytes(bag.read(name))
    jobs = import_csv(tables) if any(tables.iterdir()) else []
    shutil.rmtree(tables)
    with Store.open(folder / "jobs.sqlite") as store:
        store.add(jobs)
    return len(jobs)
