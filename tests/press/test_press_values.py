import pytest

from benchlore.press import Figure, Spread
from benchlore.proof import Estimate


@pytest.mark.parametrize("number", [float("nan"), float("inf"), -float("inf")])
def test_what_has_no_place_on_an_axis_is_refused(number):
    with pytest.raises(ValueError, match=r"^This procedure: -?(nan|inf) cannot be drawn"):
        Spread("This procedure", (1.0, number))
    with pytest.raises(ValueError, match="cannot be drawn"):
        Figure("A", Estimate(1.0, 0.0, number))
