"""A pot's life: heats and what befalls it between them, told in whole stories."""

import msgspec

from drawn_heats import SEGMENTS
from rampwarden.core.pot import (
    IN_USE,
    NEW_POT,
    ClaimName,
    ClaimShown,
    Place,
    PotAccount,
    PotFacts,
    PotHappening,
    PotLedger,
    Readiness,
    Ready,
    SoakFacts,
    account_of,
    accumulate,
    readiness_sentence,
    reason_sentences,
)
from rampwarden.core.pot.readiness import Why


def _heat(
    *legs: tuple[int, float, float],
    begin_c: float = 20.0,
    soaked_s: float = 1800.0,
    dry_before: bool = False,
    top_c: float | None = None,
    place: Place = Place.POT,
) -> PotAccount:
    """Give the account of a heat of straight legs: segment, where it leads (°C), how long (s)."""
    facts = PotFacts(place=place, dry_before=dry_before, top_c=top_c)
    ledger = PotLedger(SEGMENTS, facts, longest_credited_s=15.0)
    time_s, temp_c = 0.0, begin_c
    ledger.feed(time_s, temp_c)
    for number, to_c, seconds in legs:
        ledger.enter(number, time_s)
        steps = int(seconds / 10.0)
        for step in range(1, steps + 1):
            ledger.feed(time_s + 10.0 * step, temp_c + (to_c - temp_c) * step / steps)
        time_s, temp_c = time_s + 10.0 * steps, to_c
    ledger.soak(SoakFacts(5, soaked_s))
    ledger.close(time_s)
    return account_of(ledger.evidence())


_OVEN = ((1, 180.0, 6000.0), (2, 180.0, 2400.0))
_FURNACE = ((4, 1150.0, 4800.0), (5, 1150.0, 2000.0), (6, 50.0, 7200.0))


def test_a_whole_first_heat_makes_a_new_pot_ready_for_a_later_one() -> None:
    readiness = accumulate([_heat(*_OVEN, *_FURNACE)])
    assert readiness.ready is Ready.READY, reason_sentences(readiness)


def test_a_probe_in_the_chamber_leaves_the_first_heat_to_finish_and_says_that_this_is_why() -> None:
    """The chamber soaked; of the pot it is not shown. Without the place, or without a soak, the plain reason stands."""
    legs = ((1, 180.0, 6000.0), (2, 180.0, 6000.0), *_FURNACE)
    readiness = accumulate([_heat(*legs, place=Place.CHAMBER)])
    assert readiness.ready is Ready.FINISH_FIRST_HEAT
    assert reason_sentences(readiness) == (
        "The soak at working temperature has not been shown: the probe hung in the chamber, "
        "and the pot lags behind it.",
    )
    for place in (Place.POT, Place.UNKNOWN):
        unsoaked = accumulate([_heat(*legs, place=place, soaked_s=0.0)])
        assert reason_sentences(unsoaked) == ("The soak at working temperature has not been shown.",)


def test_a_pot_that_was_only_dried_is_to_be_fired_and_one_that_stood_is_dried_again() -> None:
    dried = _heat(*_OVEN, (6, 40.0, 3600.0))
    assert accumulate([dried]).ready is Ready.FIRE_FIRST
    assert accumulate([dried, PotHappening.STORED_DRY]).ready is Ready.FIRE_FIRST
    assert accumulate([dried, PotHappening.STOOD_LONG]).ready is Ready.DRY_FIRST


def test_drying_one_day_and_firing_the_next_make_one_first_heat() -> None:
    dried = _heat(*_OVEN, (6, 40.0, 3600.0))
    fired = _heat(*_FURNACE, dry_before=True)
    assert accumulate([dried, fired]).ready is Ready.READY


def test_a_soak_that_was_cut_short_leaves_the_first_heat_to_finish_and_a_later_heat_finishes_it() -> None:
    short = _heat(*_OVEN, *_FURNACE, soaked_s=600.0)
    assert accumulate([short]).ready is Ready.FINISH_FIRST_HEAT
    assert accumulate([short, _heat(*_FURNACE, dry_before=True)]).ready is Ready.READY


def test_a_new_pot_fired_without_drying_is_to_be_looked_at() -> None:
    fired = _heat(*_FURNACE)
    assert accumulate([fired]).ready is Ready.INSPECT_FIRST
    assert accumulate([fired, PotHappening.INSPECTED]).ready is Ready.READY


