"""The pot's room: what a heat has shown of its pot, and the one thing it is ready for.

`PotLedger` gathers, `account_of` judges one heat, `accumulate` a life, `wording` says it. Knows no files, no dates and
no other room of the core.
"""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.core.pot.account import account_of
    from rampwarden.core.pot.claims import Claim, ClaimDoubt, ClaimName, ClaimShown, Evidence, Place, PotAccount
    from rampwarden.core.pot.drying import drying_per_s
    from rampwarden.core.pot.evidence import (
        Belief,
        Breach,
        BreachKind,
        EvidenceStretch,
        HeatEvidence,
        Limit,
        PotFacts,
        SegmentFacts,
        SegmentSort,
        SoakFacts,
    )
    from rampwarden.core.pot.ledger import PotLedger
    from rampwarden.core.pot.oxidation import oxidation_rate
    from rampwarden.core.pot.readiness import (
        IN_USE,
        NEW_POT,
        ORDER,
        PotHappening,
        PotStanding,
        Readiness,
        Ready,
        Why,
        accumulate,
        after,
        after_heat,
        readiness_of,
    )
    from rampwarden.core.pot.soak_credit import ANSWER_S, CreditChange, CreditEvent, SoakCredit
    from rampwarden.core.pot.view import working_soak
    from rampwarden.core.pot.water import SLOWED_TO, WaterCourse
    from rampwarden.core.pot.wording import account_sentences, claim_sentence, readiness_sentence, reason_sentences
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "ANSWER_S",
    "IN_USE",
    "NEW_POT",
    "ORDER",
    "SLOWED_TO",
    "Belief",
    "Breach",
    "BreachKind",
    "Claim",
    "ClaimDoubt",
    "ClaimName",
    "ClaimShown",
    "CreditChange",
    "CreditEvent",
    "Evidence",
    "EvidenceStretch",
    "HeatEvidence",
    "Limit",
    "Place",
    "PotAccount",
    "PotFacts",
    "PotHappening",
    "PotLedger",
    "PotStanding",
    "Readiness",
    "Ready",
    "SegmentFacts",
    "SegmentSort",
    "SoakCredit",
    "SoakFacts",
    "WaterCourse",
    "Why",
    "account_of",
    "account_sentences",
    "accumulate",
    "after",
    "after_heat",
    "claim_sentence",
    "drying_per_s",
    "oxidation_rate",
    "readiness_of",
    "readiness_sentence",
    "reason_sentences",
    "working_soak",
]
