"""Properties of account and readiness over thousands of heats drawn as evidence, by seed.

The heats come from `drawn_heats`: courses with slow and wild hands, broken off, joined warm, skipped soaks.
"""

import re
from collections import Counter
from collections.abc import Iterator
from random import Random

import pytest

from drawn_heats import Heat, draw_heat
from rampwarden.core.pot import (
    IN_USE,
    NEW_POT,
    ORDER,
    Belief,
    ClaimDoubt,
    ClaimName,
    ClaimShown,
    PotAccount,
    PotHappening,
    PotStanding,
    Readiness,
    Ready,
    account_of,
    account_sentences,
    after,
    after_heat,
    readiness_of,
    readiness_sentence,
    reason_sentences,
)

pytestmark = pytest.mark.long


_HEATS = 800
_STANDINGS = (NEW_POT, IN_USE, after(IN_USE, PotHappening.STORED_DAMP))


def _drawn(seed: str, count: int = _HEATS) -> Iterator[tuple[Random, Heat, PotStanding]]:
    for number in range(count):
        random = Random(f"{seed} {number}")
        yield random, draw_heat(random), random.choice(_STANDINGS)


def _worn(random: Random, heat: Heat) -> Heat:
    """Give the heat with some of its time worth less, as it may come from a real watch."""
    for _ in range(random.randint(0, 3)):
        first = random.randrange(len(heat.stretches))
        belief = random.choice([Belief.UNCONFIRMED, Belief.DOUBTED, Belief.UNSEEN])
        heat = heat.reworded(first, first + random.randint(1, 20), belief)
    return heat


def _stands(standing: PotStanding, *pieces: Heat) -> PotStanding:
    for piece in pieces:
        standing = after_heat(standing, account_of(piece.evidence(dry_before=standing.dry)))
    return standing


def _judged(standing: PotStanding, *pieces: Heat) -> Readiness:
    return readiness_of(_stands(standing, *pieces))


def _is_better(one: Readiness, than: Readiness) -> bool:
    return ORDER.index(one.ready) > ORDER.index(than.ready)


def test_the_drawn_heats_come_to_every_readiness_and_every_claim_to_each_of_its_states() -> None:
    ready: Counter[Ready] = Counter()
    claims: Counter[tuple[ClaimName, ClaimShown]] = Counter()
    for random, heat, standing in _drawn("spread", 2400):
        worn = _worn(random, heat)
        account = account_of(worn.evidence(dry_before=standing.dry))
        ready[_judged(standing, worn).ready] += 1
        claims.update((claim.name, claim.shown) for claim in account.claims)
    assert all(ready[value] >= 10 for value in Ready), ready
    assert all(claims[name, shown] >= 3 for name in ClaimName for shown in ClaimShown), claims


@pytest.mark.parametrize("belief", [Belief.UNSEEN, Belief.DOUBTED, Belief.UNCONFIRMED])
def test_what_is_taken_away_or_doubted_never_makes_a_pot_readier(belief: Belief) -> None:
    for random, drawn, standing in _drawn(f"less {belief}"):
        heat = _worn(random, drawn)
        first = random.randrange(len(heat.stretches))
        length = random.choice([1, 2, 5, 20, len(heat.stretches)])
        less = heat.reworded(first, first + length, belief)
        before, now = _judged(standing, heat), _judged(standing, less)
        assert not _is_better(now, before), (before, now, heat.stretches[first])


@pytest.mark.parametrize("belief", [Belief.UNSEEN, Belief.DOUBTED])
def test_no_breach_is_forgiven_because_just_its_own_time_is_taken_away_or_doubted(belief: Belief) -> None:
    met = 0
    for random, heat, standing in _drawn(f"breach {belief}"):
        breaches = heat.evidence(dry_before=standing.dry).breaches
        if not breaches or not account_of(heat.evidence()).was_heat:
            continue
        breach = random.choice(breaches)
        inside = [place for place, each in enumerate(heat.stretches) if breach.from_s < each.to_s <= breach.to_s]
        less = heat.reworded(inside[0], inside[-1] + 1, belief)
        met += 1
        assert _judged(standing, less).ready is Ready.INSPECT_FIRST, breach
    assert met > 100


