"""One explanation of the last minutes: what happens at the furnace, said only when it happens."""

from rampwarden.core.explanation.explanation import Explanation
from rampwarden.core.explanation.statements import Cause, Context, Ended, Figures, Saying, Statement

__all__ = ["Cause", "Context", "Ended", "Explanation", "Figures", "Saying", "Statement"]
