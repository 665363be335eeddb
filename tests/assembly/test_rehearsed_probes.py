"""Which probes a rehearsal has: those asked for, or those that are set up, all on the one model board."""

from rampwarden.assembly.rehearsed_probes import places_beside, with_probes
from rampwarden.settings import BoardSection, ProbeSection, Settings
from rampwarden.sources import BesidePlace

SET_UP = Settings(
    boards={"second": BoardSection(port="/dev/two")},
    probes={
        "gas-side": ProbeSection(board="second", channel=5, place="chamber", type="N", ceiling=1250.0),
        "cellar": ProbeSection(channel=1, place="room", calibration="room.toml"),
    },
)


def test_without_a_word_the_probes_are_those_that_are_set_up() -> None:
    """Where none are, there is the pot's alone."""
    assert places_beside(SET_UP, ()) == (BesidePlace.CHAMBER, BesidePlace.ROOM)
    assert places_beside(Settings(), ()) == ()
    assert places_beside(SET_UP, [BesidePlace.BOTTLE, BesidePlace.CHAMBER]) == (BesidePlace.CHAMBER, BesidePlace.BOTTLE)


def test_a_probe_keeps_its_name_and_ceiling_and_hangs_on_the_model_board() -> None:
    """Its board, channel, type and calibration are the model's."""
    settings = with_probes(SET_UP, (BesidePlace.CHAMBER, BesidePlace.BOTTLE), "/dev/pts/9")
    assert (settings.board.port, settings.boards, settings.thermocouple.place) == ("/dev/pts/9", {}, "pot")
    chamber, bottle = settings.probes["gas-side"], settings.probes["bottle"]
    assert (chamber.board, chamber.channel, chamber.type, chamber.ceiling) == ("", 1, "K", 1250.0)
    assert (bottle.channel, bottle.place, bottle.ceiling) == (2, "bottle", None)


def test_a_rehearsal_over_one_probe_has_its_settings_as_they_are() -> None:
    """Nothing is said of a place that nobody named."""
    settings = with_probes(Settings(), (), "/dev/pts/9")
    assert (settings.probes, settings.thermocouple) == ({}, Settings().thermocouple)
