"""What feeds the burner, and in which segments it burns: one rule for the plan and for the watch."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from rampwarden.core.physics.bottle import Bottle
from rampwarden.core.schedule import Schedule, SegmentKind

OTHERWISE = "*"
"""In a table of burner powers: every segment that is not named."""


@dataclass(frozen=True, slots=True)
class GasSupply:
    """The bottles that feed the burner together, `count` like `bottle`, in air of `ambient_c` (°C).

    `liquid_c` is their temperature at the start, °C; `needed_bar` the gauge pressure below which the regulator no
    longer holds; `burner_kw` net power by segment name, `OTHERWISE` for the rest. `tare_kg` is what an empty one
    weighs, None where nobody has said; `weighed`: their content at the start is by weight, not taken for full.
    """

    bottle: Bottle
    ambient_c: float
    liquid_c: float
    needed_bar: float
    burner_kw: dict[str, float] = field(default_factory=dict)
    count: int = 1
    tare_kg: float | None = None
    weighed: bool = False


def burns_kw(schedule: Schedule, index: int, powers: Mapping[str, float]) -> float:
    """Give the burner's power in segment `index`, kW.

    A segment that is not named and for which there is no figure for the rest burns nothing, nor does cooling, carrying,
    or what happens in the drying oven before the pot is carried over.
    """
    segment = schedule.segments[index]
    if segment.name in powers:
        return powers[segment.name]
    if not segment.kind.heats or any(each.kind is SegmentKind.TRANSFER for each in schedule.segments[index:]):
        return 0.0
    return powers.get(OTHERWISE, 0.0)
