"""Puts together what displays draw from, and the terminal's display itself.

The one place that knows both a heat as it begins and the picture of it. A display is another output of the watch, and
costs only itself when it fails.
"""

import os

from rampwarden.heat_start import Heat
from rampwarden.outputs.picture import Mode, PictureKeeper, about_heat


def picture_keeper(heat: Heat, pace: float, *, has_broker: bool) -> PictureKeeper:
    """Give the keeper of one watched heat's picture; `pace` is how many of its seconds pass in one real one."""
    header = heat.header
    mode = Mode.REHEARSAL if header.rehearsal else Mode.LIVE
    # A file's name may be bytes that are no text.
    record = os.fsencode(heat.writer.path).decode(errors="replace")
    about = about_heat(heat.schedule, mode, header.started, record, header.crucible, header.metal)
    return PictureKeeper(heat.schedule, about, has_broker=has_broker, pace=pace)
