"""Settings of several probes and boards: what makes no sense is said in a line each, all at once."""

from pathlib import Path

import pytest

from rampwarden.assembly.heat import monitor_parameters
from rampwarden.assembly.probes import check_probes, watched_board
from rampwarden.clock import HostClock
from rampwarden.errors import SettingsError
from rampwarden.records import changed_parameters
from rampwarden.settings import Settings, legible_settings, load_settings, sound_probes
from rampwarden.settings.probes import probe_faults
from rampwarden.sources import Board, SeveralBoards

TWO_BOARDS = """
[board]
port = "/dev/one"

[boards.second]
port = "/dev/two"
format = "labels"
values = ["T1", "T2"]
interval = "5 s"

[probes.chamber]
channel = 1
place = "chamber"
type = "N"
tolerance_class = 1
ceiling = "1250 C"

[probes.bottle]
board = "second"
channel = "T2"
place = "bottle"
"""


def loaded(text: str, folder: Path) -> Settings:
    file = folder / "rampwarden.toml"
    file.write_text(text, encoding="utf-8")
    return load_settings(file, {}, {}).settings


def faults(text: str, folder: Path) -> list[str]:
    with pytest.raises(SettingsError) as caught:
        loaded(text, folder)
    return [line.removeprefix(f"{folder / 'rampwarden.toml'}: ") for line in str(caught.value).splitlines()]


def test_probes_become_what_the_core_is_told(tmp_path: Path) -> None:
    """Type, class, place and ceiling of each; who speaks seldom is not silent."""
    chamber, bottle = monitor_parameters(loaded(TWO_BOARDS, tmp_path)).probes
    assert (chamber.name, chamber.place, chamber.thermocouple_type) == ("chamber", "chamber", "N")
    assert (chamber.tolerance_class, chamber.ceiling_c, chamber.board, chamber.signal_lost_s) == (1, 1250.0, "", 10.0)
    assert (bottle.name, bottle.board, bottle.signal_lost_s) == ("bottle", "second", 15.0)


def test_boards_are_read_by_the_channels_of_their_probes(tmp_path: Path) -> None:
    """A channel by its name is the same as by its number."""
    settings = loaded(TWO_BOARDS, tmp_path)
    check_probes(settings)
    board = watched_board(settings, HostClock())
    assert isinstance(board, SeveralBoards)
    assert board._settings.channels == (0, 1)
    assert [further._settings.channels for further in board._further] == [(1,)]


def test_with_one_probe_nothing_is_different(tmp_path: Path) -> None:
    """Neither source nor header know of probes."""
    settings = loaded('[board]\nport = "/dev/one"\n', tmp_path)
    assert type(watched_board(settings, HostClock())) is Board
    assert changed_parameters(monitor_parameters(settings)) == {}
    assert not {"probes", "boards"} & settings.model_dump(mode="json", exclude_defaults=True).keys()


def test_every_fault_is_said_at_once_with_its_key(tmp_path: Path) -> None:
    """Nobody mends one line only to be told of the next."""
    wrong = """
[board]
port = "/dev/one"

[boards.second]
port = "/dev/one"

[boards.idle]
port = "/dev/three"
channel = 3

[probes.chamber]
channel = 0
place = "pot"

[probes.bottle]
board = "second"
place = "bottle"

[probes.room]
board = "third"
place = "room"
"""
    assert faults(wrong, tmp_path) == [
        "boards.second.port = '/dev/one': another board has that port",
        "probes.chamber.channel = 0: another probe is on that channel of 'board'",
        "probes.room.board = 'third': there is no such board; known: board, second, idle",
        "probes.chamber.place = 'pot': another probe is in that place",
        "boards.idle.channel: belongs to a probe, or to [board]; leave it out",
        "boards.idle: no probe is on it; name it in a [probes] section's board, or leave it out",
    ]


