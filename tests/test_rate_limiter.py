"""How often something may be done."""

from rampwarden.rate_limiter import RateLimiter


def test_so_many_in_any_span_and_the_next_when_the_oldest_has_left_it() -> None:
    """A window that slides, not one that begins anew."""
    pace = RateLimiter(2, 10.0)
    assert pace.wait_s(0.0) == 0.0
    pace.note(0.0)
    pace.note(6.0)
    assert pace.wait_s(7.0) == 3.0
    assert pace.wait_s(10.0) == 0.0
    pace.note(10.0)
    assert pace.wait_s(10.0) == 6.0
