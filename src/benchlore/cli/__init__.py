"""The commands: text and JSON for people and programs; every number comes from ``library``.

May import every other package; nothing imports it.
"""

from benchlore.cli import (
    commands_books,
    commands_bundle,
    commands_credit,
    commands_money,
    commands_people,
    commands_plans,
    commands_press,
    commands_rest,
    commands_site,
    commands_soak,
)
from benchlore.cli.app import app, main

__all__ = [
    "app",
    "commands_books",
    "commands_bundle",
    "commands_credit",
    "commands_money",
    "commands_people",
    "commands_plans",
    "commands_press",
    "commands_rest",
    "commands_site",
    "commands_soak",
    "main",
]
