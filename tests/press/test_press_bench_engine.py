"""The page's engine gives what the Python gives, in node and in a real browser."""

import json
import shutil
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from bench_vectors import (
    planned_vector,
    random_board,
    random_situation,
    random_vectors,
    set_up_vectors,
    vector,
    wide_vector,
    written,
)
from in_node import in_node

from benchlore.library import Bench, evidence_of, learn_board, open_library, sound_shop_of
from benchlore.library.desk_belief import proves
from benchlore.press.bench_data import bench_data
from benchlore.press.page_bench import bench_script, page_bench
from benchlore.press.script import ScriptError, joined
from benchlore.procedure import Limits, instance_of, plan
from benchlore.units import (
    Measure,
    UnitError,
    format_quantity,
    money,
    parse_reading,
    share,
    spellings_of,
)

HERE = Path(__file__).parent
CHECK = (HERE / "bench_check.js").read_text(encoding="utf-8")
LEAST = 10_000
"""Numbers that a comparison must have looked at, so that it cannot pass by looking at none."""


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo's books, as they stand without any record: of each complaint book, model and shop."""
    folder = tmp_path_factory.mktemp("demo") / "library"
    shutil.copytree(str(files("benchlore") / "demo"), folder, ignore=shutil.ignore_patterns("intake"))
    library = open_library(folder)
    shop = sound_shop_of(library, None)
    learned = [learn_board(library, board) for board in library.boards()]
    return [(each.book, model, shop) for each in learned for model in each.models.values()]


@pytest.fixture(scope="module")
def vectors(demo):
    """Boards with all that a book can say; ranked exactly, by look-ahead, and along a plan."""
    rng = np.random.default_rng(3)
    told = [[random_situation(model, shop, rng) for _ in range(2)] for _, model, shop in demo]
    books = [vector(model, shop, some) for (_, model, shop), some in zip(demo, told, strict=True)]
    many_setups = [*set_up_vectors(3, more_setups=30), *set_up_vectors(4, more_setups=58)]
    found = [*random_vectors(range(8)), *random_vectors(range(8, 14), memory=0), wide_vector(1)]
    return [*books, *found, *many_setups, *(planned_vector(seed) for seed in range(2))]


def test_the_vectors_hold_every_kind_of_answer(vectors):
    advice = [case["advice"] for vector in vectors for case in vector["cases"]]
    assert {each["method"] for each in advice} == {"exact", "look-ahead"}
    assert {each["options"][0]["kind"] for each in advice} == {"check", "fix", "return"}
    assert any(each["options"][0]["method"] == "plan" for each in advice)
    assert any(each["conflict"] for each in advice)
    assert any(each["goOn"] and each["goOn"]["surer"] for each in advice)
    assert any(option["soak"] > 20 for each in advice for option in each["options"])


def test_node_computes_what_python_computes(vectors, tmp_path):
    (tmp_path / "vectors.json").write_text(written(vectors), encoding="utf-8")
    (tmp_path / "check.mjs").write_text(CHECK, encoding="utf-8")
    run = (
        "import {readFileSync} from 'node:fs'; import {checked} from './check.mjs';"
        "const vectors = JSON.parse(readFileSync('vectors.json', 'utf-8'));"
        "console.log(JSON.stringify(checked({...$model, ...$position, ...$advice}, vectors)));"
    )
    _same(in_node(tmp_path, run, NAMES))


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


READINGS = [
    "4k7",
    "0R33",
    "R47",
    "3V3",
    "2u2",
    "470R",
    "4.7kohm",
    "4.7",
    "0,33",
    "1,234",
    "1,234,567",
    "1.234,5",
    "1'234.5",
    "-0.5",
    "-0R5",
    "-4k7",
    "-300",
    "-0",
    "1e15",
    "2e15",
    "-2e15",
    "+3",
    "OL",
    "0L",
    "o.l",
    "open",
    "short",
    "12e-3",
    "3.3V",
    "50mV",
    "50MV",
    "50mv",
    "5KOHM",
    "1e400",
    "nonsense",
    "3,3,3",
    "4kk7",
    "12MHz",
    "12mhz",
    "1M",
    "1m",
    "85°C",
    "358K",
    "25min",
    "1.5h",
    "20ms",
    "∞",
    "−5",
    "1µ",
    "7Ω",
    "3x",
    "1 234 567",
    "3.3 volts",
    "4.7 kilo ohm",
    "1 2",
    "overload V",
    "",
    "85 °C",
    "20 msec",
    "12 M Hz",
    "2 microfarad",
]