def test_a_heat_in_pieces_is_never_judged_better_than_whole() -> None:
    for random, drawn, standing in _drawn("pieces"):
        heat = _worn(random, drawn)
        whole = _judged(standing, heat)
        # Only a warm pot can be cut in two: between two records of a cold one it was not heated.
        warm = [place for place in range(1, len(heat.stretches)) if heat.stretches[place].begin_c > 60.0]
        if not warm:
            continue
        cuts = sorted(random.sample(warm, min(len(warm), random.randint(1, 3))))
        lost = random.choice([0, 0, 1, 4])
        begins = [0, *(cut + lost for cut in cuts)]
        ends = [*cuts, len(heat.stretches)]
        pieces = [
            heat.piece(begin, end, closed=heat.closed or end < len(heat.stretches))
            for begin, end in zip(begins, ends, strict=True)
            if begin < end
        ]
        pieces = [piece for piece in pieces if piece is not None]
        parts = _judged(standing, *pieces)
        assert not _is_better(parts, whole), (parts, whole, cuts)


def test_a_resumed_heat_is_never_judged_better_than_whole_however_often_it_crashed() -> None:
    for random, heat, standing in _drawn("resumed"):
        resumed = heat
        for _ in range(random.randint(1, 4)):
            first = random.randrange(len(heat.stretches))
            resumed = resumed.reworded(first, first + random.choice([1, 1, 3, 30]), Belief.UNSEEN)
        assert not _is_better(_judged(standing, resumed), _judged(standing, heat))


def test_a_life_of_several_heats_is_never_judged_better_for_what_was_not_seen_of_one() -> None:
    for random, first, standing in _drawn("life", 400):
        life = [first, draw_heat(random), draw_heat(random)]
        place = random.randrange(len(life))
        heat = life[place]
        start = random.randrange(len(heat.stretches))
        belief = random.choice([Belief.UNSEEN, Belief.DOUBTED, Belief.UNCONFIRMED])
        less = [*life]
        less[place] = heat.reworded(start, start + random.randint(1, 40), belief)
        assert not _is_better(_judged(standing, *less), _judged(standing, *life))


def test_what_harms_is_never_beside_a_readiness_for_anything_but_a_look() -> None:
    for random, heat, standing in _drawn("harm"):
        account = account_of(_worn(random, heat).evidence(dry_before=standing.dry))
        readiness = readiness_of(after_heat(standing, account))
        harms = (
            ClaimName.OVERHEATED,
            ClaimName.CLIMBED_WHILE_WET,
            ClaimName.CLIMBED_TOO_FAST,
            ClaimName.COOLED_TOO_FAST,
        )
        if account.was_heat and any(account.claim(name).shown is not ClaimShown.NOT_SHOWN for name in harms):
            assert readiness.ready is Ready.INSPECT_FIRST


def test_what_was_no_heat_leaves_a_pot_as_it_was() -> None:
    met = 0
    for _, heat, standing in _drawn("none", 600):
        cold = [place for place, each in enumerate(heat.stretches) if each.high_c < 60.0]
        if cold and cold[0] == 0:
            met += 1
            seconds = heat.piece(0, 1)
            assert seconds is not None
            assert _stands(standing, seconds) == standing
            assert account_sentences(account_of(seconds.evidence())) == ("This was no heat: nothing was ever warm.",)
    assert met > 100


# Sentences

