"""What is said of a claim is how well it is shown, and never more."""

import pytest

from rampwarden.core.pot import Claim, ClaimDoubt, ClaimName, ClaimShown, Evidence, Place, claim_sentence


def _evidence(unseen_s: float = 0.0) -> Evidence:
    return Evidence(0.0, 3600.0, 20.0, 700.0, Place.UNKNOWN, believed_s=3000.0, unseen_s=unseen_s, expanded_c=7.6)


@pytest.mark.parametrize("name", [ClaimName.DRIED, ClaimName.FIRED, ClaimName.SOAKED])
def test_a_helpful_claim_is_said_to_be_shown_only_where_it_is(name: ClaimName) -> None:
    said = {shown: claim_sentence(Claim(name, shown)) for shown in ClaimShown}
    assert said[ClaimShown.SHOWN].endswith(": shown.")
    assert said[ClaimShown.NOT_SHOWN].endswith(": not shown.")
    assert said[ClaimShown.IN_DOUBT].endswith(": in doubt.")


@pytest.mark.parametrize("name", [ClaimName.CLIMBED_WHILE_WET, ClaimName.OVERHEATED, ClaimName.COOLED_TOO_FAST])
def test_harm_that_is_in_doubt_is_never_said_not_to_have_been_seen(name: ClaimName) -> None:
    said = {shown: claim_sentence(Claim(name, shown)) for shown in ClaimShown}
    assert said[ClaimShown.NOT_SHOWN].endswith(": not seen.")
    assert said[ClaimShown.IN_DOUBT].endswith(": cannot be excluded.")


def test_watched_throughout_is_said_only_where_nothing_is_missing() -> None:
    assert claim_sentence(Claim(ClaimName.UNWATCHED, ClaimShown.NOT_SHOWN)) == "Watched throughout."
    moments = claim_sentence(Claim(ClaimName.UNWATCHED, ClaimShown.NOT_SHOWN, _evidence(unseen_s=30.0)))
    assert moments.startswith("Watched, save for moments (")


def test_a_claim_names_its_uncertainty_with_its_factor_and_the_probes_place() -> None:
    said = claim_sentence(Claim(ClaimName.FIRED, ClaimShown.IN_DOUBT, _evidence(), (ClaimDoubt.SENSOR,)))
    assert "20 to 700 °C ± 8 °C, k = 2" in said
    assert "the probe's place was not told" in said
    assert said.endswith(": the sensor was in doubt.")
