"""From EMF to temperature and back on the ITS-90, for the thermocouple types B, E, J, K, N, R, S and T.

Owns the arithmetic on the published functions. Knows nothing of boards, readings or faults: an EMF that no temperature
gives is a `ValueError` here, and whoever converts a reading makes a fault of it.

How a temperature is found:

1. EMFs add, temperatures do not: the EMF of the reference junction is added to the measured one.
2. By that *sum*, never by the measured EMF, the range is chosen.
3. The published inverse gives a start within 0.06 °C; Newton steps on the reference function finish. The inverse alone
   is not enough: for type K it jumps 0.033 °C at 500 °C, which a ramp would show as 119 °C/h for a second.
4. Below the published inverses the walk starts at their lower end. There the reference functions are convex, so the
   steps come down to the answer from above and cannot leave the range.

Scalars and arrays take the same steps in the same order. Numpy is loaded by the first array, never by a scalar: a
command that converts one reading would wait for it longer than for all else.
"""

import math
from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache, lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, TypeVar, overload

from rampwarden.core.instrument.coefficients import THERMOCOUPLE_DATA, TOLERANCES, InverseRange, ReferenceRange

if TYPE_CHECKING:
    from rampwarden.core.instrument.thermocouple_arrays import FloatArray

Number = TypeVar("Number", float, "FloatArray")

# A Newton step of s leaves an error of at most 0.2·s² (E″/2E′ is largest at -270 °C, 0.19 per °C for type T), so after
# a step this small the error is below 1e-9 °C and no other is needed.
_LAST_STEP_C = 5e-5
# The longest walk, type N from -200 down to -270 °C, takes 9 steps; within the published inverses it is 2.
_MOST_STEPS = 12
# µV. An EMF nearer than this to the end of a range would be shown as if it were the end itself.
_SHOWN_APART_UV = 0.1

# Type B's EMF falls to -2.6 µV at 21 °C and is back at 0 µV only at 42 °C: below that, each EMF belongs to two
# temperatures. From 50 °C up it is 2.2 µV and more, which no lower temperature gives.
_LOWEST_MEASURABLE_C = {"B": 50.0}


# Asked of every reading: a tuple made once, and no union that is made anew each time.
_SCALARS = (float, int)


def _exp_of(values: Number) -> Callable[[Number], Number]:
    """Give the exponential that suits a float, or an array."""
    if isinstance(values, float):
        return math.exp
    from rampwarden.core.instrument.thermocouple_arrays import exp  # noqa: PLC0415

    return exp


@dataclass(frozen=True, slots=True)
class _Reference:
    """One range of a reference function in µV, up to `high_c`; coefficients with the highest power first."""

    high_c: float
    coefficients: tuple[float, ...]
    exponential: tuple[float, float, float] | None

    def emf_uv(self, temp_c: Number) -> Number:
        """Give E at `temp_c`, µV, by Horner's scheme."""
        emf_uv = 0.0 * temp_c
        for coefficient in self.coefficients:
            emf_uv = emf_uv * temp_c + coefficient
        if self.exponential is not None:
            height_uv, decay, centre_c = self.exponential
            away_c = temp_c - centre_c
            exponent = decay * away_c * away_c
            emf_uv = emf_uv + height_uv * _exp_of(temp_c)(exponent)
        return emf_uv

    def emf_and_slope(self, temp_c: Number, exp: Callable[[Number], Number]) -> tuple[Number, Number]:
        """Give E and dE/dt at `temp_c`, µV and µV/°C, in one pass; `exp` suits the kind of number."""
        emf_uv = slope = 0.0 * temp_c
        for coefficient in self.coefficients:
            slope = slope * temp_c + emf_uv
            emf_uv = emf_uv * temp_c + coefficient
        if self.exponential is not None:
            height_uv, decay, centre_c = self.exponential
            away_c = temp_c - centre_c
            exponent = decay * away_c * away_c
            hump_uv = height_uv * exp(exponent)
            emf_uv = emf_uv + hump_uv
            slope = slope + 2.0 * decay * away_c * hump_uv
        return emf_uv, slope


