"""What can keep a proof from being made."""


class ProofError(Exception):
    """A proof cannot be made from what there is."""


class TooFewJobsError(ProofError):
    """There are not enough recorded jobs; ``jobs`` are there and ``needed`` would do."""

    def __init__(self, complaint: str, jobs: int, needed: int, what: str) -> None:
        self.complaint, self.jobs, self.needed, self.what = complaint, jobs, needed, what
        super().__init__(
            f"complaint '{complaint}': {jobs or 'no'} {what}{'' if jobs == 1 else 's'} recorded, and a proof "
            f"needs {needed} or more; take in more jobs with 'benchlore intake'"
        )


class OneShopError(ProofError):
    """Folds by shop were asked for, and all jobs are of one shop."""

    def __init__(self, shop: str) -> None:
        self.shop = shop
        super().__init__(
            f"all jobs are of shop '{shop}', so no shop can be held out; split them by job or time"
        )


class UndatedError(ProofError):
    """Folds by time were asked for, and too few jobs have a date."""

    def __init__(self, dated: int, jobs: int, needed: int) -> None:
        self.dated, self.jobs = dated, jobs
        super().__init__(
            f"{dated} of {jobs} jobs have a date, and folds by time need {needed} days or more; "
            f"split them by job, or give 'opened' in the mapping"
        )


class ProofFormatError(ProofError):
    """A stored proof cannot be read."""

    def __init__(self, where: str, found: object, expected: str) -> None:
        self.where = where
        super().__init__(f"proof, {where}: expected {expected}, found {found!r}")
