"""Draws invented bench jobs and writes them as three invented shops would have kept them.

Stands outside the product on purpose and imports nothing of it: what the demo's records say must not
follow from the program that reads them. ``booktext`` reads a fault book, ``truth`` bends it into a world
that differs from it, ``bench`` works through jobs in that world, ``pen`` writes numbers, dates and names the
way people do, ``wide`` and ``long`` lay them out as tables.
"""

import os

# openpyxl writes other bytes where lxml is there.
os.environ["OPENPYXL_LXML"] = "False"