def test_the_account_alone_cannot_make_a_damp_pot_a_dry_one() -> None:
    # Told that the pot was dry, where its life says otherwise.
    fired = _heat(*_FURNACE, dry_before=True)
    readiness = accumulate([PotHappening.STORED_DAMP, fired], IN_USE)
    assert (readiness.ready, readiness.reasons[0].why) == (Ready.INSPECT_FIRST, Why.HEATED_DAMP)
    assert accumulate([PotHappening.WEIGHED_DRY, fired], IN_USE).ready is Ready.READY


def test_a_false_start_makes_no_pot_dry() -> None:
    assert (
        accumulate([_heat((1, 22.0, 20.0))])
        == accumulate([])
        == Readiness(Ready.DRY_FIRST, accumulate([], NEW_POT).reasons)
    )


def test_overheating_is_looked_at_first_and_nothing_is_said_beside_it() -> None:
    legs = (*_OVEN, (4, 1150.0, 4800.0), (5, 1284.0, 2000.0), (6, 50.0, 7200.0))
    readiness = accumulate([_heat(*legs, top_c=1250.0)])
    assert readiness.ready is Ready.INSPECT_FIRST
    assert "Overheated (" in reason_sentences(readiness)[0]
    assert "later heat" not in " ".join([readiness_sentence(readiness), *reason_sentences(readiness)])


def test_a_pot_in_use_that_is_stored_damp_is_dried_first() -> None:
    assert accumulate([], IN_USE).ready is Ready.READY
    assert accumulate([PotHappening.STORED_DAMP], IN_USE).ready is Ready.DRY_FIRST


def test_readiness_and_account_are_plain_json_and_come_back_the_same() -> None:
    account = _heat(*_OVEN, *_FURNACE)
    readiness = accumulate([account])
    assert msgspec.json.decode(msgspec.json.encode(account), type=PotAccount) == account
    encoded = msgspec.json.encode(readiness)
    assert msgspec.json.decode(encoded, type=Readiness) == readiness
    assert b'"ready":"ready-for-a-later-heat"' in encoded


def test_an_oven_may_be_left_warm_and_what_began_warm_after_it_was_not_seen() -> None:
    left_warm = _heat(*_OVEN)
    assert accumulate([left_warm]).ready is Ready.FIRE_FIRST
    warm = _heat(*_FURNACE, begin_c=120.0, dry_before=True)
    readiness = accumulate([left_warm, warm])
    assert (readiness.ready, readiness.reasons[0].why) == (Ready.INSPECT_FIRST, Why.BEGAN_WARM)


def test_a_fired_pot_dried_again_and_taken_on_warm_in_another_record_is_looked_at() -> None:
    warm = _heat(*_FURNACE, begin_c=120.0, dry_before=True)
    readiness = accumulate([PotHappening.STORED_DAMP, _heat(*_OVEN), warm], IN_USE)
    assert (readiness.ready, readiness.reasons[0].why) == (Ready.INSPECT_FIRST, Why.BEGAN_WARM)
    assert accumulate([warm], IN_USE).ready is Ready.READY


def test_a_first_heat_that_was_joined_warm_is_looked_at() -> None:
    joined = _heat((1, 180.0, 3600.0), (2, 180.0, 2400.0), (6, 40.0, 3600.0), begin_c=90.0)
    readiness = accumulate([joined])
    assert (readiness.ready, readiness.reasons[0].why) == (Ready.INSPECT_FIRST, Why.BEGAN_WARM)


def test_a_pot_in_use_whose_record_was_closed_warm_is_looked_at_however_cool_it_was() -> None:
    assert accumulate([_heat((4, 200.0, 1200.0), dry_before=True)], IN_USE).ready is Ready.INSPECT_FIRST


def test_a_heat_through_the_steam_range_without_drying_cannot_exclude_that_steam_was_at_work() -> None:
    for dry_before, shown in ((False, ClaimShown.IN_DOUBT), (True, ClaimShown.NOT_SHOWN)):
        account = _heat(*_FURNACE, dry_before=dry_before)
        assert account.claim(ClaimName.CLIMBED_WHILE_WET).shown is shown
