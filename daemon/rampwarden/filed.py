"""Where an event stands in its heat's record: what every output is told beside the event itself.

An event is known everywhere by one key, made of the record's id, the id of the run that numbered it, and its number.
The key is given before the line reaches the disk and never changes afterwards: not when the disk comes back, and not
when a later run sends the event again from the record. The run stands in it because a power cut can take lines back;
whoever goes on then counts from the same number again, and must not seem to repeat what it never knew. What a killed
run had told and the next makes again keeps the key it was told under.
"""

from dataclasses import dataclass

NOT_ON_DISK = "not yet on disk"
"""What stands beside an event wherever it is shown, until the disk has it."""


@dataclass(frozen=True, slots=True)
class Filed:
    """An event's line: its `number`, the `run` that numbered it, and whether the disk had it when it was told.

    Of an event that an earlier run had told, `run` and `named` are those of that run's key; else `named` is 0.
    """

    number: int
    run: str = ""
    on_disk: bool = True
    named: int = 0


def event_key(record_id: str, run: str, number: int) -> str:
    """Give the key of an event; records from before there were runs have none in it.

    >>> event_key("9f2c", "71ab", 12), event_key("9f2c", "", 12)
    ('9f2c:71ab:12', '9f2c:12')
    """
    return f"{record_id}:{run}:{number}" if run else f"{record_id}:{number}"