_HARM = r"^(Overheated|Climbed too fast|Climbed too fast while wet|Cooled too fast)( \(|\.|: cannot)"
_CONTRADICTIONS: tuple[tuple[str, str], ...] = (
    # what to do next, against what would have to be done first
    (r"^Ready for a later heat", r"^(Dry it first|Inspect it first|Fire it|Its first heat is still)"),
    (r"^Ready for a later heat", _HARM),
    (r"^Ready for a later heat", r"^(Fired|Soaked at working temperature): (not shown|in doubt)"),
    (r"^Ready for a later heat", r"^Cooling (not seen|in doubt)"),
    (r"^Ready for a later heat", r"(stored damp|heat is not over|has not been shown|damp, without)"),
    (r"^Its first heat is still", _HARM),
    (r"^Its first heat is still", r"^Fired: (not shown|in doubt)"),
    (r"^Its first heat is still", r"first heat is behind it"),
    (r"^Fire it", _HARM),
    (r"^Fire it", r"^(Fired: shown|Dried: not shown)"),
    (r"^Dry it first", _HARM),
    (r"^Dry it first", r"^(Fired|Dried): shown"),
    (r"^Dry it first", r"first heat is behind it"),
    (r"^Inspect it first", r"(first heat is behind it|is in use by)"),
    # what was seen, against what was not
    (r"^Watched throughout", r"(unseen|nobody watched|came before was not seen|sensor was in doubt)"),
    (r"^Watched throughout", r"^Unwatched"),
    (r"^Cooling seen", r"cooling not seen|Cooling not seen"),
    (r"^This was no heat", r"^(Dried|Fired|Soaked|Overheated|Climbed|Cooled|Watched|Unwatched)"),
    (r": shown", r": shown.*(in doubt: |not shown)"),
    (r"^Fired: shown", r"not been shown to have been through red heat"),
    (r"^Soaked at working temperature: shown", r"soak at working temperature has not been shown"),
    (r"^Overheated: not seen", r"^Overheated( \(|\.|: cannot)"),
    (r"^Cooled too fast: not seen", r"^Cooled too fast( \(|\.|: cannot)"),
    (r"^Climbed too fast: not seen", r"^Climbed too fast( \(|\.|: cannot)"),
    (r"^Climbed too fast while wet: not seen", r"^Climbed too fast while wet( \(|\.|: cannot)"),
)


_COMPILED = [(re.compile(first), re.compile(second)) for first, second in _CONTRADICTIONS]


def _contradictions(sentences: list[str]) -> list[tuple[str, str]]:
    found = []
    for first, second in _COMPILED:
        ones = [sentence for sentence in sentences if first.search(sentence)]
        found += [(one, other) for one in ones for other in sentences if second.search(other)]
    return found


def _said(account: PotAccount, readiness: Readiness) -> list[str]:
    return [readiness_sentence(readiness), *reason_sentences(readiness), *account_sentences(account)]


def test_no_two_sentences_of_a_first_heat_contradict_each_other() -> None:
    for random, heat, _ in _drawn("words"):
        account = account_of(_worn(random, heat).evidence(dry_before=False), expanded_c=lambda temp_c: 2.0)
        said = _said(account, readiness_of(after_heat(NEW_POT, account)))
        assert not _contradictions(said)


def test_no_two_reasons_of_a_long_life_contradict_what_the_pot_is_ready_for() -> None:
    for random, heat, standing in _drawn("long words", 300):
        readiness = _judged(standing, heat, _worn(random, draw_heat(random)), draw_heat(random))
        assert not _contradictions([readiness_sentence(readiness), *reason_sentences(readiness)])
        assert readiness.reasons


def test_the_old_reports_sentences_would_be_found_to_contradict() -> None:
    said = ["Ready for a later heat, if it has been kept dry.", "Overheated (from 0 s to 8 min)."]
    assert _contradictions(said)


def test_only_a_claim_in_doubt_for_scales_alone_moves_a_pot_on() -> None:
    for random, heat, _ in _drawn("scales", 600):
        worn = _worn(random, heat)
        account = account_of(worn.evidence(dry_before=False))
        dried = account.claim(ClaimName.DRIED)
        standing = after_heat(NEW_POT, account)
        if account.was_heat and dried.shown is ClaimShown.IN_DOUBT and ClaimDoubt.UNCONFIRMED in dried.doubts:
            assert not standing.dry or account.claim(ClaimName.FIRED).shown is ClaimShown.SHOWN
