"""The bench in a complaint's page: a fragment that computes all by itself, and the policy that lets it.

The fragment holds the model and the procedure in their page form, and the book's texts. It fetches nothing,
and so works from a file; the engine is a plain script beside it, shared by all pages with the texts that they
have in common, since a browser opens no module from a file. Without scripts the fragment stays hidden, and
the page's numbered steps remain.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

from markupsafe import Markup

from benchlore.book import Book
from benchlore.model import Model
from benchlore.press.bench_data import bench_data
from benchlore.press.bench_texts import bench_texts, common_texts, scale_drawings
from benchlore.press.page import environment
from benchlore.press.place import Size
from benchlore.press.script import joined
from benchlore.procedure import PlanningError, Procedure, instance_of
from benchlore.shop import Shop

POLICY: Final = (
    "script-src 'self' file:; object-src 'none'; base-uri 'none'; connect-src 'self'; form-action 'none'"
)
"""The policy of a page with a bench: scripts of the site alone, none in the page; nothing is sent away."""


@dataclass(frozen=True, slots=True)
class PageBench:
    """The bench of one page: its ``fragment``, and the content security policy of the page with it.

    Both are empty where there is none; ``trouble`` says why.
    """

    fragment: Markup
    policy: str
    trouble: str = ""


def page_bench(
    book: Book,
    model: Model,
    shop: Shop,
    plan: Procedure | None,
    *,
    size: Size = lambda _: None,
    address: Callable[[str], str] = str,
) -> PageBench:
    """Make the bench of a complaint's page.

    Parameters
    ----------
    book, model, shop
        What is known of the board and the complaint, and the bench for which the page reckons.
    plan
        The procedure that the page shows, if there is one: followed where a job stands on it.
    size, address
        The size of a picture of the book, and how the page leads to it.
    """
    try:
        instance = instance_of(model, shop)
        engine = bench_data(model, shop, instance, plan)
    except PlanningError as error:
        return PageBench(Markup(), "", str(error))
    fragment = (
        environment()
        .get_template("bench.html")
        .render(
            data=embedded({"engine": engine, "texts": bench_texts(book, model, instance, size, address)}),
            drawings=scale_drawings(model),
            shop=shop,
        )
    )
    return PageBench(Markup(fragment), POLICY)  # noqa: S704 the template escapes


@cache
def bench_script() -> str:
    """Return the engine's script: it begins by itself where a page has a bench."""
    texts = embedded(common_texts())
    return f'(() => {{\n"use strict";\n{joined("bench")}$bench.begin({texts});\n}})();\n'


def embedded(data: Any) -> Markup:
    r"""Write JSON so that nothing in it can end the element that it stands in, in HTML or XML.

    >>> print(embedded("</script>&"))
    "\u003c/script\u003e\u0026"
    """
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)  # noqa: S704 what HTML takes for its own is escaped
