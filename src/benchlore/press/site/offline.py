"""What lets a browser keep the site and install it: a worker that knows every file, and a web app manifest.

The worker keeps files by their digests (W3C, Service Workers), so that only what changed is fetched again.
None of this is needed where the site is opened from a file.
"""

import json
from collections.abc import Mapping
from typing import Final

from benchlore.press.page import shared_file
from benchlore.press.site.paths import ICON, START
from benchlore.press.theme import LIGHT

AHEAD: Final = r"/\.(html|css|js|svg|png|jpe?g|webp)$/"
"""Files that are kept before anybody asks for them; the others when somebody does."""

DIGITS: Final = 16
"""Of a digest: enough to tell a file's versions apart."""


def worker(files: Mapping[str, str]) -> bytes:
    """Write the worker of a site; ``files`` are digests by path."""
    listed = {path: digest[:DIGITS] for path, digest in sorted(files.items())}
    text = json.dumps(listed, ensure_ascii=False, separators=(",", ":"))
    return f"const FILES = {text};\nconst AHEAD = {AHEAD};\n{shared_file('site/worker.js')}".encode()


def web_manifest(title: str) -> bytes:
    """Write the web app manifest (W3C, Web Application Manifest) of a site of this title."""
    data = {
        "name": title,
        "short_name": title,
        "id": START,
        "start_url": START,
        "scope": "./",
        "display": "standalone",
        "background_color": LIGHT.paper,
        "theme_color": LIGHT.paper,
        "icons": [{"src": ICON, "sizes": "any", "type": "image/svg+xml", "purpose": "any"}],
    }
    return json.dumps(data, ensure_ascii=False, indent=1).encode() + b"\n"
