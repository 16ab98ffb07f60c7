"""A page of the site is set: its frame, its head, its body's template."""

from functools import cache
from typing import Any

from jinja2 import Environment, pass_context
from jinja2.runtime import Context
from jinja2.utils import htmlsafe_json_dumps
from markupsafe import Markup

import benchlore
from benchlore.press.page import environment
from benchlore.press.site.licences import licence_page
from benchlore.press.site.paths import (
    BENCH_SCRIPT,
    DRAWING_SCRIPT,
    FEED,
    FINDABLE_SCRIPT,
    LOOKS,
    OFFLINE_SCRIPT,
    SEARCH_SCRIPT,
    START,
    WEB_MANIFEST,
    WORKER,
    absolute,
    leading,
)
from benchlore.press.site.values import Frame, Head


def set_page(frame: Frame, head: Head, template: str, **context: Any) -> bytes:
    """Set a page from a template under ``site/``; in it ``to(path)`` leads to another file of the site."""
    text = site_environment().get_template(f"site/{template}").render(page=head, frame=frame, **context)
    return text.encode()


@cache
def site_environment() -> Environment:
    """Open the templates of the site's pages."""
    found = environment().overlay()
    found.filters = found.filters | {"script_json": script_json}
    found.globals = found.globals | {
        "absolute": absolute,
        "bench_script": BENCH_SCRIPT,
        "drawing_script": DRAWING_SCRIPT,
        "feed_path": FEED,
        "findable_script": FINDABLE_SCRIPT,
        "licence_page": licence_page,
        "looks_path": LOOKS,
        "search_script": SEARCH_SCRIPT,
        "start_path": START,
        "offline_script": OFFLINE_SCRIPT,
        "program": f"benchlore {benchlore.__version__}",
        "to": to,
        "web_manifest": WEB_MANIFEST,
        "worker": WORKER,
    }
    return found


@pass_context
def to(context: Context, path: str) -> str:
    """Lead from the page that is being set to a file of the site."""
    return leading(context["page"].path, path)


def script_json(data: Any) -> Markup:
    r"""Write JSON so that nothing in it can end the script element that it stands in.

    >>> print(script_json({"name": "</script>"}))
    {"name": "\u003c/script\u003e"}
    """
    return htmlsafe_json_dumps(data, ensure_ascii=False, sort_keys=True)
