"""One explanation of the last minutes: what happens at the furnace, said only when it happens."""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.core.explanation.explanation import Explanation
    from rampwarden.core.explanation.statements import Cause, Context, Ended, Figures, Saying, Statement
    from rampwarden.core.explanation.told_alarms import FLAME_OUT, HEAT_FAILING, TOLD_ALARMS
else:
    __getattr__ = lazy_face(__name__)

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
