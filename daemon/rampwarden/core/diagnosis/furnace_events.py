"""What happens at a furnace besides the plan, as far as one probe shows it: lid, charge, melting and freezing metal.

Messages, in words of probability. They explain a course to whoever looks at it, now or later; they raise, clear and
silence no alarm.

- A lid lifted: the reading falls suddenly beside the ramp it was on, more than noise explains. Shut again: it rises as
  suddenly. Until then it may as well be a draught or a moved probe.
- Cold metal added: well after such a fall the reading has not regained what it had.
- A plateau: in the middle of a climb (or of a cooling) the temperature stands still for minutes. Pure metals melt and
  freeze at one temperature (ITS-90 fixed points); alloys over a range, so mostly they show none.
"""

from collections import deque
from dataclasses import dataclass

from rampwarden.core.model import Noise, Trend
from rampwarden.core.noise_formulas import mean_error_c
from rampwarden.core.quantities import format_duration

FREEZING_POINTS_C = {"zinc": 419.527, "aluminium": 660.323, "copper": 1084.62}
"""°C, defining fixed points of the ITS-90 (Metrologia 27, 3, 1990)."""
_BLOCK_S = 60.0


# When a course is worth a message. Common practice, no source.
_SUDDEN_C = 2.0
"""°C within ten seconds, beside ramp and noise."""
_DEVIATIONS = 5.0
"""Standard deviations of the noise that a sudden change must exceed besides."""
_HOLDS = 0.6
"""Share of a fall that must still be missing in the next bucket: a spark is gone by then."""
_RISES_BACK = 0.3
"""Share of the fall that a sudden rise must regain to be the same lid."""
_OPEN_S = 300.0
"""s. Nobody holds a lid up for longer; a fall without a rise was something else."""
_REGAINS_S = 150.0
"""s. So long after the lid was shut the pot alone would have regained what it had."""
_QUIET_S = 240.0
"""s. So long after a rise the ramp before a fall is not known again."""
_MISSING_C = 10.0
"""°C that must then be missing to where the ramp would have led, besides the deviations, to speak of metal."""
_MISSING_RAMP_S = 60.0
"""s. So much of the ramp that was a lid alone costs at most, beside the time it was lifted."""
_FLAT = 0.15
"""Share of the rate before that may be left on a plateau."""
_FLAT_C = 1.5
"""°C, beside the noise, within which a plateau must lie: a course that turns passes this in a minute or two."""
_CORNER = 0.75
"""Share of the rate before that must have been left just before the corner: what turns has slowed down by then."""
_FLAT_BLOCKS = 4
"""Minutes that a plateau must have lasted."""
_LEAST_C_PER_MIN = 1.0
"""°C/min, > 0. A slower course than this stands still for other reasons."""
_NEAR_C = 12.0
"""°C. So near to a metal's point a plateau is taken for it: class 2 wire and some drift."""


@dataclass(frozen=True, slots=True)
class Plateau:
    """The temperature stood still at `temp_c` for `lasted_s`, in the middle of a climb or, `falling`, of a cooling."""

    temp_c: float
    lasted_s: float
    falling: bool


class LidWatch:
    """Sees sudden falls and rises, and what is missing after them."""

    def __init__(self) -> None:
        self._before_c = self._lowest_c = self._ramp_c_per_s = 0.0
        self.restart()

    def restart(self) -> None:
        """Forget an open lid: the pot has been carried, or the heat cools."""
        self._fall_c = 0.0
        self._jumps_c: deque[float] = deque(maxlen=2)
        self._fell_s: float | None = None
        self._rose_s: float | None = None
        self._judged = False

    def feed(self, trend: Trend, *, told: bool) -> str:
        """Judge the trend; gives a message or nothing. `told` says that a mark has just explained the same."""
        if trend.jump_c is None:
            self.restart()
            return ""
        spacing_s = trend.spacing_s
        ramp_c_per_s = trend.before_c_per_s or 0.0
        beside_c = trend.jump_c - 2.0 * ramp_c_per_s * spacing_s
        # A rise just before takes away from a fall: what falls back after a spark has not fallen.
        rose_c = max(0.0, self._jumps_c[0]) if self._jumps_c else 0.0
        self._jumps_c.append(beside_c)
        sudden_c = _SUDDEN_C + _DEVIATIONS * trend.jump_error_c
        if self._fell_s is None:
            return self._look_for_fall(trend, -beside_c - rose_c, sudden_c, ramp_c_per_s, told=told)
        if self._rose_s is not None:
            return self._look_back(trend, self._fell_s, self._rose_s)
        self._lowest_c = min(self._lowest_c, trend.temp_c)
        lasted_s = trend.time_s - self._fell_s
        if trend.jump_c > max(sudden_c, _RISES_BACK * (self._before_c - self._lowest_c)):
            self._rose_s = trend.time_s
            lasted = format_duration(lasted_s)
            return "" if told else f"likely the lid is shut again after {lasted}: it rises as suddenly as it fell"
        if lasted_s >= _OPEN_S:
            missing = self._missing(trend, 0.0)
            self.restart()
            return f"likely cold metal was added, or the lid stands open: {missing}" if missing else ""
        return ""

    def _look_for_fall(self, trend: Trend, fall_c: float, sudden_c: float, ramp_c_per_s: float, *, told: bool) -> str:
        if self._fall_c > 0.0:
            fell_c, self._fall_c = self._fall_c, 0.0
            if self._before_c - trend.temp_c >= _HOLDS * fell_c:
                self._fell_s = trend.time_s - trend.spacing_s
                self._lowest_c = trend.temp_c
                fell = f"{fell_c:.0f} °C fell within {2.0 * trend.spacing_s:.0f} s"
                return "" if told else f"possibly the lid was lifted: {fell}; or a draught, or the probe was moved"
        if fall_c > sudden_c:
            self._fall_c = fall_c
            self._before_c = trend.temp_c + fall_c
            self._ramp_c_per_s = ramp_c_per_s
        return ""

    def _look_back(self, trend: Trend, fell_s: float, rose_s: float) -> str:
        """Some minutes after a lid was shut, tell whether the lid alone explains where the reading stands."""
        if trend.time_s - rose_s >= _QUIET_S:
            self.restart()
            return ""
        if self._judged or trend.time_s - rose_s < _REGAINS_S:
            return ""
        self._judged = True
        missing = self._missing(trend, rose_s - fell_s)
        return f"likely cold metal was added: {missing}" if missing else ""

    def _missing(self, trend: Trend, open_s: float) -> str:
        ramp_c_per_s = max(self._ramp_c_per_s, 0.0)
        missing_c = self._before_c + ramp_c_per_s * (trend.time_s - (self._fell_s or 0.0)) - trend.temp_c
        usual_c = ramp_c_per_s * (open_s + _MISSING_RAMP_S)
        if missing_c < usual_c + _MISSING_C + _DEVIATIONS * trend.jump_error_c:
            return ""
        return f"{missing_c:.0f} °C short of where the ramp before would have led"


