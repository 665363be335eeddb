"""The pot's room: what a heat has shown of its pot, and the one thing it is ready for.

`PotLedger` gathers, `account_of` judges one heat, `accumulate` a life, `wording` says it. Knows no files, no dates and
no other room of the core.
"""

from rampwarden.core.pot.account import account_of
from rampwarden.core.pot.claims import Claim, ClaimName, Doubt, Evidence, Place, PotAccount, Shown
from rampwarden.core.pot.evidence import (
    Belief,
    Breach,
    BreachKind,
    HeatEvidence,
    Limit,
    PotFacts,
    SegmentFacts,
    SegmentSort,
    SoakFacts,
    Stretch,
)
from rampwarden.core.pot.ledger import PotLedger
from rampwarden.core.pot.readiness import (
    IN_USE,
    NEW_POT,
    ORDER,
    Happening,
    Readiness,
    Ready,
    Standing,
    accumulate,
    after,
    after_heat,
    readiness_of,
)
from rampwarden.core.pot.soak_credit import ANSWER_S, CreditChange, CreditEvent, SoakCredit
from rampwarden.core.pot.view import working_soak
from rampwarden.core.pot.wording import account_sentences, claim_sentence, readiness_sentence, reason_sentences

__all__ = [
    "ANSWER_S",
    "IN_USE",
    "NEW_POT",
    "ORDER",
    "Belief",
    "Breach",
    "BreachKind",
    "Claim",
    "ClaimName",
    "CreditChange",
    "CreditEvent",
    "Doubt",
    "Evidence",
    "Happening",
    "HeatEvidence",
    "Limit",
    "Place",
    "PotAccount",
    "PotFacts",
    "PotLedger",
    "Readiness",
    "Ready",
    "SegmentFacts",
    "SegmentSort",
    "Shown",
    "SoakCredit",
    "SoakFacts",
    "Standing",
    "Stretch",
    "account_of",
    "account_sentences",
    "accumulate",
    "after",
    "after_heat",
    "claim_sentence",
    "readiness_of",
    "readiness_sentence",
    "reason_sentences",
    "working_soak",
]
