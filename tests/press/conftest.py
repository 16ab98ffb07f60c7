import os
from shutil import which

import pytest
from playwright.sync_api import sync_playwright


@pytest.fixture(scope="module")
def browser():
    """Debian's Chromium; where it is missing, its tests are skipped, and in CI they fail."""
    program = which("chromium")
    if program is None:
        said = "Chromium is missing, so no page was looked at: 'apt-get install chromium'"
        pytest.fail(said) if os.environ.get("CI") else pytest.skip(said)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=["--no-sandbox"])
        yield browser
        browser.close()
