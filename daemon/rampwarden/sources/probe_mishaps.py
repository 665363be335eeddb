"""Mishaps of one probe among several in a rehearsal: `chamber:open-sensor`.

Owns how such a mishap is written, when it is on, and what it does to the probe's wiring or to what it reads. It must
not know the furnace.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from rampwarden.core.schedule import Schedule
from rampwarden.errors import ScheduleError
from rampwarden.sources.beside_the_pot import BesidePlace
from rampwarden.sources.board_model import Wiring
from rampwarden.sources.furnace_faults import FaultName, FaultPlace, place_of
from rampwarden.sources.furnace_operator import Operator

PROBE_FAULTS = (
    FaultName.OPEN_SENSOR,
    FaultName.SHORTED_SENSOR,
    FaultName.STUCK_SENSOR,
    FaultName.REVERSED_SENSOR,
    FaultName.NOISY_SENSOR,
    FaultName.SILENCE,
    FaultName.PULLED_SENSOR,
    FaultName.DRIFTING_SENSOR,
)
"""What can befall any probe; all else befalls the heat or the board."""

FAULTY_WIRING = {
    FaultName.OPEN_SENSOR: Wiring.OPEN,
    FaultName.SHORTED_SENSOR: Wiring.SHORTED,
    FaultName.STUCK_SENSOR: Wiring.STUCK,
    FaultName.REVERSED_SENSOR: Wiring.REVERSED,
    FaultName.NOISY_SENSOR: Wiring.PICKUP,
}
# A probe drawn back so far loses this share of what it reads over the room; a drifting one this share more each hour.
_PULLED_SHARE = 0.2
_DRIFT_SHARE_PER_H = 0.05


@dataclass(frozen=True, slots=True)
class Mishaps:
    """What goes wrong in a rehearsal: with heat, board or the pot's probe, and with the probes beside it."""

    of_heat: FaultName | None = None
    of_probes: Mapping[BesidePlace, FaultName] = field(default_factory=dict)


def read_mishaps(written: Sequence[str], beside: Sequence[BesidePlace]) -> Mishaps:
    """Read what is to go wrong, each as `NAME` or `PROBE:NAME`, `pot` being the followed probe.

    Raises `ScheduleError` with all that is known for a name that is not, for a second mishap of the heat or of one
    probe, and for a probe that is not among those `beside` the pot's.
    """
    of_heat: FaultName | None = None
    of_probes: dict[BesidePlace, FaultName] = {}
    for text in written:
        probe, _, name = text.rpartition(":")
        fault = _known(name, tuple(FaultName) if probe in ("", "pot") else PROBE_FAULTS, text)
        if probe in ("", "pot"):
            if of_heat is not None:
                raise ScheduleError(f"{of_heat} and {fault}: one mishap of the heat at a time")
            of_heat = fault
            continue
        place = next((each for each in beside if each == probe), None)
        if place is None:
            there = ", ".join(["pot", *beside])
            add = f"; add --probe {probe}" if probe in tuple(BesidePlace) else ""
            raise ScheduleError(f"{text!r}: there is no such probe in this rehearsal ({there}){add}")
        if place in of_probes:
            raise ScheduleError(f"{text!r}: one mishap a probe at a time, and it has {of_probes[place]}")
        of_probes[place] = fault
    return Mishaps(of_heat, of_probes)


class ProbeMishap:
    """One mishap of one probe: off until its place in the schedule has come, then on for as long as it lasts."""

    def __init__(self, fault: FaultName, schedule: Schedule) -> None:
        self.fault = fault
        self._place: FaultPlace = place_of(fault, schedule)
        self._since_s: float | None = None

    def age_s(self, operator: Operator, reached_c: float, time_s: float) -> float | None:
        """Give for how long it has been on, s; None before and after. `reached_c` is the pot's temperature."""
        if self._since_s is None and operator.stands_in(self._place, time_s) and reached_c >= self._place.from_c:
            self._since_s = time_s
        if self._since_s is None or time_s - self._since_s >= self._place.lasting_s:
            return None
        return time_s - self._since_s


def read_by_mishap(fault: FaultName | None, age_s: float | None, felt_c: float, room_c: float) -> float:
    """Give what a probe reads that has been pulled back or drifts for `age_s` (None: not now), °C."""
    if age_s is None:
        return felt_c
    if fault is FaultName.PULLED_SENSOR:
        return felt_c - _PULLED_SHARE * (felt_c - room_c)
    if fault is FaultName.DRIFTING_SENSOR:
        return felt_c - _DRIFT_SHARE_PER_H * age_s / 3600.0 * (felt_c - room_c)
    return felt_c


def _known(name: str, known: Sequence[FaultName], text: str) -> FaultName:
    for fault in known:
        if fault == name:
            return fault
    raise ScheduleError(f"fault {text!r}: there is no such mishap there; known: {', '.join(known)}")
