"""What two probes can settle between them, and the evidence with it. No words for people."""

from enum import StrEnum

from msgspec import Struct

ROOM_C = 20.0
"""°C, about which a probe out of its place and cold metal stand."""


class Between(StrEnum):
    """What is so between the pot's probe and the chamber's."""

    POT_PROBE_STEPPED = "pot-probe-stepped"
    """The pot's probe alone made a step: it moved or fails, or a flame touches it."""
    CHAMBER_PROBE_STEPPED = "chamber-probe-stepped"
    POT_PROBE_DRIFTS = "pot-probe-drifts"
    """They part slowly on a soak, and the pot's probe is the suspect."""
    CHAMBER_PROBE_DRIFTS = "chamber-probe-drifts"
    POT_LAGS = "pot-lags"
    """The pot takes more heat than it has capacity for: metal in it, or water."""
    OUT_OF_SEAT = "out-of-seat"
    """The chamber is hot and the pot's probe is not."""


class Settled(Struct, frozen=True):
    """One thing that both probes show together: since when (s), when it was found (s), and by which figures.

    `pot_c`, `chamber_c` are what they read (°C). `changed_k` is what the suspected probe changed by, or the pot's climb
    over `lasted_s`, or how far the two have parted (K); `beside_k` what the other changed by meanwhile; `foretold_k`
    what the pot should have climbed, or done to the other, by its own law.
    """

    between: Between
    since_s: float
    found_s: float
    pot_c: float
    chamber_c: float
    changed_k: float
    beside_k: float = 0.0
    foretold_k: float = 0.0
    lasted_s: float = 0.0
