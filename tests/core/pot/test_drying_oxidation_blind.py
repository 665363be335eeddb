"""The room's small laws: what dries, what burns, what a blind time proves and may hide."""

import pytest

from rampwarden.core.pot import Limit, SegmentFacts, SegmentSort
from rampwarden.core.pot.blind import BlindSpan, may_be_hot, may_hide_breach, proven_climb_c
from rampwarden.core.pot.drying import drying_per_s
from rampwarden.core.pot.oxidation import oxidation_rate

_SLOW = Limit(25.0, 900.0)
_OVEN = SegmentFacts(1, "oven", SegmentSort.RAMP, in_furnace=False, limits=(_SLOW,))


def _span(seconds: float, before_c: float | None, after_c: float | None, used_c: float = 0.0) -> BlindSpan:
    return BlindSpan(
        from_s=100.0,
        to_s=100.0 + seconds,
        before_c=before_c,
        after_c=after_c,
        segments=(_OVEN,),
        lies_in=_OVEN,
        used_c=used_c,
        fallen_c=0.0,
        doubted_s=0.0,
        doubted_c=0.0,
    )


def test_drying_grows_with_the_pots_temperature_begins_above_110_and_ends_where_firing_begins() -> None:
    rates = [drying_per_s(float(temp_c)) for temp_c in range(20, 271)]
    assert rates == sorted(rates)
    assert drying_per_s(110.0) == drying_per_s(271.0) == drying_per_s(1000.0) == 0.0
    # The same share takes longer the cooler the pot: 20 min at 260 °C, 30 at 180, two hours at 150, ten at 118.
    minutes = [1.0 / (60.0 * drying_per_s(temp_c)) for temp_c in (260.0, 180.0, 150.0, 118.0)]
    assert minutes == pytest.approx([20.0, 30.0, 120.0, 600.0])


def test_drying_has_no_step_between_its_points() -> None:
    for temp_c in (110.0, 150.0, 180.0, 260.0):
        assert drying_per_s(temp_c - 1e-6) == pytest.approx(drying_per_s(temp_c + 1e-6), abs=1e-9)


def test_graphite_burns_on_above_650_degrees_until_the_glaze_has_sealed() -> None:
    assert oxidation_rate(249.0) == 0.0
    assert oxidation_rate(650.0) > 1.5
    # Half an hour stalled at 750 °C: 128 equivalent minutes at 600 °C.
    assert 30.0 * oxidation_rate(750.0) == pytest.approx(128.0, abs=0.5)
    assert oxidation_rate(899.0) == oxidation_rate(800.0) > 0.0
    assert oxidation_rate(900.0) == 0.0
    assert oxidation_rate(899.0, sealed_c=700.0) == 0.0


def test_the_plans_dose_and_the_accounts_have_one_rate() -> None:
    from rampwarden.plan.oxidation import relative_rate

    for temp_c in range(0, 900, 25):
        assert oxidation_rate(float(temp_c)) == pytest.approx(relative_rate(float(temp_c)), rel=1e-12)


def test_the_levels_around_a_crash_prove_a_climb_within_one_window() -> None:
    assert proven_climb_c(_span(600.0, 100.0, 160.0), _SLOW) == 60.0
    assert proven_climb_c(_span(600.0, 100.0, 120.0), _SLOW) is None
    assert proven_climb_c(_span(600.0, 160.0, 100.0), _SLOW) is None
    assert proven_climb_c(_span(600.0, 160.0, 100.0), _SLOW, falling=True) == 60.0


def test_over_several_windows_a_climb_is_shared_out_and_noise_proves_nothing() -> None:
    assert proven_climb_c(_span(2700.0, 100.0, 174.0), _SLOW) is None
    assert proven_climb_c(_span(2700.0, 100.0, 178.0), _SLOW) == pytest.approx(26.0)
    assert proven_climb_c(_span(600.0, 100.0, 126.0), _SLOW, margin_c=2.0) is None


def test_what_nobody_saw_proves_nothing() -> None:
    assert proven_climb_c(_span(600.0, None, 160.0), _SLOW) is None
    assert proven_climb_c(_span(600.0, 100.0, None), _SLOW) is None


def test_a_gap_hides_a_breach_once_twice_the_limits_rate_could_have_made_one() -> None:
    assert not may_hide_breach(_span(440.0, 100.0, 100.0), _SLOW)
    assert may_hide_breach(_span(460.0, 100.0, 100.0), _SLOW)
    assert may_hide_breach(_span(100.0, 100.0, 100.0, used_c=20.0), _SLOW)
    assert not may_hide_breach(_span(59.0, 100.0, 100.0, used_c=25.0), _SLOW)


def test_a_pot_may_have_gone_hot_only_as_fast_as_its_limit_lets_it() -> None:
    assert not may_be_hot(_span(1800.0, 180.0, 180.0))
    assert may_be_hot(_span(2400.0, 180.0, 180.0))
