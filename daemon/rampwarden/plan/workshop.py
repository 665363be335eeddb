"""What a plan is made from beside the schedule: the workshop as it stands today, and the pot that is to be heated.

Frozen facts only, already in units; settings and register fill them in. None stands for what nobody has said.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from rampwarden.plan.bodies import CrucibleClass
from rampwarden.plan.probe import Probe
from rampwarden.plan.sheet import SheetLimit


@dataclass(frozen=True, slots=True)
class BottleSettings:
    """What is known of the propane: per bottle, and how many feed the burner together.

    `full_kg` is what a bottle holds, `gross_kg` what it weighs now, `tare_kg` what is stamped on it. `needed_bar` is
    the gauge pressure below which the regulator no longer holds. `butane_share` is that of the liquid's moles, None
    where nobody has said; `liquid_c` the bottle's temperature at the start, °C, None where it stands at ambient.
    """

    full_kg: float | None = None
    gross_kg: float | None = None
    tare_kg: float | None = None
    diameter_m: float | None = None
    count: int = 1
    needed_bar: float = 1.0
    butane_share: float | None = None
    liquid_c: float | None = None


@dataclass(frozen=True, slots=True)
class Workshop:
    """The workshop. `burner_kw` gives net burner power by segment name, "*" for the rest; empty: not known."""

    ambient_c: float = 20.0
    gas: bool = True
    burner_kw: Mapping[str, float] = field(default_factory=dict)
    bottle: BottleSettings = field(default_factory=BottleSettings)
    probe: Probe = field(default_factory=lambda: Probe("K", 2))


@dataclass(frozen=True, slots=True)
class Pot:
    """The crucible as far as a plan needs it.

    `sheet` and `sheet_top_c` are the maker's limits, which outrank every estimate. `must_dry` says why it needs drying
    (empty: it does not); None where nobody knows its history.
    """

    crucible_class: CrucibleClass | None = None
    wall_mm: float | None = None
    sheet: tuple[SheetLimit, ...] = ()
    sheet_top_c: float | None = None
    must_dry: str | None = None
    mark: str = ""
