"""What the program says is English that nobody has to read twice."""

import re

from rampwarden.core.catalogue import ENTRIES
from sentences import sentences

# Each made somebody pause at a furnace, a terminal or the page; what is said instead stands in its place.
MADE_PEOPLE_PAUSE = (
    r"\bBoard well\b",
    r"\bRecord well\b",
    r"\bbroken in about\b",
    r"\bFor nothing before\b",
    r"\bstill not done after\b",
    r"\bnone will ring\b",
    r"\bover, not yet acknowledged\b",
    r"\bno safety interlock\b",
    r"\bwith what came of it\b",
    r"\band more, .{1,12} are needed\b",
    r"\bbar that are needed\b",
    r"\bspeaks against this board\b",
    r"\breckons; it promises nothing\b",
    r"\bnobody watches the furnace then\b",
    r"\bno interlock\b",
    r"\bset aside\.",
    r"\btaken, but the watch\b",
    r"\bsoak earns\b",
    r"\btakes as long as it takes\b",
    r"\bhas been gone once\b",
    r"\bis to be had\b",
    r"\bpart in peace\b",
    r"\bwill not have us\b",
    r"\bgone on with\b",
    r"\bis not to be known\b",
    r"\bis, is not known\b",
    r"\bhas come of\b",
    r"\bwritten large or small\b",
    r"\bis none from\b",
)


def test_every_alarm_and_every_room_that_speaks_is_listed() -> None:
    """A list that misses some is read for nothing."""
    found = sentences()
    said = {text for texts in found.values() for text in texts}
    for entry in ENTRIES:
        assert {entry.condition, entry.why, entry.action} <= said, entry.name
    assert "ended at …; it was: …" in said  # with its values filled in
    assert "Stay within reach of the valve. A phone that sleeps makes no sound." in " ".join(
        found["page/assets/page.html"]
    )
    assert "This page comes back by itself with the next heat." in found["page/assets/main.js"]
    # Docstrings are for those who build it.
    assert not any(text.startswith("Whether a furnace is heated at all") for text in said)
    assert len(said) > 1000


def test_what_made_people_pause_is_not_said_again() -> None:
    """Mended once, it must not come back in another file."""
    said = [f"{name}: {text}" for name, texts in sentences().items() for text in texts]
    assert [line for line in said for phrase in MADE_PEOPLE_PAUSE if re.search(phrase, line)] == []
