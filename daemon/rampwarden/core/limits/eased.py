"""Whether what a broken climb limit asks for has been done already.

A window remembers: after the heat was lowered a climb limit stays broken until the fast minutes have left it, up to a
quarter of an hour in an oven. Who goes on lowering meanwhile stalls the heat. The displayed ramp tells, the very
figure that stands beside the limit on every display.
"""

from collections.abc import Sequence

from msgspec.structs import replace

from rampwarden.core.limits.limit_alarms import RAMP_HIGH
from rampwarden.core.model import Finding, Ramp
from rampwarden.core.quantities import Rate

_WELL_WITHIN = 0.9
"""Share of the limit at which the ramp must stand, its error included, so that what leaves the window is more than what
comes into it. Own arithmetic."""


def mark_eased(found: dict[str, Finding], ramp: Ramp | None, limits: Sequence[Rate]) -> None:
    """Mark a broken climb limit in `found` as eased where the displayed ramp is well within every limit.

    `ramp` is None while it is not known, and then nothing is eased.
    """
    finding = found.get(RAMP_HIGH.name)
    if finding is None or ramp is None:
        return
    fastest = ramp.c_per_s + ramp.standard_error_c_per_s
    if all(fastest <= _WELL_WITHIN * rate.c_per_s for rate in limits):
        found[RAMP_HIGH.name] = replace(finding, milder=True)
