"""The bundle: one zip with everything that a library needs to be read, checked and carried on by anybody."""

import json
import re
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from benchlore.jobs import Job, csv_text
from benchlore.jobs.export import FILES
from benchlore.library import Library, Report, make_public, silent, write_bag
from benchlore.press.site import press_site
from benchlore.press.site.editions import UNDATED
from benchlore.press.site.licences import licence_page
from benchlore.press.site.tables import PROFILE
from benchlore.procedure import Effort


@dataclass(frozen=True, slots=True)
class Bundled:
    """What was packed, and what stayed behind: boards whose books have errors."""

    out: Path
    files: int
    size: int
    sha256: str
    boards: tuple[str, ...]
    jobs: int
    left_out: tuple[str, ...]


def bundle_library(
    library: Library,
    out: Path,
    *,
    day: datetime | None = None,
    effort: Effort | None = Effort.QUICK,
    workers: int | None = None,
    report: Report = silent,
) -> Bundled:
    """Pack a library's public form, and the site that is made from it, into one zip.

    Equal libraries give equal bytes: nothing in it tells when it was packed. ``day`` dates the site's feed;
    where it is ``None`` the newest published job's month does.

    Raises
    ------
    ShopRefusedError
        If the shop file has errors.
    FileNotWritten
        If the zip cannot be written; an older one then stands as it was.
    """
    out = out.resolve()
    with tempfile.TemporaryDirectory(prefix="benchlore-") as room:
        public = make_public(library, Path(room) / "library", report=report)
        site = Path(room) / "site"
        now = day or _newest(public.jobs)
        press_site(public.library, site, now=now, effort=effort, workers=workers, report=report)
        files: dict[str, Path | bytes] = {
            **_below(public.library.folder, "library", _is_kept),
            **_below(site, "site", lambda path: not path.startswith(".press/")),
            **{f"jobs/{name}": "".join(csv_text(public.jobs, name)).encode() for name in FILES},
        }
        files["README.txt"] = _readme(library).encode()
        files["datapackage.json"] = _descriptor(library)
        digest = write_bag(out, base_of(library), files, _info(library, day))
    return Bundled(
        out, len(files), out.stat().st_size, digest, _boards(files), len(public.jobs), public.left_out
    )


def base_of(library: Library) -> str:
    """Name the folder that a bundle unpacks to."""
    return re.sub(r"[^a-z0-9]+", "-", library.title.casefold()).strip("-")[:60] or "library"


def _boards(files: Mapping[str, Path | bytes]) -> tuple[str, ...]:
    return tuple(sorted(name.split("/")[2] for name in files if name.endswith("/book.yaml")))


def _newest(jobs: tuple[Job, ...]) -> datetime:
    days = [job.opened for job in jobs if job.opened is not None]
    return datetime(max(days).year, max(days).month, 1, tzinfo=UTC) if days else UNDATED


def _is_kept(path: str) -> bool:
    return not path.startswith(("jobs.sqlite", "rejects/", ".")) and "/overview-" not in path


def _below(folder: Path, prefix: str, is_kept: Any) -> dict[str, Path | bytes]:
    paths = {path.relative_to(folder).as_posix(): path for path in folder.rglob("*") if path.is_file()}
    return {f"{prefix}/{name}": path for name, path in paths.items() if is_kept(name)}


def _info(library: Library, day: datetime | None) -> dict[str, str]:
    told = {"External-Description": library.title, "External-Identifier": base_of(library)}
    return told if day is None else {"Bagging-Date": f"{day:%Y-%m-%d}", **told}


def _readme(library: Library) -> str:
    licence = library.licence or "none named for the whole; each book and page names its own"
    return f"""{library.title}

site/index.html   everything to read, without a network: open it in a browser
library/          books, pictures, skills pages, what was learned, planned and proven, to carry on
jobs/             recorded jobs of the shops that allow it, without names, numbers and texts, dated by month

Licence (SPDX identifier): {licence} {licence_page(library.licence)}

Check it:      benchlore verify BUNDLE.zip
               (or unpack it, and in its folder: sha256sum -c manifest-sha256.txt)
Carry it on:   benchlore init --from BUNDLE.zip FOLDER

Local safety rules and licensed practice come before anything written here.
"""


def _descriptor(library: Library) -> bytes:
    """Describe the tables of jobs by a Data Package (version 2.0)."""
    licences = [{"name": library.licence, "path": licence_page(library.licence)}]
    said = {
        "$schema": PROFILE,
        "name": base_of(library),
        "title": library.title,
        "licenses": [
            {key: value for key, value in each.items() if value} for each in licences if each["name"]
        ],
        "resources": [
            {
                "name": name.removesuffix(".csv"),
                "type": "table",
                "path": f"jobs/{name}",
                "format": "csv",
                "mediatype": "text/csv",
                "encoding": "utf-8",
                "schema": {"fields": [{"name": column, "type": "string"} for column in columns]},
            }
            for name, columns in FILES.items()
        ],
    }
    if not said["licenses"]:
        del said["licenses"]
    return (json.dumps(said, ensure_ascii=False, indent=2) + "\n").encode()
