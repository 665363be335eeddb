"""Whether several probes and boards make sense together: one line for each fault, all at once. Reads nothing."""

from collections import Counter
from collections.abc import Iterator

from rampwarden.settings.sections import Settings

MOST_PROBES = 8
"""Followed one included: what boards with several inputs have."""
THE_BOARD = "board"
"""What the section [board] is called where boards are named."""

OF_ONE_PROBE = ("channel", "calibration", "buzzer")
"""What a further board's section leaves to its probes, or to [board]."""


def probe_faults(settings: Settings) -> tuple[str, ...]:
    """Say what is wrong between probes and boards, one sentence each; nothing where there is only one probe."""
    return tuple(fault for _, fault in _faults(settings) if fault)


def sound_probes(settings: Settings) -> tuple[str, ...]:
    """Give the names of the other probes that nothing is wrong with: a hot furnace is watched with what makes sense."""
    faulty = {name for name, _ in _faults(settings)}
    return tuple(name for name in settings.probes if name not in faulty)


def _faults(settings: Settings) -> Iterator[tuple[str, str]]:
    probes = settings.probes
    if len(probes) >= MOST_PROBES:
        for name in list(probes)[MOST_PROBES - 1 :]:
            yield name, f"probes.{name}: one too many; a watch reads {MOST_PROBES} probes, the followed one included"
    yield from _shared_ports(settings)
    used = Counter({_channel(settings, THE_BOARD, settings.board.channel): 1})
    for name, probe in probes.items():
        board = probe.board or THE_BOARD
        if board != THE_BOARD and board not in settings.boards:
            known = ", ".join([THE_BOARD, *settings.boards])
            yield name, f"probes.{name}.board = {board!r}: there is no such board; known: {known}"
        channel = _channel(settings, board, probe.channel)
        used[channel] += 1
        if used[channel] > 1:
            yield name, f"probes.{name}.channel = {probe.channel!r}: another probe is on that channel of {board!r}"
    places = Counter({str(settings.thermocouple.place or "pot"): 1})
    for name, probe in probes.items():
        places[probe.place] += 1
        if places[probe.place] > 1:
            yield name, f"probes.{name}.place = {probe.place!r}: another probe is in that place"
    in_use = {probe.board for probe in probes.values()}
    for board, section in settings.boards.items():
        for key in OF_ONE_PROBE:
            if key in section.model_fields_set:
                yield "", f"boards.{board}.{key}: belongs to a probe, or to [board]; leave it out"
        if board not in in_use:
            yield "", f"boards.{board}: no probe is on it; name it in a [probes] section's board, or leave it out"


def _shared_ports(settings: Settings) -> Iterator[tuple[str, str]]:
    ports = Counter({settings.board.port: 1})
    for board, section in settings.boards.items():
        on_it = [name for name, probe in settings.probes.items() if probe.board == board] or [""]
        if not section.port:
            fault = f"boards.{board}.port: no port to read"
        elif ports[section.port]:
            fault = f"boards.{board}.port = {section.port!r}: another board has that port"
        else:
            ports[section.port] += 1
            continue
        for number, name in enumerate(on_it):
            # Said once, though it costs every probe on it.
            yield name, fault if not number else ""


def _channel(settings: Settings, board: str, channel: int | str) -> tuple[str, str]:
    """Give a channel as it can be compared: a name is a place in the board's list of names."""
    section = settings.board if board == THE_BOARD else settings.boards.get(board)
    names = () if section is None else section.values
    if isinstance(channel, int) and channel < len(names):
        return board, names[channel]
    return board, str(channel)
