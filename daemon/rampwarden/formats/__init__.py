"""Forms of speech of boards that are not ours: labelled text, JSON lines, answers to questions, registers of a bus.

Pure: bytes or numbers in, frames out, one for each channel that a line or answer names. Opens no port and asks nobody.
"""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.formats.answers import AnswerReader, Ending, QuestionRound
    from rampwarden.formats.decoding import line_decoder
    from rampwarden.formats.json_lines import JsonDecoder, keys_in
    from rampwarden.formats.labels import LabelDecoder, labels_in
    from rampwarden.formats.named import MOST_CHANNELS, NamedFormat, Naming
    from rampwarden.formats.registers import RegisterMap, Word
    from rampwarden.formats.units import Item, Unit
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "MOST_CHANNELS",
    "AnswerReader",
    "Ending",
    "Item",
    "JsonDecoder",
    "LabelDecoder",
    "NamedFormat",
    "Naming",
    "QuestionRound",
    "RegisterMap",
    "Unit",
    "Word",
    "keys_in",
    "labels_in",
    "line_decoder",
]