def test_a_channel_is_taken_by_its_name_as_by_its_number(tmp_path: Path) -> None:
    """T1 is channel 0."""
    text = '[board]\nport = "/dev/one"\nformat = "labels"\nvalues = ["T1", "T2"]\n'
    probe = '[probes.chamber]\nchannel = "T1"\nplace = "chamber"\n'
    assert faults(text + probe, tmp_path) == [
        "probes.chamber.channel = 'T1': another probe is on that channel of 'board'"
    ]


def test_more_than_eight_probes_are_too_many(tmp_path: Path) -> None:
    """The followed one counts."""
    probes = "".join(f'[probes.p{number}]\nchannel = {number}\nplace = "room"\n' for number in range(1, 9))
    told = faults(f'[board]\nport = "/dev/one"\n{probes}', tmp_path)
    assert "probes.p8: one too many; a watch reads 8 probes, the followed one included" in told
    assert not any("p7: one too many" in line for line in told)


def test_a_channel_or_calibration_that_is_not_there_is_refused_before_the_watch(tmp_path: Path) -> None:
    """Each in its line, by the key it was written under."""
    text = TWO_BOARDS.replace('"T2"\nplace', '"T9"\nplace').replace('type = "N"', f'calibration = "{tmp_path}/none"')
    with pytest.raises(SettingsError) as caught:
        check_probes(loaded(text, tmp_path))
    channel, calibration = str(caught.value).splitlines()
    assert channel == "probes.bottle.channel = 'T9': there is no such channel; known: T1, T2"
    assert calibration.startswith("probes.chamber.calibration: ")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[probes.Chamber]\nplace = "chamber"\n', "probes.Chamber"),
        ("[probes.chamber]\nchannel = 1\n", "probes.chamber.place"),
        ('[probes.chamber]\nchannel = 1\nplace = "cellar"\n', "probes.chamber.place"),
        ('[probes.chamber]\nchanel = 1\nplace = "chamber"\n', "did you mean channel?"),
        ('[boards.second]\nprt = "/dev/two"\n', "did you mean port?"),
        ("probes = 3\n", "probes = 3: is a section"),
    ],
)
def test_what_cannot_be_read_names_its_key(text: str, said: str, tmp_path: Path) -> None:
    """As everywhere in the settings."""
    assert any(said in line for line in faults(text, tmp_path))


def test_variables_name_probes_too() -> None:
    """A hyphen is an underscore there."""
    variables = {
        "RAMPWARDEN_PROBES__IN_CHARGE__PLACE": "chamber",
        "RAMPWARDEN_PROBES__IN_CHARGE__CHANNEL": "2",
    }
    settings = load_settings(None, {}, variables).settings
    assert settings.probes["in-charge"].place == "chamber"


def test_a_hot_furnace_is_watched_with_the_probes_that_make_sense() -> None:
    """Settings that stand in for unreadable ones are not refused; a probe on a board that is not there is left out."""
    settings = Settings.model_validate(
        {
            "board": {"port": "/dev/one"},
            "probes": {
                "chamber": {"channel": 1, "place": "chamber"},
                "bottle": {"board": "gone", "place": "bottle"},
            },
        }
    )
    assert sound_probes(settings) == ("chamber",)
    assert [probe.name for probe in monitor_parameters(settings).probes] == ["chamber"]


# Another probe followed

CHAMBER_FOLLOWED = TWO_BOARDS + '\n[watch]\nfollow = "chamber"\n'
ON_THE_SECOND = """
[watch]
follow = "chamber"

[board]
port = "/dev/one"
channel = 4
calibration = "one.toml"
buzzer = true

[thermocouple]
type = "J"

[boards.second]
port = "/dev/two"
baud = 9600

[probes.chamber]
board = "second"
channel = 2
place = "chamber"
tolerance_class = 1

[probes.bottle]
place = "bottle"
channel = 5

[probes.room]
board = "second"
place = "room"
"""


