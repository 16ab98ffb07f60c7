"""The page's engine gives what the Python gives, in node and in a real browser."""

import json
import shutil
import subprocess
from pathlib import Path

import pytest
from bench_vectors import planned_vector, random_vectors, wide_vector, written

from benchlore.press.script import MODULES, ScriptError, joined

HERE = Path(__file__).parent
CHECK = (HERE / "bench_check.js").read_text(encoding="utf-8")
LEAST = 10_000
"""Numbers that a comparison must have looked at, so that it cannot pass by looking at none."""


@pytest.fixture(scope="module")
def vectors():
    """Boards with all that a book can say; ranked exactly, by look-ahead, and along a plan."""
    found = [*random_vectors(range(8)), *random_vectors(range(8, 14), memory=0), wide_vector(1)]
    return [*found, *(planned_vector(seed) for seed in range(2))]


def test_the_vectors_hold_every_kind_of_answer(vectors):
    advice = [case["advice"] for vector in vectors for case in vector["cases"]]
    assert {each["method"] for each in advice} == {"exact", "look-ahead"}
    assert {each["options"][0]["kind"] for each in advice} == {"check", "fix", "return"}
    assert any(each["options"][0]["method"] == "plan" for each in advice)
    assert any(each["conflict"] for each in advice)
    assert any(each["goOn"] and each["goOn"]["surer"] for each in advice)
    assert any(option["soak"] > 20 for each in advice for option in each["options"])


def test_node_computes_what_python_computes(vectors, tmp_path):
    node = shutil.which("node")
    if node is None:
        pytest.skip("NODE IS MISSING: the page's engine is compared in the browser only")
    (tmp_path / "vectors.json").write_text(written(vectors), encoding="utf-8")
    (tmp_path / "check.mjs").write_text(CHECK, encoding="utf-8")
    modules = [f"import * as m{k} from '{Path(str(MODULES))}/{name}.js';" for k, name in enumerate(NAMES)]
    run = (
        "import {readFileSync} from 'node:fs'; import {checked} from './check.mjs';"
        f"{''.join(modules)} const vectors = JSON.parse(readFileSync('vectors.json', 'utf-8'));"
        "console.log(JSON.stringify(checked({...m0, ...m1, ...m2}, vectors)));"
    )
    (tmp_path / "run.mjs").write_text(run, encoding="utf-8")
    said = subprocess.run(
        [node, "run.mjs"], cwd=tmp_path, capture_output=True, text=True, check=True, timeout=60
    )
    _same(json.loads(said.stdout))


NAMES = ("model", "position", "advice")


def test_a_browser_computes_what_python_computes_from_a_file(vectors, tmp_path, browser):
    check = CHECK.replace("export ", "")
    script = f"(() => {{{joined(*NAMES)}{check}\nglobalThis.checked = (v) => checked({{...$model, ...$position, ...$advice}}, v);\n}})();"
    page = tmp_path / "page.html"
    page.write_text(f"<!DOCTYPE html><title>Test</title><script>{script}</script>", encoding="utf-8")
    tab = browser.new_page()
    try:
        tab.goto(page.as_uri())
        _same(tab.evaluate("(text) => globalThis.checked(JSON.parse(text))", written(vectors)))
    finally:
        tab.close()


def _same(said):
    assert said["found"] == []
    assert said["compared"] > LEAST


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ('import all from "./other.js";\n', "import all from"),
        ("export { x };\n", "export { x }"),
        ("const t = `two\nlines`;\n", "backquotes"),
        ("const t = '</script>';\n", "ends a script"),
        ('import { a as b } from "./other.js";\n', "plain names"),
        ('import { a } from "./one.js";\n', "no ring"),
    ],
)
def test_a_module_that_cannot_be_joined_is_refused(tmp_path, text, complaint):
    (tmp_path / "one.js").write_text(text, encoding="utf-8")
    (tmp_path / "other.js").write_text("export const a = 1;\n", encoding="utf-8")
    with pytest.raises(ScriptError, match=complaint):
        joined("one", folder=tmp_path)


def test_modules_are_joined_behind_what_they_need(tmp_path):
    (tmp_path / "two.js").write_text(
        'import { a } from "./one.js";\n\n/** Twice. */\nexport const b = 2 * a;\n'
    )
    (tmp_path / "one.js").write_text("export const a = 21;\n", encoding="utf-8")
    assert joined("two", folder=tmp_path) == (
        "const $one=(()=>{\nconst a = 21;\nreturn {a};\n})();\n"
        "const $two=(()=>{\nconst {a}=$one;\nconst b = 2 * a;\nreturn {b};\n})();\n"
    )