class PlateauWatch:
    """Sees a course stand still for minutes, looking once a minute."""

    def __init__(self) -> None:
        self._blocks: deque[tuple[float, float]] = deque(maxlen=2 * _FLAT_BLOCKS + 3)
        self.restart()

    def restart(self) -> None:
        """Forget what was: another kind of segment begins, or a gap lies between."""
        self._blocks.clear()
        self._from_s: float | None = None
        self._sum_s = self._sum_c = 0.0
        self._count = 0
        self._told = False

    def feed(self, trend: Trend, noise: Noise, *, falling: bool) -> Plateau | None:
        """Judge the trend of a climb, or of a cooling if `falling`; gives each plateau once."""
        if self._from_s is None or trend.time_s - self._from_s > 3.0 * _BLOCK_S:
            self.restart()
            self._from_s = trend.time_s
        plateau = None
        if trend.time_s - self._from_s >= _BLOCK_S and self._count:
            self._blocks.append((self._sum_s / self._count, self._sum_c / self._count))
            self._sum_s = self._sum_c = 0.0
            self._count = 0
            self._from_s = trend.time_s
            plateau = self._judge(noise, falling)
        self._sum_s += trend.time_s
        self._sum_c += trend.temp_c
        self._count += 1
        return plateau

    def _judge(self, noise: Noise, falling: bool) -> Plateau | None:
        blocks = self._blocks
        if len(blocks) < 2 * _FLAT_BLOCKS + 3:
            return None
        flat_from, flat_to = blocks[-_FLAT_BLOCKS], blocks[-1]
        # Two blocks between hold the corner.
        rate_from, rate_to = blocks[0], blocks[-_FLAT_BLOCKS - 2]
        sign = -1.0 if falling else 1.0
        flat = sign * _rate(flat_from, flat_to)
        before = sign * _rate(rate_from, rate_to)
        corner = sign * _rate(blocks[-_FLAT_BLOCKS - 3], rate_to)
        error = 2.0**0.5 * mean_error_c(noise, _BLOCK_S) / (flat_to[0] - flat_from[0])
        fast_enough = before >= _LEAST_C_PER_MIN / 60.0 and error < 0.5 * _FLAT * before
        if not fast_enough or flat > 0.5 * before:
            self._told = self._told and flat <= 0.5 * before
            return None
        level = [temp_c for _, temp_c in list(blocks)[-_FLAT_BLOCKS:]]
        spread_c = _FLAT_C + 4.0 * mean_error_c(noise, _BLOCK_S)
        stands = abs(flat) <= _FLAT * before and max(level) - min(level) <= spread_c
        if self._told or not stands or corner < _CORNER * before:
            return None
        self._told = True
        mean_c = sum(level) / _FLAT_BLOCKS
        return Plateau(mean_c, flat_to[0] - flat_from[0] + _BLOCK_S, falling)


def _rate(early: tuple[float, float], late: tuple[float, float]) -> float:
    return (late[1] - early[1]) / (late[0] - early[0])


def plateau_text(plateau: Plateau) -> str:
    """Word a plateau near a pure metal's freezing point; nothing if it is near none."""
    for metal, point_c in FREEZING_POINTS_C.items():
        off_c = plateau.temp_c - point_c
        if abs(off_c) <= _NEAR_C:
            verb = "freezes" if plateau.falling else "melts"
            lasted = format_duration(plateau.lasted_s)
            return (
                f"possibly {metal} {verb}: {plateau.temp_c:.0f} °C for {lasted}; pure {metal} {verb} at {point_c:.1f}, "
                f"{abs(off_c):.0f} °C {'below' if off_c > 0 else 'above'} this reading"
            )
    return ""
