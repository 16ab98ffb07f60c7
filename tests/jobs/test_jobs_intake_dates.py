from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils.datetime import CALENDAR_MAC_1904, to_excel

from benchlore.jobs.intake.dates import DateError, parse_date, parse_serial
from benchlore.jobs.intake.mapping import DateOrder

DAYS = st.dates(date(1970, 1, 1), date(2099, 12, 31))


@pytest.mark.parametrize(
    "text",
    [
        "2026-02-03",
        "2026-2-3",
        "20260203",
        "2026/02/03",
        "2026.2.3",
        "03.02.2026",
        "3. 2. 2026",
        "3.2.26",
        "3 Feb 2026",
        "3. Februar 2026",
        "3-feb-26",
        "3. Feb. 2026",
        "Feb 3, 2026",
        "February 3rd 2026",
        "3 février 2026",
        "3 de febrero de 2026",
        "2026 Feb 3",
        "Di., 3. Feb. 2026",
        "Tuesday, 3 February 2026",
        "2026-02-03T14:22:05Z",
        "2026-02-03 14:22",
        "3.2.2026 14:22",
        "2026-02-03T14:22:05.123+01:00",
        " 2026-02-03 ",
    ],
)
def test_a_date_that_can_be_read_in_one_way_needs_no_order(text: str) -> None:
    assert parse_date(text) == date(2026, 2, 3)


def test_the_order_settles_what_can_be_read_in_two_ways() -> None:
    assert parse_date("3/2/2026", DateOrder.DAY_FIRST) == date(2026, 2, 3)
    assert parse_date("3/2/2026", DateOrder.MONTH_FIRST) == date(2026, 3, 2)
    assert parse_date("26/2/3", DateOrder.YEAR_FIRST) == date(2026, 2, 3)
    with pytest.raises(DateError, match="may be 2026-02-03 or 2026-03-02") as caught:
        parse_date("3/2/2026")
    assert caught.value.hint == "say in the mapping which it is, such as 'dates: day first'"


def test_without_an_order_only_one_reading_may_make_sense() -> None:
    assert parse_date("25/2/2026") == date(2026, 2, 25)
    assert parse_date("2/25/2026") == date(2026, 2, 25)
    assert parse_date("3/3/2026") == date(2026, 3, 3)
    with pytest.raises(DateError, match="may be 2005-04-26 or 2026-04-05"):
        parse_date("26/4/5".replace("5", "05"))


def test_two_digit_years_from_70_on_are_of_the_last_century() -> None:
    assert parse_date("1.2.69", DateOrder.DAY_FIRST).year == 2069
    assert parse_date("1.2.70", DateOrder.DAY_FIRST).year == 1970


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("31.02.2026", "is not in the calendar"),
        ("2026-13-01", "is not in the calendar"),
        ("13/13/2026", "is not in the calendar"),
        ("1.1.1066", "has the year 1066"),
        ("2026-02-03 teatime", "is no date"),
        ("yesterday", "is no date"),
        ("3 ju 2026", "is no date"),  # June or July
        ("2.2026", "is no date"),
        ("1.2.3", "is no date"),
        ("9" * 5000, "is no date"),
        ("", "is no date"),
    ],
)
def test_what_is_no_date_is_refused(text: str, message: str) -> None:
    with pytest.raises(DateError, match=message):
        parse_date(text)


@given(DAYS)
def test_iso_dates_are_read_as_the_standard_library_reads_them(day: date) -> None:
    # ISO 8601 calendar dates, by datetime.date.isoformat.
    assert parse_date(day.isoformat()) == day


@given(DAYS, st.sampled_from(["%d.%m.%Y", "%d/%m/%Y", "%d-%m-%Y"]))
def test_day_first_reads_what_strftime_wrote(day: date, form: str) -> None:
    assert parse_date(day.strftime(form), DateOrder.DAY_FIRST) == day


@given(DAYS, st.sampled_from(["%d %b %Y", "%B %d, %Y", "%d %B %Y"]))
def test_month_names_read_what_strftime_wrote(day: date, form: str) -> None:
    # English names in the C locale, as the C standard's strftime gives them.
    assert parse_date(day.strftime(form)) == day


@given(st.dates(date(1970, 1, 1), date(2099, 12, 31)))
def test_serial_numbers_are_those_of_a_spreadsheet(day: date) -> None:
    # openpyxl's to_excel, an independent implementation of the 1900 and 1904 date systems.
    stamp = datetime(day.year, day.month, day.day)  # noqa: DTZ001  spreadsheets know no time zone
    assert parse_serial(str(int(to_excel(stamp)))) == day
    since_1904 = int(to_excel(stamp, CALENDAR_MAC_1904))
    if since_1904 >= 25569:
        assert parse_serial(str(since_1904), from_1904=True) == day


def test_other_numbers_are_no_serial_numbers() -> None:
    assert parse_serial("46056.5") == date(2026, 2, 3)
    assert [parse_serial(text) for text in ("117", "99999", "460560", "4605a", "")] == [None] * 5
