"""What can go wrong before or while planning; each class is a case that a caller would treat differently.

```
PlanningError
├── NoWorthError              nobody says what a finished repair is worth
├── NoExchangeRateError       the book's currency is not the shop's, and no rate is given
├── ComebackTooCheapError     releasing a bad board would cost less than returning it
├── InvalidInstanceError      a number or a reference in the problem makes no sense
├── TableTooLargeError        the exact table does not fit the memory allowed
└── ProcedureFormatError      a text is not a procedure in the documented JSON form
```
"""


class PlanningError(ValueError):
    """The base of all errors of this package."""


class NoWorthError(PlanningError):
    """Neither the shop nor the book says what a finished repair of the board is worth."""

    def __init__(self, board: str, complaint: str) -> None:
        self.board = board
        self.complaint = complaint
        super().__init__(
            f"nobody says what a finished repair of board '{board}' (complaint '{complaint}') is worth; "
            f"write the price that the shop charges under 'worth' in the shop file, for this board or for "
            f"all others, or 'worth: <amount>' under the complaint in the fault book"
        )


class NoExchangeRateError(PlanningError):
    """An amount is in a currency for which the shop gives no rate."""

    def __init__(self, currency: str, shop_currency: str, what: str) -> None:
        self.currency = currency
        self.shop_currency = shop_currency
        super().__init__(
            f"{what} is in {currency}, but the shop counts in {shop_currency} and gives no rate; "
            f"write 'exchange: {{{currency}: <price of one {currency} in {shop_currency}>}}' in the shop file"
        )


class ComebackTooCheapError(PlanningError):
    """A comeback costs less than returning the board, so releasing bad boards would be rewarded."""

    def __init__(self, comeback: float, give_up: float) -> None:
        self.comeback = comeback
        self.give_up = give_up
        super().__init__(
            f"a comeback costs {comeback:.2f}, less than the {give_up:.2f} lost by returning the board "
            f"unrepaired, so releasing bad boards would pay; set 'comeback' in the shop file to at least "
            f"{give_up:.2f}, or leave it out (then it is the worth and one hour more)"
        )


class InvalidInstanceError(PlanningError):
    """A number or a reference in a planning problem makes no sense."""

    def __init__(self, where: str, found: object, expected: str) -> None:
        self.where = where
        self.found = found
        self.expected = expected
        super().__init__(f"{where}: {found!r} found, {expected} expected")


class TableTooLargeError(PlanningError):
    """The exact method's table does not fit the memory allowed."""

    def __init__(self, needed: int, allowed: int) -> None:
        self.needed = needed
        self.allowed = allowed
        super().__init__(
            f"the exact table needs {needed:,} bytes and {allowed:,} are allowed; "
            f"allow more memory, or plan with the look-ahead method"
        )


class ProcedureFormatError(PlanningError):
    """A text is not a procedure in the documented JSON form."""

    def __init__(self, where: str, found: object, expected: str) -> None:
        self.where = where
        self.found = found
        self.expected = expected
        super().__init__(
            f"procedure, {where}: {str(found)[:80]!r} found, {expected} expected; compile the procedure anew"
        )
