"""The one immutable picture of a heat that every display draws from."""

from rampwarden.picture.keeper import PictureKeeper, about_heat
from rampwarden.picture.picture import AlarmLine, BesideCourse, Broker, Happening, Mode, Picture
from rampwarden.picture.thinned_course import CoursePoint
from rampwarden.picture.way_ahead import WayPoint

__all__ = [
    "AlarmLine",
    "BesideCourse",
    "Broker",
    "CoursePoint",
    "Happening",
    "Mode",
    "Picture",
    "PictureKeeper",
    "WayPoint",
    "about_heat",
]