def test_readings_are_read_and_written_as_python_does(tmp_path):
    asked = [
        (text, str(measure), {"example": "", **spellings_of(measure)})
        for measure in Measure
        for text in READINGS
    ]
    (tmp_path / "asked.json").write_text(json.dumps(asked), encoding="utf-8")
    run = """
        import {readFileSync} from "node:fs";
        const said = JSON.parse(readFileSync("asked.json", "utf-8")).map(([text, measure, spelt]) => {
            try {
                const value = $units.readingOf(text, measure, spelt);
                return [String(value), $units.quantityText(value, measure, spelt)];
            } catch { return null; }
        });
        console.log(JSON.stringify(said));
    """
    for (text, measure, _), said in zip(asked, in_node(tmp_path, run, ["units"]), strict=True):
        try:
            value = parse_reading(text, Measure(measure))
        except UnitError:
            value = None
        where = f"{text!r} as {measure}"
        assert (said is None) == (value is None), where
        if value is not None:
            assert float(said[0].replace("Infinity", "inf")) == pytest.approx(value, rel=1e-12), where
            assert said[1] == format_quantity(value, Measure(measure)), where


def test_amounts_and_shares_are_printed_as_python_does(tmp_path):
    numbers = [
        0,
        -1e-9,
        0.125,
        0.375,
        2.675,
        1234567.891,
        -3.005,
        0.5,
        1,
        0.9996,
        0.994,
        0.995,
        0.004,
        0.0004,
        1e-9,
        0.105,
        0.025,
    ]
    said = "[$words.money(x, 'EUR', 2), $words.money(x, 'JPY', 0), $words.share(x)]"
    run = f"console.log(JSON.stringify({numbers}.map((x) => {said})));"
    assert in_node(tmp_path, run, ["words"]) == [
        [money(x, "EUR"), money(x, "JPY"), share(x)] for x in numbers
    ]


def test_a_retest_proves_in_the_page_what_it_proves_at_the_desk(tmp_path):
    rng = np.random.default_rng(5)
    model, shop = random_board(5)
    model = replace(model, fixes=tuple(replace(fix, gates=()) for fix in model.fixes))
    names = [check.name for check in model.checks if check.densities is None]
    bench = Bench(
        readings=tuple((name, str(rng.choice(model.checks[int(name[1:])].results))) for name in names[:2])
    )
    evidence = evidence_of(model, bench)
    data = bench_data(model, shop, instance_of(model, shop), None)
    minutes = [0.0, 7.5, model.retest.waits, 300.0]
    asked = json.dumps({"readings": evidence.readings, "values": [], "failed": [], "passed": []})
    run = (
        f"const model = $model.laidOut({json.dumps(data)});"
        f"console.log(JSON.stringify({minutes}.map((t) => $journal.proves(model, {asked}, [0, 1], t))));"
    )
    for t, said in zip(minutes, in_node(tmp_path, run, ["model", "journal"]), strict=True):
        expected = proves(model, bench, [0, 1], t)
        assert said["cured"] == pytest.approx(expected.cured, abs=1e-9)
        assert said["overlooked"] == pytest.approx(expected.overlooked, abs=1e-9)


def test_where_a_job_leaves_the_steps_that_a_page_holds_the_engine_ranks_by_itself(tmp_path, monkeypatch):
    monkeypatch.setattr("benchlore.press.bench_data.MOST_STEPS", 2)
    model, shop = random_board(1, checks=4, fixes=3)
    procedure = plan(model, shop, limits=Limits(nodes=500))
    first = procedure.steps[0]
    assert len(procedure.steps) > 3
    assert first.kind == "check"
    check = [each.name for each in model.checks].index(first.action)
    data = bench_data(model, shop, instance_of(model, shop), procedure)
    asked = [[], *([[check, r]] for r in range(len(first.branches)))]
    run = f"""
        const model = $model.laidOut({json.dumps(data)});
        const prepared = $position.prepare(model);
        const rest = {{setups: [], unclear: [], skipped: [], without: [], budget: null}};
        console.log(JSON.stringify({asked}.map((readings) => {{
            const evidence = {{readings, values: [], failed: [], passed: []}};
            const {{options: [best]}} = $advice.advise(prepared, {{evidence, ...rest}}, model.plan);
            return [best.method, best.outlooks.map((each) => Number.isFinite(each.expected))];
        }})));
    """
    (method, outlooks), *after = in_node(tmp_path, run, NAMES)
    assert (method, set(outlooks)) == ("plan", {True})
    assert [method for method, _ in after].count("plan") <= 1
    assert "exact" in [method for method, _ in after]


def test_a_bench_with_its_model_and_the_engine_is_small(demo):
    """Books of twenty faults and thirty checks; their procedures add 11 to 18 kB (docs/page-bench.md)."""
    assert [len(model.faults) for _, model, _ in demo] == [21, 21, 21, 21]
    for book, model, shop in demo:
        fragment = page_bench(book, model, shop, None).fragment
        assert len(fragment.encode()) + len(bench_script().encode()) < 205_000


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
