"""A board's figures as tables: CSV (RFC 4180), explained by a Data Package descriptor (version 2.0)."""

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any, Final, Literal

from benchlore.jobs.export_cells import number_cell, text_cell
from benchlore.press.site.licences import licence_page
from benchlore.press.site.paths import board_folder
from benchlore.press.site.sources import BoardSource
from benchlore.units import unit_symbol

PROFILE: Final = "https://datapackage.org/profiles/2.0/datapackage.json"

Cell = str | float | int | None


@dataclass(frozen=True, slots=True)
class Field:
    """A column: its name, what its cells are, and what they mean."""

    name: str
    type: Literal["string", "number", "integer"]
    description: str


@dataclass(frozen=True, slots=True)
class DataTable:
    """A table with a row for each thing that its key names."""

    name: str
    title: str
    key: tuple[str, ...]
    fields: tuple[Field, ...]
    rows: tuple[tuple[Cell, ...], ...]


def table_files(source: BoardSource) -> Mapping[str, bytes]:
    """Write a board's tables and their descriptor, by path."""
    folder = tables_folder(source.book.board.name)
    tables = tables_of(source)
    files = {f"{folder}/{table.name}.csv": csv_of(table) for table in tables}
    resources = [_resource(table, files[f"{folder}/{table.name}.csv"]) for table in tables]
    descriptor = _descriptor(source, resources)
    text = json.dumps(descriptor, ensure_ascii=False, indent=2) + "\n"
    return {**files, f"{folder}/datapackage.json": text.encode()}


def tables_folder(board: str) -> str:
    """Return the folder of a board's tables."""
    return f"{board_folder(board)}/tables"


def tables_of(source: BoardSource) -> tuple[DataTable, ...]:
    """Gather a board's tables."""
    return (_faults(source), _checks(source), _jobs(source))


def csv_of(table: DataTable) -> bytes:
    """Write a table; a text that a spreadsheet would run as a formula has an apostrophe before it."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow([field.name for field in table.fields])
    writer.writerows([_cell(cell) for cell in row] for row in table.rows)
    return stream.getvalue().encode()


def _cell(cell: Cell) -> str:
    if isinstance(cell, str):
        return text_cell(cell)
    return str(cell) if isinstance(cell, int) else number_cell(cell)


def _faults(source: BoardSource) -> DataTable:
    return DataTable(
        "faults",
        "How frequent each fault is",
        ("complaint", "fault"),
        (
            Field("complaint", "string", "Name of the complaint"),
            Field(
                "fault", "string", "Name of the fault; 'unlisted' stands for all that the book does not know"
            ),
            Field("title", "string", "What the fault is"),
            Field("part", "string", "Reference of the part on the board"),
            Field("share", "number", "Share of the boards with this complaint that have the fault"),
            Field("share_low", "number", "Lower end of the share's 95 % interval"),
            Field("share_high", "number", "Upper end of the share's 95 % interval"),
            Field("boards_seen", "number", "Boards with this fault that the book's expert counted"),
            Field("jobs_confirmed", "integer", "Recorded jobs with this fault confirmed"),
        ),
        tuple(_fault_rows(source)),
    )


def _fault_rows(source: BoardSource) -> Iterator[tuple[Cell, ...]]:
    for complaint in source.known.complaints:
        for known in complaint.faults:
            fault = source.book.faults.get(known.name)
            part = None if fault is None else fault.part_ref
            share = known.share
            yield (
                complaint.name,
                known.name,
                known.title,
                part,
                share.value,
                share.low,
                share.high,
                known.seen,
                known.confirmed,
            )


def _checks(source: BoardSource) -> DataTable:
    return DataTable(
        "checks",
        "What can be checked",
        ("check",),
        (
            Field("check", "string", "Name of the check"),
            Field("title", "string", "What is checked"),
            Field("reads", "string", "Name of the condition that it reads"),
            Field("at", "string", "Where on the board"),
            Field("measures", "string", "What is measured; empty where the results are words"),
            Field("unit", "string", "Unit of the reading"),
            Field("takes", "number", "Minutes of work"),
            Field("waits", "number", "Minutes of waiting"),
            Field("needs", "string", "Instruments and skills, separated by semicolons"),
        ),
        tuple(
            (
                check.name,
                check.title,
                check.reads,
                source.book.conditions[check.reads].at,
                None if check.measures is None else check.measures.value,
                None if check.measures is None else unit_symbol(check.measures),
                check.work.takes,
                check.work.waits,
                "; ".join(check.work.equipment) or None,
            )
            for check in source.book.checks.values()
        ),
    )


def _jobs(source: BoardSource) -> DataTable:
    confirmed = {complaint.name: complaint.confirmed for complaint in source.known.complaints}
    return DataTable(
        "jobs",
        "How many jobs are recorded",
        ("complaint",),
        (
            Field("complaint", "string", "Name of the complaint"),
            Field("title", "string", "What the customer says is wrong"),
            Field("jobs", "integer", "Recorded jobs with this complaint"),
            Field("jobs_confirmed", "integer", "Those among them whose fault was confirmed"),
        ),
        tuple(
            (each.name, each.title, each.jobs, confirmed.get(each.name, 0))
            for each in source.stands.complaints
        ),
    )


def _resource(table: DataTable, content: bytes) -> dict[str, Any]:
    return {
        "name": table.name,
        "title": table.title,
        "type": "table",
        "path": f"{table.name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(content),
        "hash": f"sha256:{sha256(content).hexdigest()}",
        "dialect": {"lineTerminator": "\r\n"},
        "schema": {
            "fields": [
                {"name": field.name, "type": field.type, "description": field.description}
                for field in table.fields
            ],
            "primaryKey": list(table.key),
        },
    }


def _descriptor(source: BoardSource, resources: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    book = source.book
    page = licence_page(book.licence)
    licences = {"licenses": [{"name": book.licence, "path": page}]} if page else {}
    return {
        "$schema": PROFILE,
        "name": book.board.name,
        "title": f"{book.board.title}: faults, checks, jobs",
        "description": f"What is known of faults on {book.board.title} ({book.board.device}).",
        **licences,  # one that SPDX does not know has neither name nor path, and one of them is asked for
        "contributors": list(_contributors(source)),
        "resources": list(resources),
    }


def _contributors(source: BoardSource) -> Iterable[dict[str, Any]]:
    for person in source.book.people.values():
        path = {"path": f"https://orcid.org/{person.orcid}"} if person.orcid else {}
        yield {"title": person.title, **path, "roles": list(person.roles)}
