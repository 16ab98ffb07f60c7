from dataclasses import replace

import pytest

from benchlore.library import Bench, ReadingError, ask, companion_of, kept_procedure, plan_complaint

BOARD, COMPLAINT = "my-board", "no-power"


@pytest.fixture
def planned(library):
    plan_complaint(library, BOARD, COMPLAINT)
    return library


def test_where_a_procedure_is_kept_its_first_step_and_cost_are_the_answer(planned):
    procedure = kept_procedure(planned, BOARD, COMPLAINT).procedure
    best = ask(planned, BOARD, COMPLAINT, Bench()).advice.best
    assert (best.action, best.expected, best.method) == (
        procedure.steps[0].action,
        procedure.expected,
        "plan",
    )


def test_nothing_is_quoted_where_nothing_was_planned(library):
    assert ask(library, BOARD, COMPLAINT, Bench()).advice.best.method != "plan"


def test_a_procedure_that_is_out_of_date_is_not_quoted(planned):
    text = planned.shop_file.read_text()
    assert "hour: " in text
    planned.shop_file.write_text(text.replace("\nhour: ", "\nhour: 1"))
    assert ask(planned, BOARD, COMPLAINT, Bench()).advice.best.method != "plan"


def test_a_skip_leaves_the_plan(planned):
    first = ask(planned, BOARD, COMPLAINT, Bench()).advice.best.action
    advice = ask(planned, BOARD, COMPLAINT, Bench(skipped=(first,))).advice
    assert advice.best.method != "plan"
    assert first not in {option.action for option in advice.options}


def test_the_answer_says_back_where_the_job_stands(planned):
    bench = Bench((("rail-ohms", "unclear"),), budget=30.0)
    asked = ask(planned, BOARD, COMPLAINT, bench)
    assert [(read.check, read.text) for read in asked.readings] == [("rail-ohms", "unclear")]
    assert asked.situation.budget == 30.0
    assert asked.advice == ask(planned, BOARD, COMPLAINT, replace(bench)).advice


def test_a_companion_answers_many_questions_as_ask_answers_each(planned):
    companion = companion_of(planned, BOARD, COMPLAINT)
    first = companion.ask(Bench()).advice.best.action
    for bench in (Bench(), Bench(skipped=(first,)), Bench((("rail-ohms", "4k1"),)), Bench()):
        assert companion.ask(bench).advice == ask(planned, BOARD, COMPLAINT, bench).advice
    with pytest.raises(ReadingError, match="no check of that name"):
        companion.ask(Bench((("no-such", "1"),)))
