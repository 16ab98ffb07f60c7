"""Answers that take long are worked out once, and kept as long as there is room."""

from benchlore.web.work import MOST_KEPT, Answers


def test_as_many_answers_are_kept_as_is_said_and_the_oldest_goes():
    answers, worked = Answers(), []

    def ask(key):
        asked = answers.ask(key, lambda _: worked.append(key))
        asked.wait(5)
        assert not asked.is_running

    for key in range(MOST_KEPT):
        ask(str(key))
    for key in range(MOST_KEPT):
        ask(str(key))
    assert len(worked) == MOST_KEPT
    ask("one more")
    ask("0")
    assert worked[MOST_KEPT:] == ["one more", "0"]
