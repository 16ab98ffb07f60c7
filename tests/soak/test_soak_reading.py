"""Reading records: every way to write time, and everything that may be wrong with one."""

from contextlib import suppress
from datetime import UTC, datetime
from itertools import chain, repeat

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlore.soak import DateOrderError, LogLook, Pattern, RecordError, find_kind, read_record
from benchlore.soak.supply import MOST_WINDOWS

NOW = datetime(2026, 11, 26, 20, tzinfo=UTC)


def read(text, **look):
    return read_record(text.strip("\n").split("\n"), LogLook(**look), now=NOW)


def seconds(text, **look):
    record = read(text, **look)
    assert record.from_event
    assert record.to_event
    return record.events.tolist()


@pytest.mark.parametrize(
    ("first", "second", "apart"),
    [
        ("2026-11-26T19:54:20", "2026-11-26T19:57:22", 182),
        ("2026-11-26 19:54", "2026-11-26 20:00", 360),
        ("2026-11-26T19:54:20Z", "2026-11-26T20:57:22+01:00", 182),
        ("2026-11-26 19:54:20.250 +0100", "2026-11-26 19:54:20.750 +0100", 0.5),
        ("26.11.2026 19:54", "26.11.2026 20:00", 360),
        ("3.1.2026 9:54", "3.1.2026 10:00", 360),
        ("11/25/2026 11:59 PM", "11/26/2026 12:01 AM", 120),
        ("25/11/26 23:59", "26/11/26 00:01", 120),
        ("Nov 26 19:54:20", "Nov 26 19:57:22", 182),
        ("<13>Nov  9 19:54:20 tablet boot: x", "<13>Nov 10 19:54:20 tablet boot: x", 86400),
        ("1790000000", "1790000182", 182),
        ("t=1790000000500 boot", "t=1790000182500 boot", 182),
        ("0:03:02", "0:06:04", 182),
        ("100:00:00 restart", "100:03:02 restart", 182),
        ("12.5", "194.5", 182),
        ("12,5", "194,5", 182),
    ],
)
def test_times_as_logs_write_them(first, second, apart):
    assert seconds(f"{first}\n{second}") == [pytest.approx(apart)]


def test_a_year_that_is_left_out_is_counted_on_over_new_year():
    record = read("Dec 31 23:59:00 boot\nJan  1 00:02:00 boot\nJan  1 00:05:00 boot")
    assert record.events.tolist() == [180, 360]
    assert record.began == datetime(2025, 12, 31, 23, 59, tzinfo=UTC)


def test_an_order_of_dates_is_found_where_one_date_tells():
    assert seconds("01/02/2026 10:00\n02/02/2026 10:00\n13/02/2026 10:00") == [86400, 12 * 86400]
    assert seconds("01/02/2026 10:00\n02/13/2026 10:00") == [42 * 86400]


def test_an_order_of_dates_is_found_where_only_one_is_in_order():
    record = read("01/03/2026 10:00\n02/03/2026 10:00\n01/04/2026 10:00")
    assert record.events.tolist() == [86400, 31 * 86400]
    assert "day first" in str(record.remarks[0])


def test_an_order_of_dates_that_nothing_tells_is_asked_for():
    text = "01/02/2026 10:00\n02/02/2026 10:00\n03/02/2026 10:00"
    with pytest.raises(DateOrderError, match="line 1: '01/02/2026 10:00' can be day first or month first"):
        read(text)
    assert seconds(text, dates="day first") == [86400, 2 * 86400]
    assert seconds(text, dates="month first") == [31 * 86400, 59 * 86400]


def test_dates_that_no_one_order_can_read_are_refused():
    with pytest.raises(RecordError, match=r"line 2: .*only day first, and another only month first"):
        read("13/02/2026 10:00\n02/13/2026 10:00")


def test_mixed_zones_are_refused_with_the_line():
    with pytest.raises(RecordError, match="line 3: '2026-11-26T19:06:04' has no zone") as caught:
        read("2026-11-26T19:00:00Z\n2026-11-26T20:03:02+01:00\n2026-11-26T19:06:04")
    assert caught.value.line == 3


def test_mixed_forms_are_refused_with_the_line():
    with pytest.raises(RecordError, match="line 2: its time is written as date and time"):
        read("2026-11-26 19:00\n26.11.2026 19:05\n2026-11-26 19:07")