@dataclass(frozen=True, slots=True)
class _Inverse:
    """For EMF sums up to `high_uv`: the polynomial to start from, highest power first, and what to finish on."""

    high_uv: float
    start: tuple[float, ...]
    reference: _Reference

    def temp_c(self, sum_uv: Number) -> Number:
        """Solve E(t) = `sum_uv`; °C."""
        temp_c = 0.0 * sum_uv
        for coefficient in self.start:
            temp_c = temp_c * sum_uv + coefficient
        emf_and_slope, exp = self.reference.emf_and_slope, _exp_of(temp_c)
        for _ in range(_MOST_STEPS):
            emf_uv, slope = emf_and_slope(temp_c, exp)
            step_c = (emf_uv - sum_uv) / slope
            temp_c = temp_c - step_c
            longest_c = abs(step_c)
            if (longest_c if isinstance(longest_c, float) else longest_c.max(initial=0.0)) < _LAST_STEP_C:
                break
        return temp_c


@dataclass(frozen=True, slots=True)
class Thermocouple:
    """One letter-designated type; `thermocouple` hands it out.

    `range_c` is where the reference function is defined (lowest, highest), °C. `measurable_c` is the part of it that an
    EMF can tell, all of it but for type B. `emf_range_uv` is the EMF over that part, µV with the reference junction at
    0 °C. A float gives a float, an array a new array of the same shape.
    """

    letter: str
    range_c: tuple[float, float]
    measurable_c: tuple[float, float]
    emf_range_uv: tuple[float, float]
    references: tuple[_Reference, ...] = field(repr=False)
    inverses: tuple[_Inverse, ...] = field(repr=False)
    # The upper ends of the two rows above, to search in.
    reference_ends_c: tuple[float, ...] = field(repr=False)
    inverse_ends_uv: tuple[float, ...] = field(repr=False)

    @overload
    def emf_uv(self, temp_c: float) -> float: ...
    @overload
    def emf_uv(self, temp_c: "FloatArray") -> "FloatArray": ...
    def emf_uv(self, temp_c: "float | FloatArray") -> "float | FloatArray":
        """Evaluate the reference function.

        Parameters
        ----------
        temp_c : float or array of float
            °C, temperature of the measuring junction within `range_c`.

        Returns
        -------
        float or array of float
            µV, EMF with the reference junction at 0 °C.

        Raises
        ------
        ValueError
            Any temperature outside `range_c`, or NaN.

        Notes
        -----
        Horner's scheme on the published polynomial; agrees with every printed cell, which are whole µV. At a joint the
        lower range counts; the published functions differ there by less than 0.0001 µV. Source: NIST Monograph 175,
        IEC 60584-1:2013.

        Examples
        --------
        >>> round(thermocouple("K").emf_uv(500.0))
        20644
        """
        if not isinstance(temp_c, _SCALARS):
            from rampwarden.core.instrument.thermocouple_arrays import emf_and_slope  # noqa: PLC0415

            return emf_and_slope(self, temp_c)[0]
        return self._reference_at(temp_c).emf_uv(float(temp_c))

    @overload
    def sensitivity_uv_per_c(self, temp_c: float) -> float: ...
    @overload
    def sensitivity_uv_per_c(self, temp_c: "FloatArray") -> "FloatArray": ...
    def sensitivity_uv_per_c(self, temp_c: "float | FloatArray") -> "float | FloatArray":
        """Evaluate the derivative of the reference function (the Seebeck coefficient).

        Parameters
        ----------
        temp_c : float or array of float
            °C, within `range_c`.

        Returns
        -------
        float or array of float
            µV/°C.

        Raises
        ------
        ValueError
            Any temperature outside `range_c`, or NaN.

        Notes
        -----
        The exact derivative of the published polynomial, not a difference. At a joint the lower range counts; only type
        N has a step there that shows, from 26.16 to 25.93 µV/°C at 0 °C. Source: NIST Monograph 175,
        IEC 60584-1:2013.

        Examples
        --------
        >>> round(thermocouple("K").sensitivity_uv_per_c(200.0), 1)
        40.0
        """
        if not isinstance(temp_c, _SCALARS):
            from rampwarden.core.instrument.thermocouple_arrays import emf_and_slope  # noqa: PLC0415

            return emf_and_slope(self, temp_c)[1]
        return self._reference_at(temp_c).emf_and_slope(float(temp_c), math.exp)[1]

    @overload
    def temp_c(self, emf_uv: float, junction_c: float = 0.0) -> float: ...
    @overload
    def temp_c(self, emf_uv: "FloatArray", junction_c: "float | FloatArray" = 0.0) -> "FloatArray": ...
    @overload
    def temp_c(self, emf_uv: float, junction_c: "FloatArray") -> "FloatArray": ...
    def temp_c(self, emf_uv: "float | FloatArray", junction_c: "float | FloatArray" = 0.0) -> "float | FloatArray":
        """Convert a measured EMF to the temperature of the measuring junction: E⁻¹(emf + E(junction)).

        Parameters
        ----------
        emf_uv : float or array of float
            µV, as measured.
        junction_c : float or array of float
            °C, temperature of the reference junction within `range_c`. Arrays broadcast.

        Returns
        -------
        float or array of float
            °C, within `measurable_c`.

        Raises
        ------
        ValueError
            A junction outside `range_c`, a sum of EMFs outside `emf_range_uv`, or NaN in either. Type B is refused
            below 50 °C, because an EMF of lower temperatures belongs to two of them.

        Notes
        -----
        The published inverse, then Newton steps on the reference function to 1e-9 °C (1e-7 °C near -270 °C, where
        rounding of the reference function is the limit). There and back again is within 1e-6 °C everywhere, joints and
        ends included; the worst is 4e-7 °C at 630.615 °C of type B, where the published functions do not quite meet.
        Source: NIST Monograph 175, IEC 60584-1:2013.

        Examples
        --------
        4096 µV is 100 °C over a junction at 0 °C, but not 125 °C over one at 25 °C:

        >>> round(thermocouple("K").temp_c(4096.0, junction_c=25.0), 1)
        124.3
        """
        if not (isinstance(emf_uv, _SCALARS) and isinstance(junction_c, _SCALARS)):
            from rampwarden.core.instrument.thermocouple_arrays import temp_c as array_temp_c  # noqa: PLC0415

            return array_temp_c(self, emf_uv, junction_c)
        sum_uv = float(emf_uv) + _junction_emf_uv(self.letter, float(junction_c))
        lowest_uv, highest_uv = self.emf_range_uv
        if not lowest_uv <= sum_uv <= highest_uv:
            raise ValueError(self.refusal_of_emf(sum_uv))
        temp_c = self.inverses[bisect_left(self.inverse_ends_uv, sum_uv)].temp_c(sum_uv)
        lowest_c, highest_c = self.measurable_c
        # Rounding may carry the very ends a hair outside, where the way back would be refused.
        return temp_c if lowest_c <= temp_c <= highest_c else min(max(temp_c, lowest_c), highest_c)

    def tolerance_c(self, temp_c: float, tolerance_class: int) -> float:
        """Give how far a new thermocouple of a tolerance class may be off.

        Parameters
        ----------
        temp_c : float
            °C, temperature of the measuring junction.
        tolerance_class : int
            1 or 2 of IEC 60584-1.

        Returns
        -------
        float
            ± °C. For new wire only: drift in use comes on top and has no bound.

        Raises
        ------
        ValueError
            No such class for this type, or a temperature outside the range that the class covers.

        Notes
        -----
        The greater of a fixed value and a fraction of the temperature in °C; below 0 °C that is the fixed value.
        Source: IEC 60584-1:2013, tolerance classes.

        Examples
        --------
        >>> thermocouple("K").tolerance_c(1000.0, 2)
        7.5
        """
        tolerance = TOLERANCES.get((self.letter, tolerance_class))
        if tolerance is None:
            known = " or ".join(str(number) for letter, number in TOLERANCES if letter == self.letter)
            raise ValueError(f"type {self.letter} has no tolerance class {tolerance_class}; use {known}")
        if not tolerance.low_c <= temp_c <= tolerance.high_c:
            raise ValueError(
                f"type {self.letter}: tolerance class {tolerance_class} covers {tolerance.low_c:g} to "
                f"{tolerance.high_c:g} °C, not {temp_c:g} °C"
            )
        return max(tolerance.least_c, tolerance.offset_c + tolerance.fraction * temp_c)

    def _reference_at(self, temp_c: float) -> _Reference:
        if not self.range_c[0] <= temp_c <= self.range_c[1]:
            raise ValueError(self.refusal_of_temp(temp_c))
        return self.references[bisect_left(self.reference_ends_c, temp_c)]

    def refusal_of_temp(self, temp_c: float) -> str:
        """Say why a temperature (°C) has no EMF here."""
        return f"type {self.letter} is defined from {self.range_c[0]:g} to {self.range_c[1]:g} °C, not at {temp_c:g} °C"

    def refusal_of_emf(self, sum_uv: float) -> str:
        """Say why a sum of EMFs (µV) gives no temperature here."""
        ambiguous = self.measurable_c[0] > self.range_c[0] and sum_uv < self.emf_range_uv[0]
        # A hair outside, rounded, would be told to be outside a range that it is shown to lie in.
        just = "just " if min(abs(sum_uv - end_uv) for end_uv in self.emf_range_uv) < _SHOWN_APART_UV else ""
        return (
            f"type {self.letter}: {sum_uv:.1f} µV (measured plus reference junction) is {just}outside "
            f"{self.emf_range_uv[0]:.1f} to {self.emf_range_uv[1]:.1f} µV, "
            f"which is {self.measurable_c[0]:g} to {self.measurable_c[1]:g} °C"
            + ("; below that, one EMF belongs to two temperatures" if ambiguous else "")
        )


