"""A climb judged in doubt: what broke a limit only by what may be untrue does not ring once the doubt is over."""

from rampwarden.core.limits.level_doubt import LevelDoubt
from rampwarden.core.limits.rate_limits import RateLimits
from rampwarden.core.model import Finding, Noise
from rampwarden.core.quantities import Rate

LIMIT = Rate(60.0, 600.0)
STILL = Noise(0.1, 0.0, 1.0, 1.0)
IN_DOUBT = LevelDoubt(0.0, lambda _window_s: 20.0)


def found_at(slopes: list[tuple[int, float]], doubted: range) -> list[int]:
    """Climb at so many °C in ten minutes until each second; give the seconds at which the limit is found broken."""
    limits, temp_c, second, told = RateLimits((LIMIT,), (), 0.0, falling=False), 100.0, 0, []
    for until_s, climb_c in slopes:
        while second < until_s:
            second += 1
            temp_c += climb_c / 600.0
            found: dict[str, Finding] = {}
            limits.feed(float(second), temp_c, STILL, found, IN_DOUBT if second in doubted else None)
            if "ramp-high" in found:
                told.append(second)
    return told


def test_a_break_that_was_hidden_by_doubt_does_not_ring_while_it_only_lingers() -> None:
    """Seventy degrees, perhaps fifty, were climbed; at fifty-eight the budget alone still calls itself broken."""
    slopes = [(1500, 70.0), (3000, 58.0)]
    assert found_at(slopes, range(0, 2150)) == []
    assert found_at(slopes, range(0))[-1] > 2150, "without any doubt it rings on until it is well below the limit"


def test_what_breaks_beyond_all_doubt_rings_in_it_and_after_it() -> None:
    """Ninety degrees are too many, be they seventy."""
    told = found_at([(3000, 90.0)], range(0, 2000))
    assert told[0] < 1000
    assert told[-1] == 3000


def test_a_limit_that_is_broken_anew_after_the_doubt_rings() -> None:
    """What was hidden before excuses nothing."""
    told = found_at([(1500, 70.0), (2500, 58.0), (4000, 75.0)], range(0, 2150))
    assert told
    assert told[0] > 2500
