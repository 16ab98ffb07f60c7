import pytest

from benchlore.book import Complaint, Work
from benchlore.library.sheet import retest_text

COMPLAINT = Complaint("restarts", "Restarts by itself", Work(3.0, 60.0), 25.0, "Load pattern, pack in.")


@pytest.mark.parametrize(
    ("soak", "text"),
    [
        (45.0, "Soak 45 min, then try the complaint again (3 min). Load pattern, pack in."),
        (90.0, "Soak 1 h 30 min, then try the complaint again (3 min). Load pattern, pack in."),
        (0.0, "Then try the complaint again (3 min). Load pattern, pack in."),
    ],
)
def test_a_retest_says_how_long_to_soak_first(soak, text):
    assert retest_text(COMPLAINT, soak) == text
