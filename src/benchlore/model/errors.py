"""What can go wrong with a model; each class is a case that a caller would treat differently.

```
ModelError
├── UnknownComplaintError   the book has no such complaint
├── EvidenceError           evidence points at nothing in the model, or says a thing twice
├── CasesError              columns of cases do not fit together, or do not fit the models
├── NotOneBoardError        models to be learned together are not of one board
└── ModelFormatError        data is not a model in the documented JSON form
```
"""


class ModelError(ValueError):
    """The base of all errors of this package."""


class UnknownComplaintError(ModelError):
    """The book has no complaint of that name."""

    def __init__(self, board: str, complaint: str, known: tuple[str, ...]) -> None:
        self.board = board
        self.complaint = complaint
        self.known = known
        super().__init__(
            f"the book of board '{board}' has no complaint '{complaint}'; it has {', '.join(known) or 'none'}"
        )


class EvidenceError(ModelError):
    """Evidence points at nothing in the model, or names one check twice."""

    def __init__(self, found: object, expected: str) -> None:
        self.found = found
        self.expected = expected
        super().__init__(f"evidence {found!r} does not fit the model; {expected} expected")


class CasesError(ModelError):
    """Columns of cases have unequal lengths or point at nothing in the models."""

    def __init__(self, column: str, found: object, expected: str) -> None:
        self.column = column
        self.found = found
        self.expected = expected
        super().__init__(f"cases, column {column}: {found!r} found, {expected} expected")


class NotOneBoardError(ModelError):
    """Models that are to be learned together differ in more than their complaint."""

    def __init__(self, what: str) -> None:
        self.what = what
        super().__init__(
            f"models that learn together must be the complaints of one board built from one book; "
            f"these differ in {what}"
        )


class ModelFormatError(ModelError):
    """Data is not a model in the documented JSON form."""

    def __init__(self, where: str, found: object, expected: str) -> None:
        self.where = where
        self.found = found
        self.expected = expected
        super().__init__(
            f"model, {where}: {str(found)[:80]!r} found, {expected} expected; "
            f"build the model anew from its book"
        )
