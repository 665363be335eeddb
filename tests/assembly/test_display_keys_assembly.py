"""Which keys a watch gets."""

import pytest

from pictured_heat import PicturedHeat
from rampwarden.assembly.display import watch_keys
from rampwarden.core.model import Command, CommandName
from rampwarden.picture.picture import Mode


@pytest.mark.parametrize(
    ("mode", "is_over", "asks"), [(Mode.LIVE, False, True), (Mode.LIVE, True, False), (Mode.REHEARSAL, False, False)]
)
def test_only_who_would_end_a_live_heat_is_asked_whether_they_mean_it(mode: Mode, is_over: bool, asks: bool) -> None:
    """Nobody watches the furnace afterwards; a rehearsal's and one that is over may go at once."""
    heat, ended = PicturedHeat(mode).climb(60.0, 120.0), list[str]()
    if is_over:
        heat.take(Command(heat.time_s, CommandName.END_HEAT))
        heat.show()
    watch_keys(heat.keeper, lambda _: None, lambda: ended.append("quit")).take("q")
    assert ended == ([] if asks else ["quit"])
