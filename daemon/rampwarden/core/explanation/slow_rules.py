"""What a slow rule is given and what it gives: rules look at half minutes or buckets, over minutes, one rule a cause.

A rule is fed whenever a half minute has closed, in every segment, also while something else is explained. It is made
with the course of half minutes, which all share and none changes, and keeps what else it needs itself. It knows no
other rule. `explanation.py` composes: it tells the likeliest candidate above `LEAST_LOG_ODDS`, while no event is
undecided and nothing else stands.

The protocol: `feed` gives a `Candidate` as long as the rule holds; a candidate given again keeps its statement
standing, with fresh figures. None: it is over, or never was. A candidate with negative log odds: what was said is
wrong.
`restart` is called when the course is broken (blind time, a transfer): nothing from before counts.
"""

from collections.abc import Sequence
from typing import Protocol

from msgspec import Struct

from rampwarden.core.explanation.slots import Slot
from rampwarden.core.explanation.statements import Cause, Context, Figures

LEAST_LOG_ODDS = 3.0
"""A candidate below this is not told: 20 to 1, priors included."""


class Candidate(Struct, frozen=True):
    """What a rule would say: log odds in nats, the rule's own priors (schedule, marks) included."""

    cause: Cause
    since_s: float
    log_odds: float
    figures: Figures = Figures()


class Glance(Struct, frozen=True):
    """What every rule sees of the bucket at hand.

    `slot` is the bucket; `recent` the last quarter of an hour of them (180), oldest first, this one last: shared,
    not to be changed. `level_c` is the course's level there. `flicker` is the bucket residuals' variance as a share
    of what a lit flame's was learnt to be (1 as learnt, near 0 unlit), None while not learnt. `undisturbed_s` is
    for how long no step, event or blind time has broken the course; `undecided` says that an event is being weighed
    right now. `out` says that a flame-out stands. `marked_s` is for how long the last explaining mark of a person
    is past (inf: none). `entered_s` is how long the segment has lasted.
    """

    slot: Slot
    recent: Sequence[Slot]
    level_c: float
    flicker: float | None
    undisturbed_s: float
    undecided: bool
    out: bool
    context: Context | None
    entered_s: float
    marked_s: float


class Rule(Protocol):
    """One slow rule."""

    def feed(self, glance: Glance) -> Candidate | None:
        """Judge one more half minute, which the bucket before this one closed."""

    def restart(self) -> None:
        """Forget what was seen of the course: what comes now does not go on from it."""
