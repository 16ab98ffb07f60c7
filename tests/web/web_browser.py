"""A real browser for the app's pages: a running server, pages of two widths in two schemes, and what holds
of every screen.

Debian's Chromium is used. Where it is missing, tests that need it are skipped with the reason; where ``CI`` is
set they fail instead, so that no run passes without having looked at a screen.
"""

import os
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from shutil import which
from typing import ClassVar
from urllib.parse import urlsplit

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from benchlore.library import Library
from benchlore.web import create_app

WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
AXE = {
    "runOnly": {"type": "tag", "values": WCAG},
    "rules": {"target-size": {"enabled": True}},
    "resultTypes": ["violations"],  # what passed need not be told element by element
}


@dataclass(frozen=True)
class Screen:
    """A window's width in pixels, and its colour scheme."""

    width: int
    scheme: str

    def __str__(self) -> str:
        return f"{self.width}-{self.scheme}"


SCREENS = [Screen(390, "light"), Screen(1280, "dark")]
"""Both widths and both schemes: what is too wide is so in any colour, a poor contrast at any width."""


def chromium_file() -> Path:
    """Find Chromium, or skip (in CI: fail) with the reason."""
    found = which("chromium")
    if found:
        return Path(found)
    said = "Chromium is missing, so no screen was looked at: 'apt-get install chromium'"
    if os.environ.get("CI"):
        pytest.fail(said)
    pytest.skip(said)


@contextmanager
def browsing() -> Iterator[Browser]:
    """Open the browser."""
    program = chromium_file()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=["--no-sandbox"])
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def served(library: Library) -> Iterator[str]:
    """Serve a library's app on a free port; its address has no slash at the end."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen(64)
        settings = uvicorn.Config(create_app(library), log_level="warning", ws="none", lifespan="off")
        server = uvicorn.Server(settings)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        while not server.started:
            assert thread.is_alive(), "the server ended before it began"
            time.sleep(0.02)
        try:
            yield f"http://127.0.0.1:{listener.getsockname()[1]}"
        finally:
            server.should_exit = True
            thread.join(10)


class Pages:
    """Opens pages of one server; at the end, nothing may have been complained of or asked of elsewhere.

    A profile takes a second of a processor to make, so that it is emptied and used again, unless ``kept`` says
    otherwise, as it must where a page changes its whole profile, for instance its clock.
    """

    idle: ClassVar[dict[tuple[Browser, Screen, bool], list[BrowserContext]]] = {}

    def __init__(self, browser: Browser, address: str, *, kept: bool = True) -> None:
        self.browser = browser
        self.address = address
        self.kept = kept
        self.complaints: list[str] = []
        self.used: list[tuple[tuple[Browser, Screen, bool], BrowserContext]] = []

    def open(self, path: str, screen: Screen = SCREENS[-1], *, scripts: bool = True) -> Page:
        """Open a path in a window with a profile of its own, which knows of nothing that was before."""
        kind = (self.browser, screen, scripts)
        idle = self.idle.get(kind) if self.kept else None
        context = idle.pop() if idle else self._profile(screen, scripts)
        self.used.append((kind, context))
        page = context.new_page()
        page.on("console", self._listen)
        page.on("pageerror", lambda error: self.complaints.append(f"error in a script: {error}"))
        page.on("request", self._watch)
        page.goto(self.address + path)
        return page

    def _listen(self, message) -> None:
        if message.type in {"error", "warning"} and "Failed to load resource" not in message.text:
            self.complaints.append(f"console: {message.text}")

    def _watch(self, request) -> None:
        if not request.url.startswith((self.address, "data:", "blob:")):
            self.complaints.append(f"asked elsewhere: {request.url}")

    def _profile(self, screen: Screen, scripts: bool) -> BrowserContext:
        context = self.browser.new_context(
            viewport={"width": screen.width, "height": 844},
            color_scheme=screen.scheme,
            java_script_enabled=scripts,
            reduced_motion="reduce",
        )
        context.set_default_timeout(30_000)
        context.new_page()  # stays blank, so that the profile stays awake between windows
        return context

    def close(self) -> None:
        """Close every window, and forget what it stored."""
        for kind, context in self.used:
            if not self.kept:
                context.close()
                continue
            for page in context.pages[1:]:
                forget(page)
                page.close()
            context.clear_cookies()
            self.idle.setdefault(kind, []).append(context)
        self.used.clear()


def forget(page: Page) -> None:
    """Empty all that a page's origin has stored: texts, caches, service workers."""
    there = urlsplit(page.url)
    session = page.context.new_cdp_session(page)
    origin = f"{there.scheme}://{there.netloc}"
    session.send("Storage.clearDataForOrigin", {"origin": origin, "storageTypes": "all"})
    session.detach()


def check_screen(page: Page) -> None:
    """Insist that a page has no violation of WCAG 2.2 AA that axe finds, and never scrolls sideways."""
    page.wait_for_load_state()  # what a form answers may be read before its style sheets have come
    found = Axe().run(page, options=AXE)
    assert found.violations_count == 0, found.generate_report()
    across = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert across <= 0, f"the page is {across} px wider than its window: {page.evaluate(WIDEST)}"


WIDEST = """[...document.querySelectorAll('main *')]
    .filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1
                 && !e.closest('.scroll'))
    .slice(0, 5).map(e => e.outerHTML.slice(0, 120)).join(' | ')"""


def tab_to(page: Page, selector: str, *, most: int = 400) -> None:
    """Press Tab until the element has the focus."""
    for _ in range(most):
        if page.evaluate("s => document.activeElement?.matches(s)", selector):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{selector} is not reached by Tab")
