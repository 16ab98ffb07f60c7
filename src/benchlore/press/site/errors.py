"""What can keep a site from being written; each class is a case of its own.

```
SiteTrouble
├── ForeignFolderError   the folder holds files, and no site that we wrote
├── InTheWayError        a file that is not ours stands where a page has to go
├── BusyFolderError      another press is writing there
├── ManifestError        what the site says of itself cannot be read
└── HalfSwappedError     a swap was cut short, and what it needs is gone
```
"""

from pathlib import Path

from benchlore.notation import FileTrouble


class SiteTrouble(FileTrouble):
    """A site could not be written."""


class ForeignFolderError(SiteTrouble):
    """The folder holds files, and no site that we wrote."""

    def __init__(self, path: Path, found: str) -> None:
        super().__init__(
            path, f"holds '{found}' and no site from here; name a new or empty folder, nothing was written"
        )


class InTheWayError(SiteTrouble):
    """A file that is not ours stands where a page has to go."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            path, "is not from here and in the way of the site; move it elsewhere, nothing was changed"
        )


class BusyFolderError(SiteTrouble):
    """Another press is writing there."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, "another press is writing here; wait for its end")


class ManifestError(SiteTrouble):
    """What the site says of itself cannot be read."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            path,
            "cannot be read, so that nobody knows which files of the folder are the site's; "
            "press into a new folder",
        )


class HalfSwappedError(SiteTrouble):
    """A swap was cut short, and what it needs to be finished is gone."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            path, "an earlier press was cut short and its new files are gone; press into a new folder"
        )
