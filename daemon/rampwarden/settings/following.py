"""Another probe followed than that of [board] and [thermocouple]: the two change places. Reads nothing.

So everything behind the settings knows one rule: the followed probe is [board] and [thermocouple], all others [probes].
"""

from collections.abc import Iterator
from typing import Any

from rampwarden.plan import ProbePlace
from rampwarden.settings.probes import OF_ONE_PROBE, THE_BOARD
from rampwarden.settings.sections import BoardSection, ProbeSection, Settings

FIRST_BOARD = "first"
"""What [board] is called once another board has taken its place."""
_GOES_WITHOUT = "none"


def follow_faults(settings: Settings) -> Iterator[str]:
    """Say why the probe of `watch.follow` cannot be followed, a sentence each."""
    name, own = settings.watch.follow, _own_name(settings)
    if not name or name == own:
        return
    probe = settings.probes.get(name)
    if probe is None:
        known = ", ".join(dict.fromkeys([own, *settings.probes]))
        yield f"watch.follow = {name!r}: there is no such probe; known: {known}"
        return
    if probe.place not in tuple(ProbePlace):
        yield f"watch.follow = {name!r}: only a probe on the pot or in the chamber can be followed"
    if own in settings.probes:
        yield f"watch.follow = {name!r}: the probe of [board] would be called {own!r} then, as another one is already"
    if probe.board and FIRST_BOARD in settings.boards and probe.board != FIRST_BOARD:
        yield f"boards.{FIRST_BOARD}: with watch.follow that is what [board] is called; give this one another name"


def followed(settings: Settings) -> Settings:
    """Give the settings with the probe of `watch.follow` in [board] and [thermocouple], and theirs among the others.

    The probe that was there is then called by its place. A calibration that was kept for its port is not known there:
    that wants its file. Settings with `follow_faults` make no sense here.
    """
    name, own = settings.watch.follow, _own_name(settings)
    if not name or name == own:
        return settings
    probe, couple = settings.probes[name], settings.thermocouple
    before = ProbeSection(
        board=FIRST_BOARD if probe.board else "",
        channel=settings.board.channel,
        type=couple.type,
        tolerance_class=couple.tolerance_class,
        calibration="" if settings.board.calibration == _GOES_WITHOUT else settings.board.calibration,
        place=own,  # type: ignore[arg-type]  # pydantic checks it
    )
    others = {other: each for other, each in settings.probes.items() if other != name}
    of_probe = {"channel": probe.channel, "calibration": probe.calibration or _GOES_WITHOUT}
    changed: dict[str, Any] = {
        "watch": settings.watch.model_copy(update={"follow": ""}),
        "thermocouple": couple.model_copy(
            update={"type": probe.type, "tolerance_class": probe.tolerance_class, "place": ProbePlace(probe.place)}
        ),
    }
    if not probe.board:
        changed["board"] = settings.board.model_copy(update=of_probe)
    else:
        others = {other: _moved(each, probe.board) for other, each in others.items()}
        kept = settings.board.model_fields_set.difference(OF_ONE_PROBE)
        first = BoardSection(**{key: getattr(settings.board, key) for key in kept})
        further = {board: each for board, each in settings.boards.items() if board != probe.board}
        changed["board"] = settings.boards[probe.board].model_copy(update=of_probe)
        changed["boards"] = {FIRST_BOARD: first, **further}
    return settings.model_copy(update={**changed, "probes": {own: before, **others}})


def _own_name(settings: Settings) -> str:
    """Name the probe of [board] and [thermocouple]: by its place."""
    return str(settings.thermocouple.place or ProbePlace.POT)


def _moved(probe: ProbeSection, new_first: str) -> ProbeSection:
    """Give a probe by what its board is called once `new_first` is [board]."""
    board = FIRST_BOARD if probe.board in ("", THE_BOARD) else "" if probe.board == new_first else probe.board
    return probe.model_copy(update={"board": board})
