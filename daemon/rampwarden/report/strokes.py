"""What all drawings of a heat share: colours that colour-blind eyes tell apart, hours, and where a line breaks off."""

from collections.abc import Iterator, Sequence

from rampwarden.core.heat import LONGEST_CREDITED_S
from rampwarden.report.thinning import CourseSample

BLACK, GREY, BLUE, VERMILION, GREEN, ORANGE = "#000000", "#767676", "#0072B2", "#D55E00", "#009E73", "#E69F00"
"""Okabe and Ito, Color Universal Design, 2008; and a grey."""


def runs(samples: Sequence[CourseSample]) -> Iterator[list[CourseSample]]:
    """Give the samples in runs that no gap interrupts: nothing is drawn where nobody watched."""
    run: list[CourseSample] = []
    for sample in samples:
        if run and sample.from_s - run[-1].to_s > LONGEST_CREDITED_S:
            yield run
            run = []
        run.append(sample)
    if run:
        yield run


def hours(time_s: float) -> float:
    """Give hours, in which the time axis runs."""
    return time_s / 3600.0
