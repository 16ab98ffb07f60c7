import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlore.jobs.intake.names import Found, Names, NotFound
from benchlore.jobs.intake.words import fold

KNOWN = {
    "l1204-joint": ("Cracked joint under inductor L1204", "kalte Lötstelle L1204"),
    "u7-corroded": ("U7 corroded",),
    "u8-corroded": ("U8 corroded",),
    "vsys-short": ("Short at VSYS",),
    "vbys-short": ("Short at VBYS",),
    "even": (),
    "uneven": (),
}
NAMES = Names("fault of halden-t4", KNOWN, {"Wasser": "u7-corroded", "Sonst*": "even", "Sonstige*": "uneven"})


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("l1204-joint", "l1204-joint"),
        ("  L1204   JOINT ", "l1204-joint"),
        ("Cracked joint under inductor L1204", "l1204-joint"),
        ("KALTE LOTSTELLE L1204", "l1204-joint"),
        ("kalte_Lötstelle-L1204", "l1204-joint"),
        ("U7 Corroded", "u7-corroded"),
        ("wasser", "u7-corroded"),
        ("Sonst: rat bite", "even"),
        ("sonstiges", "uneven"),
    ],
)
def test_a_text_names_what_it_says_whatever_its_case_accents_and_spaces(text: str, name: str) -> None:
    assert NAMES.find(text) == Found(name)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("U7 coroded", "u7-corroded"),
        ("kalte Löttstelle L1204", "l1204-joint"),
        ("kalte Loetstelle L1204", "l1204-joint"),
        ("cracked jiont under inductor L1204", "l1204-joint"),
    ],
)
def test_a_slip_of_the_pen_is_understood_and_told(text: str, name: str) -> None:
    assert NAMES.find(text) == Found(name, is_close=True)


@pytest.mark.parametrize(
    "text",
    [
        "U9 corroded",  # another part
        "cracked joint under inductor L1205",
        "Short at VXYS",  # another net
        "evenn",  # too short to be a slip
        "unevenn even",
        "joint",
        "",
        "???",
        "x" * 5000,
    ],
)
def test_another_part_or_net_is_never_close(text: str) -> None:
    assert isinstance(NAMES.find(text), NotFound)


def test_a_different_first_letter_is_never_close() -> None:
    names = Names("result", {"repaired": (), "normal-mark": ()})
    assert isinstance(names.find("unrepaired"), NotFound)
    assert isinstance(names.find("abnormal mark"), NotFound)


def test_two_names_that_are_nearly_as_close_are_not_chosen_between() -> None:
    names = Names("fault", {"cracked-joint-left": (), "cracked-joint-lift": ()})
    assert isinstance(names.find("cracked joint laft"), NotFound)


def test_a_text_that_fits_two_names_is_refused() -> None:
    names = Names("fault", {"a-short": ("dead short",), "b-short": ("Dead Short",)})
    assert names.find("DEAD short") == NotFound(
        "'DEAD short' may be 'a-short' or 'b-short'", "use the name itself"
    )
    assert names.find("dead short") == Found("a-short")


def test_the_mappings_words_come_first() -> None:
    names = Names("result", {"wet": (), "dry": ()}, {"wet": "dry"})
    assert names.find("wet") == Found("dry")


def test_a_word_for_a_name_that_this_book_lacks_is_refused() -> None:
    found = Names("fault of orme-k2", {"c5-short": ()}, {"Wasser": "u7-corroded"}).find("Wasser")
    assert found == NotFound(
        "'Wasser' stands for 'u7-corroded', which is no fault of orme-k2", "there is 'c5-short'"
    )


def test_what_is_not_found_comes_with_the_nearest_name() -> None:
    assert NAMES.find("U9 corroded") == NotFound(
        "'U9 corroded' is no fault of halden-t4", "did you mean 'u7-corroded'?"
    )
    assert NAMES.find("kalte Stelle L1204") == NotFound(
        "'kalte Stelle L1204' is no fault of halden-t4",
        "did you mean 'l1204-joint' (kalte Lötstelle L1204)?",
    )


@given(st.sampled_from([*KNOWN, *(title for titles in KNOWN.values() for title in titles)]), st.randoms())
def test_case_and_spaces_never_matter(text: str, random: object) -> None:
    shuffled = "".join(letter.upper() if random.random() < 0.5 else letter.lower() for letter in text)
    expected = NAMES.find(text)
    assert isinstance(expected, Found)
    assert NAMES.find(f" {shuffled.replace(' ', '  ')} ") == expected


@given(st.text(max_size=40))
def test_folding_twice_changes_nothing(text: str) -> None:
    assert fold(fold(text)) == fold(text)


@given(st.text(max_size=60))
def test_whatever_the_text_the_answer_is_known_or_a_reason(text: str) -> None:
    found = NAMES.find(text)
    assert found.name in KNOWN if isinstance(found, Found) else found.message


@pytest.mark.parametrize(
    ("known", "text"),
    [
        ("rail-2-is-low", "rail 3 is low"),  # another rail
        ("Reset stuck at VSYS", "reset stuck at vsis"),  # the book writes a net
        ("reset-stuck-at-vsys", "reset stuck at VSIS"),  # the bench writes one
    ],
)
def test_numbers_and_nets_are_told_apart_even_where_nothing_else_is_near(known: str, text: str) -> None:
    assert isinstance(Names("fault", {"x": (known,)}).find(text), NotFound)
