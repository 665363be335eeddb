"""The slow rules: what is told from half minutes and minutes, one rule a cause, none knowing another.

All but one look at the same half minutes, which are filled once for all of them, and are fed when one of those closes.
"""

from rampwarden.core.explanation.slow.cycling import BurnerRule, ThermostatRule
from rampwarden.core.explanation.slow.fading import FadingRule
from rampwarden.core.explanation.slow.half_minutes import HalfMinutes
from rampwarden.core.explanation.slow.heat_direction import HeatOffRule, LeftOnRule
from rampwarden.core.explanation.slow.plateau import PlateauRule
from rampwarden.core.explanation.slow.sagging import SagRule
from rampwarden.core.explanation.slow_rules import Rule

__all__ = ["LOOKS_BACK", "BurnerRule", "HalfMinutes", "half_minute_rules"]

LOOKS_BACK = 30
"""Half minutes that the rules look back at most: a quarter of an hour."""


def half_minute_rules(course: HalfMinutes) -> tuple[Rule, ...]:
    """Give the rules of one heat's `course`, freshly made; the first of two equally likely ones is told."""
    return (
        ThermostatRule(course),
        PlateauRule(course),
        HeatOffRule(course),
        LeftOnRule(course),
        FadingRule(course),
        SagRule(course),
    )
