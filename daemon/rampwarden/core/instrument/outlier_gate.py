"""The outlier gate: which temperatures may be believed, decided one reading at a time.

Ignition sparks, a loose plug and the mains put single readings, or two in a row, tens to hundreds of degrees off. The
gate sets those aside (`HELD`) and lets a true step through on its third reading, a leap that no furnace makes on its
fourth: in a rough fire three sparks in a row agree once in a dozen days. It knows nothing of noise models, limits or
segments, and it changes no temperature: it only judges.

Why a fixed slew and not a statistical gate: an innovation gate that has once lost a fast rise rejects everything that
follows and never comes back. This one compares with the last believed reading only, so three or four readings that
agree with each other always win. What it knows of the course may only tighten its reach, and never beyond the
tolerance: on a fast ramp a gap excuses a reading above the last one, where the ramp leads, and so much less one below.

A reading that follows one without a temperature is judged like any other: the converter may still be settling, but a
plug that works every other reading would otherwise never be believed, and what is near the last belief does no harm.
"""

import math

from rampwarden.core.model import Quality

# Given at every reading, and so looked up once (see `SegmentKind.heats`).
_GOOD = Quality.GOOD

# How far a believable reading may stand from the one before. Common practice, no source.
_TOLERANCE_C = 6.0
"""°C, > 0. Four times the flame flicker of a rough burner (1.5 °C rms), and far below a spark's 20 °C."""
_SLEW_C_PER_S = 5.0
"""°C/s, > 0. With the tolerance, a rise of 10 °C/s at one reading a second still passes unheld."""
_MOST_SLEW_C = 10.0
"""°C, > 0. What a gap may add to the tolerance, however long: with it still less than a spark's 20 °C, or the first
spark after a gap would pass. A greater change meanwhile is followed once readings agree."""
_COURSE_S = 10.0
"""s, > 0. The course of believed readings is known by a level that lags so far behind; flicker tilts it little."""
_AGREEMENT_C_PER_S = 10.0
"""°C/s, > 0. Readings held in a row agree if they follow one another within the tolerance and this slew."""
_FASTEST_PROBE_S = 6.0
"""s, > 0. No sheathed probe follows sooner. Common practice, no source."""
_PROBE_C_PER_S = 150.0
"""°C/s, > 0. Nor goes faster: one of 6 s, put into 900 °C or pulled out of it. Own arithmetic."""
_PACE_OF_ALL = (0.25, 2.25)
"""At what share of the pace since the last belief the last step of a course that a probe follows may go. It is 1 on a
line, 0.27 where a probe's time constant is one reading, 2.1 where the course began between two; after a leap 0."""
_READINGS_TO_LOCK = 3
"""Readings that must agree before the gate moves to them. Sparks come singly or in pairs, so not below 3."""
_READINGS_OF_A_LEAP = 4
"""As many where the first of them stands further off than the tolerance and 10 °C/s lead, unless they go on as a probe
follows: so a pair and one more spark of about its size are not believed. Own arithmetic: at 1 % sparks of 20 to 400 °C,
one in five twice, three agree some eight times in 100 days, four hardly ever."""
_FIRST_READINGS = 4
"""Before anything is believed, three of so many are enough: of a board that speaks each five seconds one spark among
the first would else cost fifteen more."""
_READINGS_TO_FORGET = 8
"""Held in a row, agreeing or not, after which nothing that was believed before counts any more."""


