"""The figures of one heat, as they are kept: what each means. How they come about stands in `heat_figures`."""

from msgspec import UNSET, Struct, UnsetType

from rampwarden.core.model import GasFigures, WallPeak, WaterState
from rampwarden.core.physics import DryHeat
from rampwarden.core.pot import PotAccount, Readiness

POT_KG = (0.01, 2000.0)
"""What a pot may weigh, kg: bounds against slips of the pen."""


class SegmentFigures(Struct, frozen=True):
    """One segment: its worst climb against the limit that was nearest to being broken, and its soak.

    `climb_c` (a cooling's: fall) was the greatest within `window_s`, where `limit_c` are allowed; None without a limit.
    `seconds` is how long the segment lasted, `soaked_s` the time in its band of the `hold_s` wanted.
    """

    number: int
    name: str
    kind: str
    seconds: float
    climb_c: float | None
    limit_c: float | None
    window_s: float | None
    soaked_s: float
    hold_s: float


class PhysicsFigures(Struct, frozen=True, omit_defaults=True):
    """What was reckoned of a heat's own physics: wall (its greatest difference in each segment), gas and water.

    `dry_heat` is what the heat of a pot that was dry before showed of its oven: later heats reckon with it.
    """

    wall: tuple[WallPeak, ...] = ()
    gas: GasFigures | None = None
    water: WaterState | None = None
    dry_heat: DryHeat | None = None

    @property
    def greatest_wall(self) -> WallPeak | None:
        """The greatest difference through the wall of the whole heat; None where it was not followed."""
        return max(self.wall, key=lambda peak: abs(peak.through_k), default=None)

    @property
    def gas_kg(self) -> float | None:
        """The gas it took, kg, by weight where it was weighed, else as reckoned; None where it was not followed."""
        gas = self.gas
        return None if gas is None else gas.used_kg if gas.weighed_kg is None else gas.weighed_kg


class HeatFigures(Struct, frozen=True):
    """A whole heat. Temperatures are °C; the dose is in equivalent minutes at 600 °C, and is the account's own figure.

    Dose and hours are upper bounds: time nobody watched (`unseen_s`) is credited with the mean of its two ends.
    `alarms` counts how often each was raised; `closed` tells whether the record was. `soaked_s` is what the account
    credits at working temperature, without what was not confirmed or taken back; of a mere drying, the soak clock's.
    `account` is what the heat has shown of its pot, `readiness` what that makes the pot ready for; None in figures that
    were kept before there were any. `physics` is what was reckoned of the pot's own physics, None where nothing was.
    `mass_after_kg` and `look` are what people marked of the pot once the heat was over, unset where nobody did.
    """

    record_id: str
    file: str
    started: str
    title: str
    mark: str
    metal: str
    thermocouple: str
    rehearsal: bool
    closed: bool
    complete: bool
    readings: int
    seconds: float
    peak_c: float
    soaked_s: float
    hot_h: float
    dose_min: float
    unseen_s: float
    alarms: dict[str, int]
    segments: tuple[SegmentFigures, ...]
    account: PotAccount | None = None
    readiness: Readiness | None = None
    physics: PhysicsFigures | None = None
    mass_after_kg: float | UnsetType = UNSET
    look: str | UnsetType = UNSET

    @property
    def was_heat(self) -> bool:
        """Whether anything was ever warm: a false start dries and fires nothing."""
        return self.account is not None and self.account.was_heat
