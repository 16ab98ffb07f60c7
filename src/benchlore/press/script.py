"""A page's script from its modules: one text that needs no network, no build step and no other file.

A browser opens no module from ``file://``, but it does open a plain script, so modules are joined here. Each
becomes a function that gives its exports, and an import takes them from it. Only what the house's own modules
use is understood: imports of names from ``./name.js`` at the top, and ``export`` before a declaration.
"""

import re
from collections.abc import Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Final

MODULES: Final = files("benchlore.press") / "static" / "bench"

_IMPORT: Final = re.compile(r"^import \{([^}]*)\} from \"\./([a-z_]+)\.js\";\n", re.MULTILINE)
_EXPORT: Final = re.compile(r"^export (?=(?:async )?(?:const|class|function\*?) ([A-Za-z_]+))", re.MULTILINE)
_COMMENT: Final = re.compile(r"^[ ]*/\*\*.*?\*/\n", re.MULTILINE | re.DOTALL)
_NAME: Final = re.compile(r"[A-Za-z_]+")


class ScriptError(Exception):
    """A module holds what cannot be joined."""

    def __init__(self, module: str, what: str, expected: str) -> None:
        super().__init__(f"{module}.js: {what}; expected {expected}")


def joined(*entries: str, folder: Traversable = MODULES) -> str:
    """Return the modules that some modules need, and these, as one script; all without their comments.

    Each module stands as a constant of its name behind a ``$``, with its exports as fields.

    Raises
    ------
    ScriptError
        If a module holds an import or export of another form, or modules import each other in a ring.
    """
    order: list[str] = []
    for entry in entries:
        _visit(entry, folder, order, ())
    return "".join(_wrapped(name, _text(folder, name)) for name in order)


def _text(folder: Traversable, name: str) -> str:
    return (folder / f"{name}.js").read_text(encoding="utf-8")


def _visit(name: str, folder: Traversable, order: list[str], asking: tuple[str, ...]) -> None:
    """Put a module into the order, behind all that it needs."""
    if name in asking:
        raise ScriptError(name, f"it needs itself through {', '.join(asking)}", "no ring of imports")
    if name in order:
        return
    for _, needed in _imports(name, _text(folder, name)):
        _visit(needed, folder, order, (*asking, name))
    order.append(name)


def _imports(name: str, text: str) -> Iterator[tuple[list[str], str]]:
    for match in _IMPORT.finditer(text):
        names = [each.strip() for each in match[1].split(",") if each.strip()]
        if any(not _NAME.fullmatch(each) for each in names):
            raise ScriptError(name, f"an import of {match[1].strip()!r}", "plain names")
        yield names, match[2]


def _wrapped(name: str, text: str) -> str:
    bare = _COMMENT.sub("", text)
    taken = "".join(f"const {{{','.join(names)}}}=${needed};\n" for names, needed in _imports(name, bare))
    exported = [match[1] for match in _EXPORT.finditer(bare)]
    body = _EXPORT.sub("", _IMPORT.sub("", bare))
    _refuse_others(name, body)
    lines = "\n".join(line.strip() for line in body.splitlines() if line.strip())
    return f"const ${name}=(()=>{{\n{taken}{lines}\nreturn {{{','.join(exported)}}};\n}})();\n"


def _refuse_others(name: str, body: str) -> None:
    for line in body.splitlines():
        if re.match(r"\s*(import|export)\b", line):
            raise ScriptError(name, repr(line.strip()), "import { name } from './module.js', or export const")
        if line.count("`") % 2:
            raise ScriptError(name, repr(line.strip()), "texts in backquotes on one line")
        if "</script" in line.lower() or "<!--" in line:
            raise ScriptError(name, repr(line.strip()), "nothing that ends a script")