class OutlierGate:
    """Judges each temperature GOOD or HELD. Starts believing nothing, so a first spark cannot lock it."""

    __slots__ = (
        "_believed_once",
        "_beyond_probes",
        "_first",
        "_good_c",
        "_good_s",
        "_held_c",
        "_held_c_per_s",
        "_held_run",
        "_held_s",
        "_leaps",
        "_level_c",
        "_locked",
        "_run",
        "dropped",
        "followed",
        "impossible",
        "leapt",
        "odd_one",
    )

    def __init__(self) -> None:
        self._locked = False
        self._believed_once = False
        self._first: list[float] = []  # the last few before anything was believed, °C
        self._good_s = 0.0
        self._good_c = 0.0
        self._level_c = 0.0
        self._held_s = 0.0
        self._held_c = 0.0
        self._held_c_per_s = 0.0
        self._run = 0  # held readings that agree with each other, the last included
        self._leaps = False  # whether the first of them stands where no furnace gets
        self._held_run = 0  # held readings since the last believed one
        self.dropped = 0
        self._beyond_probes = False  # ... and where no probe gets in that time
        self.followed = self.leapt = self.impossible = 0
        """What of the held came to be believed: how many readings before it that went on from what was believed, if
        too steeply for the gate; and how often it had leapt away, or so far and fast that it was no probe's doing."""
        self.odd_one = 0
        """How many readings before the first belief the last one stood that is not near it; 0 where all are."""

    def feed(self, time_s: float, temp_c: float) -> Quality:
        """Judge the reading `temp_c` (°C) at `time_s` (s, rising from call to call)."""
        if self._locked:
            step_s = time_s - self._good_s
            slew_c = up_c = down_c = _SLEW_C_PER_S * step_s
            if slew_c > _SLEW_C_PER_S:  # more than a second has gone: how far may the course have led meanwhile?
                slew_c = up_c = down_c = slew_c if slew_c < _MOST_SLEW_C else _MOST_SLEW_C
                led_c = (self._good_c - self._level_c) * step_s / _COURSE_S
                if led_c > 0.0:
                    down_c = slew_c - led_c if led_c < slew_c else 0.0
                else:
                    up_c = slew_c + led_c if -led_c < slew_c else 0.0
            if -down_c - _TOLERANCE_C <= temp_c - self._good_c <= up_c + _TOLERANCE_C:
                self._level_c += step_s / (_COURSE_S + step_s) * (temp_c - self._level_c)
                self._good_s = time_s
                self._good_c = temp_c
                self._run = self._held_run = 0
                return _GOOD
        return self._hold(time_s, temp_c)

    def _hold(self, time_s: float, temp_c: float) -> Quality:
        if not self._held_run:  # what it goes on from is the last belief
            self._held_s, self._held_c, self._held_c_per_s = self._good_s, self._good_c, 0.0
        before_s, before_c, before_c_per_s = self._held_s, self._held_c, self._held_c_per_s
        self._run = self._run + 1 if self._held_run and self._agrees(time_s, temp_c) else 1
        if self._run == 1:
            since_s, off_c = time_s - self._good_s, abs(temp_c - self._good_c) - _TOLERANCE_C
            self._leaps = self._locked and off_c > _AGREEMENT_C_PER_S * since_s
            self._beyond_probes = self._locked and off_c > _PROBE_C_PER_S * since_s
        step_s = time_s - before_s
        self._held_c_per_s = (temp_c - before_c) / step_s if step_s > 0.0 and self._believed_once else 0.0
        self._held_run += 1
        self._held_s = time_s
        self._held_c = temp_c
        if not self._believed_once and self._is_most_of_the_first(temp_c):
            self._run = max(self._run, _READINGS_TO_LOCK)
        if self._run >= _READINGS_TO_LOCK:
            is_followed = not self._believed_once or self._is_followed(before_s, before_c, before_c_per_s)
            if is_followed or not self._leaps or self._run >= _READINGS_OF_A_LEAP:
                self._move(is_followed)
                return Quality.GOOD
        if self._held_run >= _READINGS_TO_FORGET:
            self._locked = False
        self.dropped += 1
        return Quality.HELD

    def _is_most_of_the_first(self, temp_c: float) -> bool:
        """Whether enough of the first readings stand near this one, though a spark came between."""
        self._first = [*self._first[1 - _FIRST_READINGS :], temp_c]
        near = [abs(temp_c - each_c) <= _TOLERANCE_C + _MOST_SLEW_C for each_c in self._first]
        self.odd_one = 0 if all(near) else near[::-1].index(False)
        return sum(near) >= _READINGS_TO_LOCK

    def _move(self, is_followed: bool) -> None:
        """Believe what readings agree about."""
        if is_followed:
            self.followed += self._run - 1
        else:
            self.leapt += 1
            self.impossible += self._beyond_probes
        self._locked = self._believed_once = True
        self._good_s = self._held_s
        self._good_c = self._level_c = self._held_c
        self._run = self._held_run = 0

    def _is_followed(self, before_s: float, before_c: float, before_c_per_s: float) -> bool:
        """Whether what was held leads on from the last belief, as a probe follows new surroundings: in no single leap.

        On one line with it, or one way all along and of late at a pace not far from that of all of it. The reading
        before the last came by `before_c_per_s`: of a pair of sparks and one more one step is nothing.
        """
        led_c_per_s = (self._held_c - self._good_c) / (self._held_s - self._good_s)
        if abs(led_c_per_s) > _PROBE_C_PER_S:
            return False
        off_c = before_c - self._good_c - led_c_per_s * (before_s - self._good_s)
        if abs(off_c) <= _TOLERANCE_C:
            return True
        least, most = (share * led_c_per_s * led_c_per_s for share in _PACE_OF_ALL)
        return all(least <= pace * led_c_per_s <= most for pace in (before_c_per_s, self._held_c_per_s))

    def _agrees(self, time_s: float, temp_c: float) -> bool:
        """Whether a reading follows the held one before: near it, or going on at its pace however fast that is.

        A probe that takes up other surroundings goes on ever more slowly, by so much at most as the fastest does; its
        first step may be short, since they changed between two readings.
        """
        step_s = time_s - self._held_s
        step_c = temp_c - self._held_c
        going_c = slowing_c = self._held_c_per_s * step_s
        if abs(self._held_c_per_s) <= _PROBE_C_PER_S:
            slowing_c *= math.exp(-step_s / _FASTEST_PROBE_S)
            if self._held_run == 1:  # it may have begun between the last belief and this one's first
                going_c = math.copysign(_PROBE_C_PER_S * step_s, going_c)
        if min(going_c, slowing_c) - _TOLERANCE_C <= step_c <= max(going_c, slowing_c) + _TOLERANCE_C:
            return True
        if self._locked and (temp_c > self._good_c) is not (self._held_c > self._good_c):
            return False
        return abs(step_c) <= _TOLERANCE_C + _AGREEMENT_C_PER_S * step_s
