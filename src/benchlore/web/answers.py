"""What the API answers where something fails, as its documentation names it."""

from typing import Any, Final

from pydantic import BaseModel


class Failure(BaseModel):
    """What failed: the kind of failure, and a message that says what to do."""

    kind: str
    message: str


class FailureAnswer(BaseModel):
    """The body of every answer that is a failure."""

    error: Failure


SAID: Final = {
    400: "The request cannot be understood.",
    401: "Nobody is signed in.",
    403: "Your role may not do this, or the request came from another site.",
    404: "There is no such thing.",
    409: "It cannot be done as things stand.",
    413: "The request is too large.",
    422: "The request is not as it should be.",
}


def failing(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Document answers that are failures."""
    return {status: {"model": FailureAnswer, "description": SAID[status]} for status in statuses}