def test_unordered_doubled_and_future_times_are_told():
    record = read("2026-11-26 19:00\n2026-11-26 18:00\n2026-11-26 18:00\n2027-11-26 18:00\n2026-11-26 18:30")
    told = [str(remark) for remark in record.remarks]
    assert told[0].startswith("line 2: 2 times stand before the one above; sorted")
    assert told[1].startswith("line 3: 1 event at the very time of another")
    assert told[2].startswith("line 4: 1 event lies in the future")
    assert (np.diff(record.events) > 0).all()


def test_marks_say_when_the_device_was_watched():
    record = read(
        "2026-11-26 10:00 on\n2026-11-26 10:10\n2026-11-26 11:00 off\n2026-11-26 12:00 on\n"
        "2026-11-26 12:30 restart\n2026-11-26 13:00 off"
    )
    assert record.spans == ((0.0, 3600.0), (7200.0, 10800.0))
    assert record.events.tolist() == [600.0, 9000.0]
    assert not record.from_event
    assert not record.to_event


def test_a_soak_without_a_restart_is_a_record():
    record = read("0:00:00 on\n8:00:00 off")
    assert (record.count, record.watched) == (0, 8 * 3600)


def test_events_while_nobody_watched_are_left_out_and_told():
    record = read("0:00:00 on\n0:10:00 x\n1:00:00 off\n1:30:00 x\n2:00:00 on\n3:00:00 off")
    assert record.events.tolist() == [600.0]
    assert "1 event while nobody watched" in str(record.remarks[-1])


def test_lines_are_restarts_only_where_they_match():
    record = read(
        "2026-11-26 10:00 charging\n2026-11-26 10:10 BOOT cold\n2026-11-26 10:20 BOOT cold\n2026-11-26 11:00 idle",
        match="BOOT",
    )
    assert record.events.tolist() == [600.0, 1200.0]
    assert record.watched == 3600.0


def test_seconds_since_boot_fall_where_it_restarts():
    record = read(
        "[    0.10] start\n[  100.50] x\n[    0.20] start\n[  180.00] x\n[    0.10] start\n[    9.00] x"
    )
    assert record.events.tolist() == pytest.approx([100.4, 280.4])
    assert "is not known" in str(record.remarks[-1])


@pytest.mark.parametrize("bits", [16, None])
def test_counters_that_begin_again_are_counted_on(bits):
    assert seconds("65000\n200\n900", tick=0.5, bits=bits) == [368.0, 718.0]


def test_a_table_has_covariates_and_rows_that_are_no_restart():
    record = read(
        "Time;What;Temperature;Charger\n2026-11-26 19:00;;20,5;no\n2026-11-26 19:10;restart;30;no\n"
        "2026-11-26 19:20;;41;yes\n2026-11-26 19:40;;20;yes"
    )
    assert record.events.tolist() == [600.0]
    assert record.watched == 2400.0
    temperature, charger = record.covariates
    assert temperature.values.tolist() == [20.5, 30, 41, 20]
    assert (charger.words, charger.values.tolist()) == (("no", "yes"), [0, 0, 1, 1])


def test_a_table_may_have_date_and_time_apart():
    record = read("date,time\n26.11.2026,19:00\n26.11.2026,19:10\n26.11.2026,19:30")
    assert record.events.tolist() == [600, 1800]


def test_a_word_that_is_no_kind_of_line_is_refused():
    with pytest.raises(RecordError, match="line 3: 'explosion' is no kind of line; write restart, on, off"):
        read("time,what\n5,restart\n6,explosion")


def test_lines_without_a_time_are_passed_over_and_told():
    record = read("2026-11-26 19:00 boot\n   stack trace\n2026-11-26 19:10 boot\n2026-11-26 19:20 boot")
    assert record.count == 2
    assert "line 2: 1 line has no time; passed over" in map(str, record.remarks)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "it is empty"),
        ("# only a remark", "it is empty"),
        ("hello\nworld", "line 1: no time is found in most of the first 2 lines"),
        ("2026-11-26 19:00:00", "it has one time only; two restarts are needed"),
        ("2026-02-30 19:00\n2026-02-30 19:10", "line 1: '2026-02-30 19:00' is no date and time"),
        ("25:99:00\nx", "no time is found"),
        ("time;what\nyesterday;restart", "line 2: the column 'time' holds no times"),
        ("time;current\n1;0\n2;0\n3;0\n4;0", "the current is never above zero"),
    ],
)
def test_what_is_no_record_is_refused_in_plain_words(text, message):
    with pytest.raises(RecordError, match=message):
        read(text)


