"""A proof as JSON and back."""

from typing import Any, Final

from pydantic import TypeAdapter, ValidationError

from benchlore.proof.errors import ProofFormatError
from benchlore.proof.prove import Proof

FORMAT: Final = 1

_PROOF: Final = TypeAdapter(Proof)


def to_json(proof: Proof) -> dict[str, Any]:
    """Return a proof as data that JSON has a form for."""
    return {"proof": FORMAT, **_PROOF.dump_python(proof, mode="json")}


def from_json(data: object) -> Proof:
    """Read what :func:`to_json` wrote.

    Raises
    ------
    ProofFormatError
        If the data is of another format or does not fit.
    """
    if not isinstance(data, dict) or data.get("proof") != FORMAT:
        found = data.get("proof") if isinstance(data, dict) else type(data).__name__
        raise ProofFormatError("proof", found, f"format {FORMAT}")
    try:
        return _PROOF.validate_python({key: value for key, value in data.items() if key != "proof"})
    except ValidationError as error:
        first = error.errors()[0]
        raise ProofFormatError(".".join(map(str, first["loc"])), first["input"], first["msg"]) from None
