"""Reads published pages as a strict HTML parser does, and what they lead to."""

import warnings
from posixpath import dirname, join, normpath
from urllib.parse import unquote, urlsplit

import html5lib

XHTML = "{http://www.w3.org/1999/xhtml}"
LOADED = {"script": "src", "img": "src", "image": "href", "iframe": "src", "source": "src"}
LOADING_LINKS = {"stylesheet", "icon", "preload", "modulepreload", "manifest"}


def parsed(text):
    """Parse a page as the HTML standard says; what it calls a parse error is raised."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return html5lib.HTMLParser(strict=True).parse(text)


def elements(tree):
    for element in tree.iter():
        if isinstance(element.tag, str):
            yield element, element.tag.rpartition("}")[2]


def ids(tree):
    return [element.get("id") for element, _ in elements(tree) if element.get("id") is not None]


def loaded(tree):
    """Addresses that a browser asks for by itself."""
    for element, tag in elements(tree):
        if tag in LOADED:
            attribute = LOADED[tag]
            address = element.get(attribute) or element.get("{http://www.w3.org/1999/xlink}" + attribute)
            if address:
                yield address
        if tag == "link" and LOADING_LINKS & set((element.get("rel") or "").split()):
            yield element.get("href")


def led_to(tree):
    """Addresses that a reader may follow."""
    for element, tag in elements(tree):
        if (
            tag in {"a", "link"}
            and element.get("href")
            and not LOADING_LINKS & set((element.get("rel") or "").split())
        ):
            yield element.get("href")


def place_of(here, address):
    """The file of the site that a relative address leads to, and the place in it."""
    parts = urlsplit(address)
    path = normpath(join(dirname(here), unquote(parts.path))) if parts.path else here
    return path, unquote(parts.fragment)


def is_outside(address):
    return bool(urlsplit(address).scheme or urlsplit(address).netloc)
