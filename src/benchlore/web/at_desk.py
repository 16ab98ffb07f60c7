"""What every page and answer of the bench needs: the desk, the moment, and the fields of a form."""

from collections import defaultdict
from datetime import UTC, datetime
from typing import Annotated, TypeAlias

from fastapi import Depends, Request
from starlette.datastructures import FormData

from benchlore.library import Desk


class FormError(Exception):
    """A form does not hold what the page's own forms hold."""

    def __init__(self, field: str, value: str) -> None:
        self.field = field
        super().__init__(
            f"the field '{field}' of the form holds '{value[:60]}', which means nothing there; "
            f"nothing was stored; look at the page again"
        )


def desk_of(request: Request) -> Desk:
    """The desk of the app's library."""
    desk: Desk = request.app.state.desk
    return desk


def here() -> datetime:
    """Tell the moment, in the time zone of the machine."""
    return datetime.now(UTC).astimezone()


async def _form(request: Request) -> FormData:
    return await request.form()


Sent: TypeAlias = Annotated[FormData, Depends(_form)]
"""The form that was sent. It is read first, so that what answers it may run in a thread of its own."""


def text_in(form: FormData, name: str) -> str:
    """A field's text without blanks around it; empty where the field is missing or a file."""
    value = form.get(name)
    return value.strip() if isinstance(value, str) else ""


def typed_in(form: FormData) -> defaultdict[str, str]:
    """Every field's text, for the same form again; empty for a field that was not sent."""
    return defaultdict(str, {name: text_in(form, name) for name in form})


def whole_in(form: FormData, name: str) -> int:
    """A field's whole number; raises ``FormError``."""
    text = text_in(form, name)
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        raise FormError(name, text)
    return int(text)


def number_in(form: FormData, name: str) -> float | None:
    """A field's number, ``None`` where it is empty; raises ``FormError``."""
    text = text_in(form, name).replace(",", ".")
    try:
        return float(text) if text else None
    except ValueError:
        raise FormError(name, text) from None