@lru_cache(maxsize=256)
def _junction_emf_uv(letter: str, junction_c: float) -> float:
    """Give the EMF of a reference junction, µV: it moves by a converter's step now and then, not at every reading."""
    couple = thermocouple(letter)
    return couple._reference_at(junction_c).emf_uv(junction_c)


@cache
def thermocouple(letter: str) -> Thermocouple:
    """Give the type of that letter, the same frozen object each time; `ValueError` for any other letter.

    >>> thermocouple("K").range_c
    (-270.0, 1372.0)
    """
    if letter not in THERMOCOUPLE_DATA:
        raise ValueError(f"thermocouple type {letter!r} is unknown; use one of {', '.join(THERMOCOUPLE_DATA)}")
    data = THERMOCOUPLE_DATA[letter]
    range_c = (data.reference[0].low_c, data.reference[-1].high_c)
    measurable_c = (_LOWEST_MEASURABLE_C.get(letter, range_c[0]), range_c[1])
    references = tuple(_reference_in_uv(published) for published in data.reference)
    inverses = _inverses(data.inverse, references, measurable_c[0])
    return Thermocouple(
        letter=letter,
        range_c=range_c,
        measurable_c=measurable_c,
        emf_range_uv=(references[0].emf_uv(measurable_c[0]), inverses[-1].high_uv),
        references=references,
        inverses=inverses,
        reference_ends_c=tuple(reference.high_c for reference in references),
        inverse_ends_uv=tuple(inverse.high_uv for inverse in inverses),
    )