def test_a_followed_probe_of_the_same_board_changes_places_with_the_first(tmp_path: Path) -> None:
    """Channel, type, class and place; the other is called by where it hangs."""
    settings = loaded(CHAMBER_FOLLOWED, tmp_path)
    couple = settings.thermocouple
    assert (settings.board.port, settings.board.channel, settings.board.calibration) == ("/dev/one", 1, "none")
    assert (couple.type, couple.tolerance_class, couple.place) == ("N", 1, "chamber")
    pot = settings.probes["pot"]
    assert (pot.board, pot.channel, pot.type, pot.place) == ("", 0, "K", "pot")
    assert list(settings.probes) == ["pot", "bottle"]
    check_probes(settings)


def test_a_followed_probe_of_a_further_board_takes_its_board_along(tmp_path: Path) -> None:
    """Every other probe stays on its own board, whatever that is called now."""
    settings = loaded(ON_THE_SECOND, tmp_path)
    board, first, probes = settings.board, settings.boards["first"], settings.probes
    assert (board.port, board.baud, board.channel, board.buzzer) == ("/dev/two", 9600, 2, False)
    assert (first.port, first.channel, first.calibration, first.buzzer) == ("/dev/one", 0, "", False)
    assert list(settings.boards) == ["first"]
    assert (probes["pot"].board, probes["pot"].channel, probes["pot"].type) == ("first", 4, "J")
    assert probes["pot"].calibration == "one.toml"
    assert (probes["bottle"].board, probes["room"].board) == ("first", "")
    assert probe_faults(settings) == ()


def test_what_is_legible_of_a_broken_file_follows_the_same_probe(tmp_path: Path) -> None:
    """Its heat is looked for under the port that it was recorded under."""
    (tmp_path / "broken.toml").write_text(f"{ON_THE_SECOND}\n[mqtt]\nbroker = \n", encoding="utf-8")
    settings = legible_settings(tmp_path / "broken.toml", {}, {})
    whole = loaded(ON_THE_SECOND, tmp_path)
    assert (settings.board, settings.boards, settings.probes) == (whole.board, whole.boards, whole.probes)


def test_the_followed_probe_may_be_named_though_it_is_the_first(tmp_path: Path) -> None:
    """By its place: nothing changes."""
    plain = loaded(TWO_BOARDS, tmp_path)
    named = loaded(TWO_BOARDS + '\n[watch]\nfollow = "pot"\n', tmp_path)
    assert (named.board, named.probes, named.boards) == (plain.board, plain.probes, plain.boards)


@pytest.mark.parametrize(
    ("follow", "said"),
    [
        ("attic", "watch.follow = 'attic': there is no such probe; known: pot, chamber, bottle"),
        (
            "bottle",
            "watch.follow = 'bottle': only a probe on the pot or in the chamber can be followed",
        ),
    ],
)
def test_a_probe_that_cannot_be_followed_is_said_with_those_that_can(follow: str, said: str, tmp_path: Path) -> None:
    """Beside every other fault."""
    assert faults(TWO_BOARDS + f'\n[watch]\nfollow = "{follow}"\n', tmp_path) == [said]


def test_names_that_following_needs_must_be_free(tmp_path: Path) -> None:
    """One of another probe, one of another board: a line each."""
    taken = ON_THE_SECOND.replace("[probes.room]", "[probes.pot]")
    taken = taken.replace('board = "second"\nplace', 'board = "first"\nplace')
    told = faults(taken + '\n[boards.first]\nport = "/dev/three"\n', tmp_path)
    assert told == [
        "watch.follow = 'chamber': the probe of [board] would be called 'pot' then, as another one is already",
        "boards.first: with watch.follow that is what [board] is called; give this one another name",
    ]


def test_two_boards_on_one_port_are_a_line_for_the_second(tmp_path: Path) -> None:
    """However many probes are on it."""
    text = TWO_BOARDS.replace("/dev/two", "/dev/one")
    assert faults(text, tmp_path) == ["boards.second.port = '/dev/one': another board has that port"]
