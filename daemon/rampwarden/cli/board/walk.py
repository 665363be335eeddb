"""The bring-up of a board, step by step with a person: says what to do, waits until the reading stands, judges it.

Owns the conversation and the waiting. What a reading should be stands in `bench/bring_up`; who the person is, and
whether the board is a real one, is the caller's business.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Protocol

from rampwarden.bench import (
    HAND_UV,
    ICE_C,
    STEAM_BY_HEIGHT_C,
    STEAM_C,
    BoardFinding,
    Result,
    Steadiness,
    Steady,
    Step,
    bar_at_height,
    boiling_c,
    judge_bath,
    judge_hand,
    judge_millivolts,
    judge_open,
    judge_short,
)
from rampwarden.clock import Clock
from rampwarden.core.instrument import Thermocouple
from rampwarden.core.model import Fault, Reading
from rampwarden.errors import PortError
from rampwarden.plan import Verdict
from rampwarden.sources import Board

# A thick sheath takes minutes to settle in ice; what has not by then is moving for another reason.
_PATIENCE_S = 600.0
_OPEN_PATIENCE_S = 15.0
_HAND_PATIENCE_S = 90.0
# Readings that must agree before a hand or an open wire counts.
_IN_A_ROW = 3
# Without a reading for so long (real seconds times the clock's speed) there is no board to walk with.
_SILENCE_S = 30.0
_TAKE_S = 0.2

_ASK = {
    Step.SHORT: "Screw a short piece of copper wire across the board's input, in place of the probe.",
    Step.OPEN: "Take the wire off again: leave the input open.",
    Step.HAND: "Connect the probe the right way round and let its tip hang free, at the temperature of the room.",
    Step.ICE: "Put the tip into the middle of crushed ice with just enough water to fill the gaps, and stir.",
    Step.STEAM: "Put the tip into the steam or into rolling boiling water.",
    Step.MILLIVOLTS: "Connect a source of millivolts in place of the probe, if you have one.",
}


class Person(Protocol):
    """Whoever stands at the bench."""

    def tell(self, text: str) -> None:
        """Let them know something that needs no answer."""

    def ready(self, step: Step, text: str) -> bool:
        """Ask them to do something; True once it is done, False to leave the step out."""

    def number(self, text: str, usual: float) -> float:
        """Ask for a number."""

    def watch(self, text: str) -> None:
        """Show what is being waited for; it changes with each reading."""


@dataclass(slots=True)
class Walk:
    """One bring-up. `results` fills as it goes."""

    board: Board
    clock: Clock
    person: Person
    couple: Thermocouple
    tolerance_class: int
    results: list[Result] = field(default_factory=list)

    def run(self) -> list[Result]:
        """Go through every step that the person does not leave out; raises `PortError` when the board falls silent."""
        steps: dict[Step, Callable[[], Result | None]] = {
            Step.SHORT: self._short,
            Step.OPEN: self._open,
            Step.HAND: self._hand,
            Step.ICE: self._ice,
            Step.STEAM: self._steam,
            Step.MILLIVOLTS: self._millivolts,
        }
        for number, (step, make) in enumerate(steps.items(), start=1):
            if not self.person.ready(step, f"{number} of {len(steps)} · {step}\n    {_ASK[step]}"):
                continue
            result = make()
            if result is not None:
                self.results.append(result)
                self.person.tell(_said(result.finding))
        return self.results

    def _short(self) -> Result | None:
        steady = self._steady(Step.SHORT)
        return None if steady is None else judge_short(steady)

    def _open(self) -> Result:
        emf_uv, in_a_row = None, 0
        for reading in self._readings(_OPEN_PATIENCE_S):
            emf_uv = reading.emf_uv
            in_a_row = in_a_row + 1 if Fault.OPEN in reading.faults else 0
            self.person.watch("waiting for the board to notice")
            if in_a_row >= _IN_A_ROW:
                return judge_open(flagged=True, emf_uv=emf_uv)
        return judge_open(flagged=False, emf_uv=emf_uv)

    def _hand(self) -> Result | None:
        before = self._steady(Step.HAND)
        if before is None or not self.person.ready(
            Step.HAND, "    Now hold the tip in your warm hand, and keep holding it."
        ):
            return None
        moved_uv, last = 0.0, [0.0] * _IN_A_ROW
        for reading in self._readings(_HAND_PATIENCE_S):
            if reading.emf_uv is None or reading.faults:
                continue
            last = [*last[1:], reading.emf_uv - before.emf_uv]
            moved_uv = sorted(last)[_IN_A_ROW // 2]
            self.person.watch(f"moved by {moved_uv / 40.0:+.1f} °C")
            if min(last) >= HAND_UV or max(last) <= -HAND_UV:
                break
        return judge_hand(moved_uv)

    def _ice(self) -> Result | None:
        steady = self._steady(Step.ICE)
        return None if steady is None else self._bath(Step.ICE, steady, 0.0, ICE_C)

    def _steam(self) -> Result | None:
        hpa = self.person.number("Air pressure here in hPa, as it is and not reduced to the sea; 0 if not known:", 0.0)
        if 500.0 <= hpa <= 1100.0:
            bath_c, bath_by_c, source = boiling_c(hpa / 1000.0), STEAM_C, f"under {hpa:.0f} hPa"
        else:
            height_m = min(max(self.person.number("How high above the sea are you, in metres?", 0.0), -400.0), 5000.0)
            bath_c, bath_by_c = boiling_c(bar_at_height(height_m)), STEAM_BY_HEIGHT_C
            source = f"{height_m:.0f} m above the sea, give or take {STEAM_BY_HEIGHT_C} °C of weather"
        self.person.tell(f"    water boils at {bath_c:.2f} °C {source}")
        steady = self._steady(Step.STEAM)
        return None if steady is None else self._bath(Step.STEAM, steady, bath_c, bath_by_c)

    def _bath(self, step: Step, steady: Steady, bath_c: float, bath_by_c: float) -> Result:
        return judge_bath(step, steady, bath_c, bath_by_c, self.couple, self.tolerance_class)

    def _millivolts(self) -> Result | None:
        input_mv = self.person.number("How many millivolts does it give?", 20.644)
        share = self.person.number("How sure is it, in percent of that?", 0.1) / 100.0
        if input_mv == 0.0:
            self.person.tell("0 mV tells no gain: left out.")
            return None
        steady = self._steady(Step.MILLIVOLTS)
        if steady is None:
            return None
        offset_uv = next((each.steady.emf_uv for each in self.results if each.step is Step.SHORT and each.steady), 0.0)
        return judge_millivolts(steady, 1e3 * input_mv, max(share, 1e-6), offset_uv)

    def _steady(self, step: Step) -> Steady | None:
        """Wait until the reading stands still; None, and said, when it does not."""
        steadiness = Steadiness()
        for reading in self._readings(_PATIENCE_S):
            if reading.faults or reading.emf_uv is None:
                steadiness.restart()
                what = ", ".join(reading.faults) or "the board sends temperatures, which no calibration can correct"
                self.person.watch(f"no EMF: {what}")
                continue
            steady = steadiness.feed(reading.time_s, reading.emf_uv, reading.junction_c or 0.0)
            change_uv = steadiness.change_uv
            moving = "settling" if change_uv is None else f"moved by {change_uv / 40.0:+.2f} °C in 20 s"
            self.person.watch(f"{reading.emf_uv:.0f} µV, {moving}")
            if steady is not None:
                return steady
        self.person.tell(f"{step}: not steady after {_PATIENCE_S / 60.0:.0f} minutes, so nothing is taken from it.")
        return None

    def _readings(self, patience_s: float) -> Iterator[Reading]:
        """Give the readings from now on, for `patience_s` seconds of them."""
        began_s = heard_s = self.clock.now_s()
        while True:
            item = self.board.next(_TAKE_S)
            now_s = self.clock.now_s()
            if isinstance(item, Reading):
                heard_s = now_s
                if item.time_s < began_s:
                    continue  # it came while the person was busy
                if item.time_s - began_s > patience_s:
                    return
                yield item
            elif now_s - heard_s > _SILENCE_S * max(1.0, self.clock.speed):
                raise PortError(f"the board has fallen silent: no reading for {_SILENCE_S:.0f} s")


def _said(finding: BoardFinding) -> str:
    do = f" → {finding.do}" if finding.do else ""
    mark = "" if finding.verdict is Verdict.FINE else f"{str(finding.verdict).upper()}: "
    return f"    {mark}{finding.words}{do}"
