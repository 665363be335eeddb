"""The slow rules: what is told from half minutes and minutes, one rule a cause, none knowing another."""

from rampwarden.core.explanation.slow.cycling import BurnerRule, ThermostatRule
from rampwarden.core.explanation.slow.fading import FadingRule
from rampwarden.core.explanation.slow.heat_direction import HeatOffRule, LeftOnRule
from rampwarden.core.explanation.slow.plateau import PlateauRule
from rampwarden.core.explanation.slow.sagging import SagRule
from rampwarden.core.explanation.slow_rules import Rule

__all__ = ["slow_rules"]


def slow_rules() -> tuple[Rule, ...]:
    """Give the rules of one heat, freshly made; the first of two equally likely ones is told."""
    return ThermostatRule(), BurnerRule(), PlateauRule(), HeatOffRule(), LeftOnRule(), FadingRule(), SagRule()
