"""What a fix that cannot cure the fault tells by failing, when information about the fault has a price.

For a fault that a fix can cure, the fix ends the search: the board is cured, slips through the retest, or the
fault is told. For any other fault the fix is a test: the retest shows the complaint with probability ``d``,
and the job goes on as it was; else the board is released and comes back. Let ``theta`` be the probability,
the same for all faults, that the reference law gives to going on. By the chain rule of relative entropy one
that goes on has learned ``d log(d / theta)`` nats, which a try sells at most once, for the cost of the fix;
and whatever ends the search with that fix has learned the rest. Any ``theta`` gives a bound.
"""

from typing import Final, NamedTuple

import numpy as np

from benchlore.model import FloatArray
from benchlore.procedure.arrays import Arrays, BoolArray, IntArray

LEAST: Final = 1e-3
"""How near to never and to always ``theta`` may come."""


class Sales(NamedTuple):
    """What is to be taken off each fix that ends the search, and last off the return, ``off (A + 1, F)``.

    That is what wrong fixes sell beyond their cost, and what the end with that fix has told. ``slope`` is how
    it changes with the price. ``often (A, F)`` is how often each variant is the one that sells and goes on.
    ``tried (X, F)`` is what each fix sells, whichever variant.
    """

    off: FloatArray
    slope: FloatArray
    often: FloatArray
    tried: FloatArray


class Tries:
    """Fixes ``A`` as tests for the faults ``F`` that they cannot cure."""

    def __init__(self, arrays: Arrays) -> None:
        self._wrong = arrays.missed >= 1.0
        self._fails = np.where(self._wrong, arrays.missed * arrays.detects, 0.0)
        self._released = np.where(self._fails < 1.0, 1.0 - self._fails, 1.0)
        self._per_end = np.where(self._wrong & (self._fails < 1.0), 1.0 / self._released, 0.0)
        self._cost = arrays.fix_cost[:, None]
        self._comeback = arrays.comeback
        self._group = arrays.fix_group

    def going_at(self, price: float) -> FloatArray:
        """Return the ``theta (A,)`` with which no fix sells beyond its cost, at one price for all faults."""
        going: FloatArray = np.clip(np.exp(-self._cost[:, 0] / price), LEAST, 1.0 - LEAST)
        return going

    def ending(self, losses: FloatArray, never: float) -> FloatArray:
        """What ending the search with each fix costs, ``(A, F)``, from what a first fix costs, ``losses``.

        A wrong fix ends it only by releasing the board, ``never`` where the retest is sure.
        """
        return np.where(self._wrong, np.where(self._fails < 1.0, self._comeback, never), losses)

    def sales(self, prices: FloatArray, going: FloatArray, blur: float) -> Sales:
        """What is to be taken off at ``prices (F,)`` and ``theta`` = ``going (A,)``.

        A fix sells ``blur * log(1 + exp(x / blur))`` rather than ``max(0, x)``: more, but smooth.
        """
        told = self._fails * np.log(np.where(self._fails > 0.0, self._fails, 1.0) / going[:, None])
        beyond = np.where(self._wrong, prices * told - self._cost, -np.inf)
        leads = self._leads(beyond)
        sold = np.where(leads, blur * np.logaddexp(0.0, beyond / blur), 0.0)
        sells = np.where(leads, np.exp(np.minimum(0.0, beyond - sold) / blur), 0.0)  # its slope in ``beyond``
        end = np.log(self._released / (1.0 - going)[:, None])
        idle = self._per_end * (self._of_fix(sold) - np.where(self._wrong, beyond, 0.0))
        steep = self._per_end * (self._of_fix(sells * told) - told)
        nothing = np.zeros((1, len(prices)))
        return Sales(
            sold.sum(axis=0) + np.concatenate([prices * end - idle, nothing]),
            (sells * told).sum(axis=0) + np.concatenate([end - steep, nothing]),
            self._fails * sells,
            self._by_fix(sold),
        )

    def going_slope(self, sales: Sales, weights: FloatArray, ends: IntArray, going: FloatArray) -> FloatArray:
        """How the bound changes with the logit of each ``theta``, ``(A,)``.

        Jobs decide with ``weights (D, F)``; ``ends (D,)`` is the fix that each decision ends with.
        """
        ending = np.zeros((len(going) + 1, weights.shape[1]))
        np.add.at(ending, ends, weights)
        tried = self._per_end * ending[:-1]
        on = sales.often * (weights.sum(axis=0) - self._of_fix(tried)) + self._fails * tried
        slope: FloatArray = on.sum(axis=1) * (1.0 - going) - ending[:-1].sum(axis=1) * going
        return slope

    def _of_fix(self, variants: FloatArray) -> FloatArray:
        """The sum over the variants of each fix, ``(A, F)``."""
        return self._by_fix(variants)[self._group]

    def _by_fix(self, variants: FloatArray) -> FloatArray:
        """The same, once for each fix, ``(X, F)``."""
        total = np.zeros((int(self._group.max(initial=-1)) + 1, variants.shape[1]))
        np.add.at(total, self._group, variants)
        return total

    def _leads(self, beyond: FloatArray) -> BoolArray:
        """Which variant of each fix sells most to each fault that it cannot cure, ``(A, F)``."""
        leads = np.zeros(beyond.shape, dtype=np.bool_)
        faults = np.arange(beyond.shape[1])
        for group in np.unique(self._group):
            members = np.flatnonzero(self._group == group)
            leads[members[beyond[members].argmax(axis=0)], faults] = True
        return leads & self._wrong
