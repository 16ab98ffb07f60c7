import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.units import CHANCE_WORDS, Chance, UnitError, parse_chance


@pytest.mark.parametrize(
    ("text", "probability"),
    [
        ("85 %", 0.85),
        ("85%", 0.85),
        ("85 percent", 0.85),
        ("99,5 %", 0.995),
        ("0.5 %", 0.005),
        ("100 %", 1.0),
        ("0.85", 0.85),
        ("0,85", 0.85),
        (".85", 0.85),
        ("1", 1.0),
        ("0", 0.0),
        (1, 1.0),
        (0, 0.0),
        (0.3, 0.3),
    ],
)
def test_a_share_or_percentage_has_no_number_of_boards(text, probability):
    assert parse_chance(text) == Chance(pytest.approx(probability), None)


@pytest.mark.parametrize(
    "text", ["17 of 20", "17/20", "17 out of 20", "17 in 20", "17 of my last 20 boards", "17 of the 20 jobs"]
)
def test_a_count_says_how_many_boards_stand_behind_it(text):
    assert parse_chance(text) == Chance(0.85, 20.0)


def test_none_and_all_of_the_boards_are_counts_too():
    assert parse_chance("0 of 20") == Chance(0.0, 20.0)
    assert parse_chance("20 of 20") == Chance(1.0, 20.0)


@pytest.mark.parametrize("text", ["almost always", "Almost  Always", " almost always "])
def test_a_word_has_its_number_and_no_boards(text):
    assert parse_chance(text) == Chance(CHANCE_WORDS["almost always"], None)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("85", "a percentage without its sign in '85'; write 85 %, or 0.85"),
        (85, "a percentage without its sign in '85'; write 85 %, or 0.85"),
        ("2.5", "write 2.5 %, or 0.025"),
        ("101 %", "between 0 and 100 %"),
        ("-5 %", "between 0 and 100 %"),
        ("-0.1", "between 0 and 100 %"),
        ("250", "between 0 and 100 %"),
        (math.nan, "between 0 and 100 %"),
        (math.inf, "between 0 and 100 %"),
        (10**400, "between 0 and 100 %"),
        ("21 of 20", "of all that were seen, such as 17 of 20"),
        ("0 of 0", "of all that were seen"),
        ("-1 of 20", "of all that were seen"),
        ("maybe", "cannot read 'maybe'; .*almost always"),
        ("", "nothing in ''"),
        (True, "cannot read 'true'"),
    ],
)
def test_what_is_no_chance_is_refused(text, message):
    with pytest.raises(UnitError, match=message):
        parse_chance(text)


def test_the_words_agree_with_the_survey():
    # F. Mosteller and C. Youtz, "Quantifying Probabilistic Expressions", Statistical Science 5 (1990) 2-34. The
    # interquartile ranges (per cent) and, from an independent reproduction of the averages, the means.
    quartiles = {
        "always": (99.6, 99.8),
        "almost always": (89.7, 95.2),
        "usually": (65.6, 82.2),
        "often": (65.0, 75.4),
        "sometimes": (17.5, 35.0),
        "occasionally": (12.5, 27.7),
        "seldom": (7.4, 17.5),
        "rarely": (3.6, 10.0),
        "almost never": (1.2, 4.6),
        "never": (0.1, 0.4),
    }
    means = [0.99, 0.91, 0.79, 0.69, 0.26, 0.22, 0.12, 0.07, 0.03, 0.01]
    assert list(CHANCE_WORDS) == list(quartiles)
    for (word, chance), mean in zip(CHANCE_WORDS.items(), means, strict=True):
        low, high = quartiles[word]
        assert low <= 100 * chance <= high
        assert chance == pytest.approx(mean, abs=0.04)


def test_the_words_run_from_likely_to_unlikely():
    assert list(CHANCE_WORDS.values()) == sorted(CHANCE_WORDS.values(), reverse=True)


@given(st.integers(0, 10_000), st.integers(1, 10_000))
def test_a_count_is_a_ratio(part, whole):
    if part > whole:
        part, whole = whole, part
    assert parse_chance(f"{part} of {whole}") == Chance(part / whole, whole)


SCRAPS = st.sampled_from([*"0123456789", *".,%/- ", "of", "in", "boards", "never", "almost", "e9"])


@given(
    st.one_of(
        st.text(), st.lists(SCRAPS, max_size=14).map("".join), st.floats(), st.integers(), st.booleans()
    )
)
def test_nothing_raises_anything_but_a_unit_error(text):
    try:
        chance = parse_chance(text)
    except UnitError:
        return
    assert 0 <= chance.probability <= 1
    assert chance.of is None or chance.of > 0
