"""The store's memory of which files were taken in, and which job came from where."""

from typing import Any

from sqlalchemy import Connection, Row, select

from benchlore.jobs import tables
from benchlore.jobs.store_values import Intake, Place, Source


def read_intakes(connection: Connection, *, sha256: str | None = None) -> tuple[Intake, ...]:
    """Return intakes, first to last; with ``sha256``, only those of a file with these contents."""
    query = select(tables.intake).order_by(tables.intake.c.id)
    if sha256 is not None:
        query = query.where(tables.intake.c.sha256 == sha256)
    return tuple(map(_intake, connection.execute(query)))


def read_sources(connection: Connection, shop: str, number: str) -> tuple[Source, ...]:
    """Return the files that a job came from."""
    job, source, intake = tables.job, tables.source, tables.intake
    query = (
        select(intake, source.c.sheet, source.c.sheet_row)
        .join_from(source, intake)
        .join(job, job.c.id == source.c.job_id)
        .where(job.c.shop == shop, job.c.number == number)
        .order_by(intake.c.id)
    )
    return tuple(
        Source(_intake(row), None if row.sheet_row is None else Place(row.sheet, row.sheet_row))
        for row in connection.execute(query)
    )


def _intake(row: Row[Any]) -> Intake:
    return Intake(
        number=row.id,
        file=row.file,
        sha256=row.sha256,
        taken=row.taken,
        mapping=row.mapping,
        rows=row.rows_read,
        refused=row.rows_refused,
        new=row.jobs_new,
        same=row.jobs_same,
        merged=row.jobs_merged,
        conflicting=row.jobs_conflicting,
    )
