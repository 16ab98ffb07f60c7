"""The shop: what a bench's time costs, what it owns, what it can do, and the text that says so.

May import ``notation`` and ``units``; no files are touched here.
"""

from benchlore.shop.read import ReadShop, read_shop
from benchlore.shop.shape import json_schema
from benchlore.shop.values import Shop

__all__ = ["ReadShop", "Shop", "json_schema", "read_shop"]