def _reference_in_uv(published: ReferenceRange) -> _Reference:
    """Turn the published mV into µV; with `_start_per_uv` the only place where they meet."""
    exponential = published.exponential
    return _Reference(
        high_c=published.high_c,
        coefficients=tuple(1000.0 * coefficient for coefficient in reversed(published.coefficients)),
        exponential=exponential and (1000.0 * exponential[0], exponential[1], exponential[2]),
    )


def _start_per_uv(published: InverseRange) -> tuple[float, ...]:
    scaled = [coefficient / 1000.0**power for power, coefficient in enumerate(published.coefficients)]
    return tuple(reversed(scaled))


def _inverses(
    published: tuple[InverseRange, ...], references: tuple[_Reference, ...], lowest_c: float
) -> tuple[_Inverse, ...]:
    """Cut the measurable range wherever the start or the reference function changes.

    Where published inverses overlap (types R and S) the upper one takes over at its lower end.
    """
    cuts_c = {lowest_c, *(inverse.low_c for inverse in published), *(reference.high_c for reference in references)}
    inverses = []
    for low_c, high_c in pairwise(sorted(cuts_c)):
        reference = next(reference for reference in references if high_c <= reference.high_c)
        covering = [inverse for inverse in published if inverse.low_c <= low_c]
        # With no inverse that low, its lower end is the start: a polynomial of one term.
        start = _start_per_uv(covering[-1]) if covering else (published[0].low_c,)
        inverses.append(_Inverse(reference.emf_uv(high_c), start, reference))
    return tuple(inverses)


# Taken for one another: the usual base metals of furnaces and the two platinum ones.
_MIXED_UP = ("J", "K", "N", "R", "S")


def as_other_types(letter: str, temp_c: float) -> list[tuple[str, float]]:
    """Give what a temperature read as type `letter` (°C) would be, had its EMF come from another type.

    One pair of letter and °C for each type that is mixed up at furnaces and reaches so far. The reference junction is
    taken to be at 0 °C.

    >>> [(other, round(temp_c)) for other, temp_c in as_other_types("K", 960.0)]
    [('J', 709), ('N', 1090)]
    """
    emf_uv = thermocouple(letter).emf_uv(temp_c)
    others = []
    for other in _MIXED_UP:
        if other == letter:
            continue
        try:
            others.append((other, thermocouple(other).temp_c(emf_uv)))
        except ValueError:
            continue
    return others
