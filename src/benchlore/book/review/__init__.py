"""What a careful reader would say of a book that can be read: doubts, gaps, and dangers.

Each rule is a function from a book and its places to problems; ``RULES`` names all of them, ``SLOW_RULES``
those that compare everything with everything. ``review`` runs them.
"""

from benchlore.book.review.run import RULES, SLOW_RULES, Rule, review

__all__ = ["RULES", "SLOW_RULES", "Rule", "review"]
