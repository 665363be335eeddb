"""The model board's channels beside the pot's in a rehearsal: each probe with its noise, its mishap and its frames."""

import random
from collections.abc import Iterator, Mapping, Sequence

from rampwarden.core.schedule import Schedule
from rampwarden.sources.beside_the_pot import USUAL_BOTTLE_KG, BesidePlace, BesideThePot
from rampwarden.sources.board_model import NOISE, BoardModel, NoiseClass, Wiring
from rampwarden.sources.furnace_faults import FaultName
from rampwarden.sources.furnace_model import ROOM_C, FurnaceModel
from rampwarden.sources.furnace_operator import Operator
from rampwarden.sources.probe_mishaps import FAULTY_WIRING, ProbeMishap, read_by_mishap


class ProbesBeside:
    """Probes at `places`, on the channels from 1 on in that order; the same seed gives the same bytes."""

    def __init__(
        self,
        places: Sequence[BesidePlace],
        mishaps: Mapping[BesidePlace, FaultName],
        schedule: Schedule,
        furnace: FurnaceModel,
        seed: int,
        noise: NoiseClass,
        interval_s: float,
        bottle_kg: float = USUAL_BOTTLE_KG,
    ) -> None:
        self._furnace = furnace
        self._surroundings = BesideThePot(furnace, bottle_kg)
        self._probes = {
            place: BoardModel(random.Random(f"board {seed} {place}"), NOISE[noise], interval_s, channel=channel)
            for channel, place in enumerate(places, start=1)
        }
        self._mishaps = {place: ProbeMishap(fault, schedule) for place, fault in mishaps.items()}

    def step(self, seconds: float) -> None:
        """Let `seconds` pass; of what no probe feels nothing need be reckoned."""
        if self._probes:
            self._surroundings.step(seconds)

    def restart(self, time_s: float) -> None:
        """Count from zero, as the board does that they are on."""
        for board in self._probes.values():
            board.restart(time_s)

    def frames(self, operator: Operator, time_s: float, *, hot_air: bool) -> Iterator[bytes]:
        """Convert once, and give a frame of each probe that is not silent."""
        for place, board in self._probes.items():
            mishap, felt_c = self._mishaps.get(place), self._surroundings.felt_c[place]
            age_s = None if mishap is None else mishap.age_s(operator, self._furnace.probe_c, time_s)
            fault = None if mishap is None or age_s is None else mishap.fault
            sample = board.measure(
                self._furnace,
                time_s,
                FAULTY_WIRING.get(fault, Wiring.SOUND) if fault is not None else Wiring.SOUND,
                hot_air=hot_air,
                felt_c=read_by_mishap(fault, age_s, felt_c, ROOM_C),
                in_flame=place is BesidePlace.CHAMBER,
            )
            if fault is not FaultName.SILENCE:
                yield board.frame(sample, time_s)