def test_too_many_restarts_are_refused_with_advice(monkeypatch):
    monkeypatch.setattr("benchlore.soak.gather.MOST_EVENTS", 50)
    with pytest.raises(RecordError, match="line 51: more than 50 lines count as restarts; say by --match"):
        read("\n".join(f"{k}.5" for k in range(60)))


def test_a_long_log_streams_past_and_tells_how_far_it_is():
    told = []
    quiet = repeat("2026-11-26 19:30 idle\n", 150_000)
    lines = chain(["2026-11-26 19:00 BOOT\n", "2026-11-26 19:10 BOOT\n"], quiet)
    record = read_record(lines, LogLook(match="BOOT"), now=NOW, progress=told.append)
    assert record.watched == 1800
    assert told == [65536, 131072, 150_002]


def test_a_covariate_with_too_many_samples_is_thinned(monkeypatch):
    monkeypatch.setattr("benchlore.soak.gather.MOST_SAMPLES", 64)
    rows = [f"{k}.0;{'restart' if k % 50 == 0 else ''};{k}" for k in range(1000)]
    covariate = read("\n".join(["time;what;load", *rows])).covariates[0]
    assert len(covariate.times) < 64
    assert covariate.times.tolist() == covariate.values.tolist()


def supply_rows(drops, off=(7000.0, 7300.0)):
    rng = np.random.default_rng(3)
    times = np.arange(0, 10_000, 0.5)
    amps = 0.45 + 0.03 * rng.normal(size=len(times))
    for drop in drops:
        amps[(times >= drop) & (times < drop + 1.5)] = 0.01
        amps[(times >= drop + 1.5) & (times < drop + 4)] = 0.9
    amps[(times >= off[0]) & (times < off[1])] = 0.0
    yield "time;volts;current"
    yield from (
        f"{time};3.80;{max(amp, 0):.3f}" for time, amp in zip(times.tolist(), amps.tolist(), strict=True)
    )


def test_a_supplys_log_shows_restarts_and_time_off():
    record = read_record(supply_rows([600, 1500, 4000, 4100, 9000]), now=NOW)
    assert record.events == pytest.approx([600, 1500, 4000, 4100, 9000], abs=1.1)
    assert np.array(record.spans) == pytest.approx(np.array([[0, 7000], [7300, 10_000]]), abs=1.1)
    assert "A board that sleeps looks the same" in str(record.remarks[-1])
    assert MOST_WINDOWS <= 20_000


@settings(max_examples=60)
@given(
    st.lists(st.integers(1, 10**6), min_size=2, max_size=12),
    st.sampled_from(["iso", "epoch", "clock", "number"]),
)
def test_whatever_the_form_the_same_record_comes_back(gaps, form):
    times = np.cumsum(gaps).tolist()

    def written(t):
        if form == "iso":
            return datetime.fromtimestamp(1_700_000_000 + t, UTC).isoformat()
        if form == "epoch":
            return str(1_700_000_000 + t)
        return f"{t // 3600}:{t // 60 % 60:02}:{t % 60:02}" if form == "clock" else f"{t}"

    record = read_record([written(t) for t in times])
    assert record.events.tolist() == [t - times[0] for t in times[1:]]


@settings(max_examples=60)
@given(st.text(max_size=200), st.sampled_from([None, "x"]))
def test_nonsense_is_read_or_refused_and_never_crashes(text, match):
    lines = ["2026-11-26 19:00", *text.split("\n"), "2026-11-26 19:10 x"]
    with suppress(RecordError):
        find_kind(read_record(lines, LogLook(match=match), now=NOW))


def test_a_log_of_a_supervisor_is_found_to_be_a_clock():
    lines = [f"Nov 26 19:{3 * k:02}:{2 * k:02} tablet kernel: boot" for k in range(12)]
    assert find_kind(read_record(lines, now=NOW)).pattern is Pattern.FIXED
