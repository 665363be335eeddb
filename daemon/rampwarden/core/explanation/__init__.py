"""One explanation of the last minutes: what happens at the furnace, said only when it happens."""

from rampwarden.core.explanation.explanation import Explanation
from rampwarden.core.explanation.statements import Cause, Context, Ended, Figures, Saying, Statement
from rampwarden.core.explanation.told_alarms import FLAME_OUT, HEAT_FAILING, TOLD_ALARMS

__all__ = [
    "FLAME_OUT",
    "HEAT_FAILING",
    "TOLD_ALARMS",
    "Cause",
    "Context",
    "Ended",
    "Explanation",
    "Figures",
    "Saying",
    "Statement",
]
