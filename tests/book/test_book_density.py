"""What a state shows, as a distribution of readings."""

from math import exp, isfinite, log

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from benchlore.book import density_of
from benchlore.units import Measure, Span, parse_span

LOG = ["resistance", "current", "capacitance", "inductance", "time", "count"]


def share_below(text: str, measure: Measure, bound: float) -> float:
    """The share of the density below ``bound`` by scipy.stats, which is the reference here."""
    density = density_of(parse_span(text, measure), measure)
    if density.log:
        return float(stats.lognorm(density.sd, scale=exp(density.mean)).cdf(bound))
    return float(stats.norm(density.mean, density.sd).cdf(bound))


@pytest.mark.parametrize("measure", list(Measure))
def test_measures_that_spread_by_factors_are_log_normal(measure):
    assert density_of(Span("between", 1.0, 2.0), measure).log == (measure in LOG)


@pytest.mark.parametrize(
    ("text", "measure", "low", "high"),
    [
        ("4.2 kohm ± 25 %", Measure.RESISTANCE, 3150, 5250),
        ("10 to 40 mA", Measure.CURRENT, 0.010, 0.040),
        ("3.85 V ± 50 mV", Measure.VOLTAGE, 3.8, 3.9),
        ("-5.2 to -4.8 V", Measure.VOLTAGE, -5.2, -4.8),
    ],
)
def test_95_of_100_readings_lie_inside_a_span(text, measure, low, high):
    assert share_below(text, measure, high) - share_below(text, measure, low) == pytest.approx(0.95, abs=1e-4)


@pytest.mark.parametrize(
    ("text", "measure", "bound", "below"),
    [
        ("below 12 ohm", Measure.RESISTANCE, 12, 0.975),
        ("above 1 Mohm", Measure.RESISTANCE, 1e6, 0.025),
        ("below 0.2 V", Measure.VOLTAGE, 0.2, 0.9772),
        ("above 3 V", Measure.VOLTAGE, 3, 0.0228),
        ("below -5 V", Measure.VOLTAGE, -5, 0.9772),
        ("above -5 V", Measure.VOLTAGE, -5, 0.0228),
        ("below 0 V", Measure.VOLTAGE, 0, 0.9772),
        ("above 0 V", Measure.VOLTAGE, 0, 0.0228),
    ],
)
def test_about_two_of_100_readings_lie_beyond_a_bound(text, measure, bound, below):
    assert share_below(text, measure, bound) == pytest.approx(below, abs=1e-4)


def test_a_log_normal_span_that_reaches_zero_starts_at_a_fiftieth_of_its_end():
    reaching = density_of(Span("between", 0.0, 5.0), Measure.RESISTANCE)
    assert reaching == density_of(Span("between", 0.1, 5.0), Measure.RESISTANCE)
    assert reaching.mean == pytest.approx((log(0.1) + log(5.0)) / 2)


def test_over_range_is_a_reading():
    assert density_of(parse_span("OL", Measure.RESISTANCE), Measure.RESISTANCE).over == 0.98
    assert density_of(parse_span("1 ohm ± 5 %", Measure.RESISTANCE), Measure.RESISTANCE).over == 0.002


@given(
    st.sampled_from(["around", "between", "below", "above", "over range"]),
    st.floats(-1e12, 1e12),
    st.floats(0, 1e12),
    st.sampled_from(list(Measure)),
)
def test_every_span_has_a_density_of_positive_width(kind, low, width, measure):
    density = density_of(Span(kind, low, low + width), measure)
    assert density.sd > 0
    assert isfinite(density.mean)
    assert isfinite(density.sd)


def test_above_some_ohms_is_over_range_as_often_as_not():
    # common practice, no source: an open fuse reads OL on one meter and megohms on a damp board
    above = parse_span("above 100 kohm", Measure.RESISTANCE)
    assert density_of(above, Measure.RESISTANCE).over == 0.5
    assert density_of(parse_span("above 3 V", Measure.VOLTAGE), Measure.VOLTAGE).over == 0.002
    assert density_of(parse_span("below 12 ohm", Measure.RESISTANCE), Measure.RESISTANCE).over == 0.002


@pytest.mark.parametrize("reading", [0.02, 0.5, 5.0])
def test_every_reading_well_below_a_bound_is_believed(reading):
    # none of them lies further out than where 95 of 100 boards lie
    density = density_of(parse_span("below 12 ohm", Measure.RESISTANCE), Measure.RESISTANCE)
    assert abs(log(reading) - density.mean) / density.sd < 1.96
