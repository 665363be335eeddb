"""Heat through a crucible's wall, step by step: outer face driven, inner face insulated, as an empty pot's is.

dT/dt = a d²T/dx² in cells of equal width, each step solved implicitly, so that a step may be as long as readings are
apart and no derivative of a noisy reading is needed. The tension in a face is E b/(1 - n) of how far it is colder than
the wall's mean. Sources: Carslaw and Jaeger, Conduction of Heat in Solids; Kingery and others, Introduction to
Ceramics. Knows no class of crucible: whoever knows one gives its figures.
"""

from dataclasses import dataclass

from rampwarden.core.model import WallState

STEP_S = 2.0
"""s. A lid that is lifted is seen within a step, and a step costs some microseconds."""
_CELLS = 16

# What a chamber gives a face: radiation between grey walls (the constant: CODATA 2018), and air that moves. Emissivity
# of fired clay and of silicon carbide 0.8 to 0.95 and 10 W/(m² K) of air: common practice, no source.
_STEFAN_BOLTZMANN_W_PER_M2_K4 = 5.670374e-8
_EMISSIVITY = 0.85
_AIR_W_PER_M2_K = 10.0
_ZERO_C_IN_K = 273.15


@dataclass(frozen=True, slots=True)
class PotWall:
    """A wall as far as heat and stress go. `stands_k` is the sudden difference that reaches its strength, K.

    That is s (1 - n)/(E b), of handbook figures that scatter by a factor of two.
    """

    thickness_m: float
    diffusivity_m2_per_s: float
    conductivity_w_per_m_k: float
    stands_k: float

    @property
    def settling_s(self) -> float:
        """How long a steady ramp must last until the difference stands, s: L²/a, when 91 % of it do."""
        return self.thickness_m**2 / self.diffusivity_m2_per_s


class WallConduction:
    """The temperatures in one wall, °C, from a wall that is `temp_c` all through."""

    def __init__(self, wall: PotWall, temp_c: float) -> None:
        self._cells = [temp_c] * _CELLS
        width_m = wall.thickness_m / _CELLS
        self._fourier_per_s = wall.diffusivity_m2_per_s / width_m**2
        self._conductance = 2.0 * wall.conductivity_w_per_m_k / width_m
        self._factored_s = 0.0
        self._fourier = 0.0
        self._gains: list[float] = []
        self.outer_c = temp_c

    def step(self, seconds: float, face_c: float) -> None:
        """Let `seconds` pass with the outer face at `face_c` (°C) at their end."""
        self._solve(seconds, face_c, 1.0)
        self.outer_c = face_c

    def step_in_chamber(self, seconds: float, chamber_c: float) -> None:
        """Let `seconds` pass in a chamber of `chamber_c` (°C), which gives the face heat by radiation and air."""
        chamber_k, face_k = chamber_c + _ZERO_C_IN_K, self.outer_c + _ZERO_C_IN_K
        radiated = _EMISSIVITY * _STEFAN_BOLTZMANN_W_PER_M2_K4 * (chamber_k**2 + face_k**2) * (chamber_k + face_k)
        exchange = _AIR_W_PER_M2_K + radiated
        share = exchange / (exchange + self._conductance)
        self._solve(seconds, chamber_c, share)
        self.outer_c = share * chamber_c + (1.0 - share) * self._cells[-1]

    @property
    def inner_c(self) -> float:
        """The inner face, °C: nothing passes it, so the course is flat there."""
        return (9.0 * self._cells[0] - self._cells[1]) / 8.0

    @property
    def mean_c(self) -> float:
        """The wall's mean, °C."""
        return sum(self._cells) / _CELLS

    def _solve(self, seconds: float, drive_c: float, share: float) -> None:
        """Solve one implicit step from the inner cell outwards, then back; `share` of the drive reaches the face."""
        if seconds != self._factored_s:
            self._factor(seconds)
        cells, gains, fourier = self._cells, self._gains, self._fourier
        passed_c = 0.0
        for place, gain in enumerate(gains):
            passed_c = cells[place] = (cells[place] + fourier * passed_c) * gain
        pull = 2.0 * fourier * share
        last = _CELLS - 1
        temp_c = cells[last] = (cells[last] + fourier * passed_c + pull * drive_c) / (
            1.0 + fourier + pull - fourier * fourier * gains[-1]
        )
        for place in range(last - 1, -1, -1):
            temp_c = cells[place] = cells[place] + fourier * gains[place] * temp_c

    def _factor(self, seconds: float) -> None:
        """Work out what depends on the step's length alone."""
        self._factored_s, self._fourier = seconds, self._fourier_per_s * seconds
        fourier, gains = self._fourier, [1.0 / (1.0 + self._fourier)]
        while len(gains) < _CELLS - 1:
            gains.append(1.0 / (1.0 + 2.0 * fourier - fourier * fourier * gains[-1]))
        self._gains = gains


def wall_words(wall: WallState) -> str:
    """Say what is known of the wall's difference: kelvin first, then the share of its strength, and what that is worth.

    >>> from rampwarden.core.model import WallPeak
    >>> wall_words(WallState(12.3, 0.08, None, WallPeak(31.0, 1200.0, 2, 0.2, 0.1)))
    'through the wall 12 K now, at most 31 in this heat · 8 % of what it stands, good to a factor of two'
    """
    peaks = []
    if wall.in_segment is not None and wall.in_segment != wall.in_heat:
        peaks.append(f"{abs(wall.in_segment.through_k):.0f} in this segment")
    if wall.in_heat is not None:
        peaks.append(f"{abs(wall.in_heat.through_k):.0f} in this heat")
    at_most = f", at most {', '.join(peaks)}" if peaks else ""
    share = f"{wall.strength_share:.0%}".replace("%", " %")
    return f"through the wall {wall.through_k:.0f} K now{at_most} · {share} of what it stands, good to a factor of two"
