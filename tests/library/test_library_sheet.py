from dataclasses import replace

import pytest

from benchlore.library import kept_plan, plan_complaint, sheet_of
from benchlore.procedure import RELEASE, Kind


@pytest.fixture
def kept(library):
    plan_complaint(library, "my-board", "no-power")
    return kept_plan(library, "my-board", "no-power")


def test_every_step_and_every_result_is_worded(kept):
    sheet = sheet_of(kept.procedure, kept.book, min_reach=0.0)
    assert len(sheet.steps) == len(kept.procedure.steps)
    for words, step in zip(sheet.steps, kept.procedure.steps, strict=True):
        assert [to.result for to in words.onward] == list(step.branches)
        assert sum(to.chance for to in words.onward) == pytest.approx(1.0 if step.branches else 0.0)
        for to, target in zip(words.onward, step.branches.values(), strict=True):
            assert (to.end == "release") == (target == RELEASE)
            assert to.step == (None if target == RELEASE else target + 1)
    assert sheet.left_out == ""


def test_rare_steps_are_left_out_and_counted(kept):
    sheet = sheet_of(kept.procedure, kept.book, min_reach=0.3)
    assert all(step.reach >= 0.3 for step in sheet.steps)
    assert sheet.hidden == len(kept.procedure.steps) - len(sheet.steps) > 0
    assert f"Not shown: {sheet.hidden} step" in sheet.left_out
    ends = {to.words for step in sheet.steps for to in step.onward if to.step is None}
    assert "release" in ends


def test_a_fix_says_how_to_try_again_and_cautions_stand_whole(kept):
    fixes = [step for step in sheet_of(kept.procedure, kept.book).steps if step.kind is Kind.FIX]
    assert fixes
    for step in fixes:
        assert "try the complaint again" in step.retest
        assert step.title.startswith("Fix: ")


def test_the_cost_says_whether_it_is_proven(kept):
    assert "optimal, proven" in sheet_of(kept.procedure, kept.book).cost
    bounded = replace(kept.procedure, proof="bounded", bound=kept.procedure.expected / 2)
    assert "within 100 % of the best possible" in sheet_of(bounded, kept.book).cost
