"""Runs the page's own modules in node."""

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from benchlore.press.script import MODULES


def in_node(tmp_path, script, modules):
    """Run a script with the exports of some modules in it; what it prints as JSON."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("NODE IS MISSING: what a page computes is looked at in the browser only")
    taken = [f"import * as ${name} from '{Path(str(MODULES))}/{name}.js';" for name in modules]
    (tmp_path / "run.mjs").write_text("\n".join([*taken, script]), encoding="utf-8")
    said = subprocess.run(
        [node, "run.mjs"], cwd=tmp_path, capture_output=True, text=True, check=True, timeout=60
    )
    return json.loads(said.stdout)
