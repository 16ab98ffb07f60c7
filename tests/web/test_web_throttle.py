"""Wrong tries make waiting, and nobody's memory is filled by them."""

import pytest

from benchlore.web.throttle import ADDRESS, FORGOTTEN, MOST_KEPT, NAME, Throttle, network_of


def tries(throttle, name, address, now):
    """Wrong tries at one moment until one has to wait: how many, and how long."""
    count = 0
    while not (wait := throttle.begin(name, address, now)):
        count += 1
    return count, wait


def test_a_name_has_its_free_tries_from_wherever_they_come():
    throttle = Throttle()
    for k in range(NAME.free):
        assert throttle.begin("ines", f"10.0.0.{k}", 0.0) == 0
    assert throttle.begin("ines", "10.0.0.99", 0.0) == 1.0
    assert throttle.begin("marten", "10.0.0.99", 0.0) == 0


def test_each_further_wrong_try_doubles_the_wait_up_to_the_longest():
    throttle, now = Throttle(), 0.0
    tries(throttle, "ines", "10.0.0.1", now)
    waits = []
    for k in range(9):
        wait = throttle.begin("ines", f"10.0.1.{k}", now)
        waits.append(wait)
        now += wait
        assert throttle.begin("ines", f"10.0.1.{k}", now) == 0
    assert waits == [1, 2, 4, 8, 16, 32, 60, 60, 60]


def test_an_address_that_tries_many_names_waits_too():
    throttle = Throttle()
    for k in range(ADDRESS.free):
        assert throttle.begin(f"name {k}", "10.0.0.1", 0.0) == 0
    assert throttle.begin("ines", "10.0.0.1", 0.0) > 0
    assert throttle.begin("ines", "10.0.0.2", 0.0) == 0


def test_the_right_password_clears_the_name_and_takes_one_try_from_the_address():
    throttle = Throttle()
    for k in range(ADDRESS.free - 1):
        throttle.begin(f"name {k}", "10.0.0.1", 0.0)
    for _ in range(3):
        assert throttle.begin("ines", "10.0.0.1", 0.0) == 0
        throttle.right("ines", "10.0.0.1")
    assert throttle.begin("ines", "10.0.0.1", 0.0) == 0
    assert throttle.begin("marten", "10.0.0.1", 0.0) > 0


def test_wrong_tries_are_forgotten_after_an_hour():
    throttle = Throttle()
    tries(throttle, "ines", "10.0.0.1", 0.0)
    assert tries(throttle, "ines", "10.0.0.1", FORGOTTEN + 1)[0] == NAME.free


def test_the_memory_is_bounded():
    throttle = Throttle()
    for k in range(MOST_KEPT + 50):
        throttle.begin(f"name {k}", f"10.{k // 65536}.{k // 256 % 256}.{k % 256}", float(k) / 1000)
    assert len(throttle._names._kept) == len(throttle._addresses._kept) == MOST_KEPT


@pytest.mark.parametrize(
    ("address", "network"),
    [
        ("10.1.2.3", "10.1.2.3"),
        ("::ffff:10.1.2.3", "10.1.2.3"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),  # the documentation prefix of RFC 3849
        ("fe80::1%eth0", "fe80::/64"),
        ("testclient", "testclient"),
    ],
)
def test_a_sender_is_known_by_what_it_can_hardly_leave(address, network):
    assert network_of(address) == network
