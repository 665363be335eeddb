"""The board on the bench: what its lines tell, before anything depends on them.

Pure analysis: lines with their times of arrival in, findings out. Opens no port, reads no clock, asks nobody.
"""

from typing import TYPE_CHECKING

from rampwarden.bench.recognise import recognise
from rampwarden.bench.recognise_answers import found_settings, recognise_answers, recognise_registers
from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.bench.bring_up import (
        HAND_UV,
        ICE_C,
        STEAM_BY_HEIGHT_C,
        STEAM_C,
        Result,
        Step,
        bar_at_height,
        boiling_c,
        judge_bath,
        judge_hand,
        judge_millivolts,
        judge_open,
        judge_short,
    )
    from rampwarden.bench.finding import BoardFinding, Sureness, needs_a_look
    from rampwarden.bench.fit import calibration_from
    from rampwarden.bench.known_beforehand import Asked
    from rampwarden.bench.lines import HeardLine, cut_lines
    from rampwarden.bench.listening_report import AnswersHeard, judge_answers, judge_board
    from rampwarden.bench.steadiness import Steadiness, Steady
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "HAND_UV",
    "ICE_C",
    "STEAM_BY_HEIGHT_C",
    "STEAM_C",
    "AnswersHeard",
    "Asked",
    "BoardFinding",
    "HeardLine",
    "Result",
    "Steadiness",
    "Steady",
    "Step",
    "Sureness",
    "bar_at_height",
    "boiling_c",
    "calibration_from",
    "cut_lines",
    "found_settings",
    "judge_answers",
    "judge_bath",
    "judge_board",
    "judge_hand",
    "judge_millivolts",
    "judge_open",
    "judge_short",
    "needs_a_look",
    "recognise",
    "recognise_answers",
    "recognise_registers",
]
