"""Problems and their places."""

from benchlore.notation import Position, Positions, Problem, Severity


def test_a_problem_prints_so_that_editors_can_jump_to_it():
    problem = Problem("b.yaml", Position(7, 3), "unknown-name", "no condition 'x'", Severity.WARNING)
    assert str(problem) == "b.yaml:7:3: warning: no condition 'x' [unknown-name]"


def test_a_problem_without_a_place_names_the_file():
    assert str(Problem("b.yaml", None, "r", "m")) == "b.yaml: error: m [r]"


def test_a_key_without_a_place_has_that_of_its_nearest_ancestor():
    positions = Positions("b.yaml", {("a",): Position(2, 1), ("a", 0): Position(3, 5)})
    assert positions.of(("a", 0, "x", "y")) == Position(3, 5)
    assert positions.of(("a", 1)) == Position(2, 1)
    assert positions.of(("z",)) is None
    assert positions.problem(("a", 1), "r", "m").position == Position(2, 1)
