"""The soak clock's rule of evidence: what of the time in the band counts, what is not confirmed, what is taken back.

Theory of operation. Time counts between two readings that both stood in the band, and never a gap. How much it is worth
the caller says with each reading:

- believed: it is credited;
- unconfirmed (the reading stands still, and the board's step can explain it): it is credited provisionally. A move of
  the reading after somebody touched the dial confirms it from its beginning, for a board that hangs does not answer;
  the touch alone does not, and neither does a move that nobody caused. It may advance a schedule;
- doubted: nothing is credited, and what was since the doubt's beginning is taken back.

A touch is believed to be answered within ten minutes. Knows no temperatures, bands or segments.
"""

import math
from collections import deque
from dataclasses import dataclass
from enum import StrEnum

from rampwarden.core.pot.evidence import BLIND, Belief

ANSWER_S = 600.0
"""s within which a furnace answers a touch of its dial. Common practice, no source."""
# Credit is kept in pieces, so that it can be taken back to a time; a soak of a week has no more of them than this.
_PIECE_S = 15.0
_MOST_PIECES = 8192


class CreditChange(StrEnum):
    """What befell credit that had been given."""

    WITHDRAWN = "withdrawn"
    CONFIRMED = "confirmed"
    UNCONFIRMED = "unconfirmed"


@dataclass(frozen=True, slots=True)
class CreditEvent:
    """So many seconds of credit, back to `since_s`, were taken back, confirmed, or turned out to be unconfirmed."""

    change: CreditChange
    seconds: float
    since_s: float


class _Piece:
    """Some seconds of credit, all of one worth."""

    __slots__ = ("belief", "from_s", "seconds", "to_s")

    def __init__(self, from_s: float, to_s: float, belief: Belief) -> None:
        self.from_s, self.to_s = from_s, to_s
        self.seconds = to_s - from_s
        self.belief = belief


class SoakCredit:
    """Keeps the credit of one soak. Public state is for reading only."""

    def __init__(self, longest_credited_s: float) -> None:
        self._longest_s = longest_credited_s
        self.restart()

    def restart(self) -> None:
        """Begin at nothing again: the schedule wants an unbroken soak."""
        self.credited_s = 0.0
        self.unconfirmed_s = 0.0
        self.withdrawn_s = 0.0
        self._pieces: deque[_Piece] = deque()
        self._last_s = -math.inf
        self._was_in_band = False
        self._belief = Belief.BELIEVED
        self._still_since_s = math.inf
        self._touched_s = -math.inf

    @property
    def soaked_s(self) -> float:
        """What may advance the schedule, s: credited time, confirmed or not."""
        return self.credited_s + self.unconfirmed_s

    def touched(self, time_s: float) -> None:
        """Take note that somebody touched the dial at `time_s` (s)."""
        self._touched_s = time_s

    def feed(self, time_s: float, belief: Belief, since_s: float, *, in_band: bool) -> CreditEvent | None:
        """Take a reading; gives what befell earlier credit by it, else None.

        Parameters
        ----------
        time_s : float
            s, rising.
        belief : Belief
            What readings are worth now.
        since_s : float
            s. When the stillness or the doubt began; of no meaning while readings are believed.
        in_band : bool
            Whether the reading stood in the soak's band.
        """
        step_s = time_s - self._last_s
        credits = in_band and self._was_in_band and step_s <= self._longest_s
        last_s, self._last_s, self._was_in_band = self._last_s, time_s, in_band
        event = self._turn(time_s, belief, since_s) if belief is not self._belief else None
        if belief in BLIND:
            return event
        if belief is Belief.UNCONFIRMED and since_s != self._still_since_s:
            # One stillness ended and the next began: a touch answers for the one it was made in.
            event = event or self._turn(time_s, belief, since_s)
        if credits:
            self._add(last_s, time_s, belief)
        return event

    def _turn(self, time_s: float, belief: Belief, since_s: float) -> CreditEvent | None:
        was, self._belief = self._belief, belief
        event = None
        if was is Belief.UNCONFIRMED and belief not in BLIND and self._is_answered(time_s):
            event = self._change(Belief.UNCONFIRMED, Belief.BELIEVED, self._still_since_s)
        if belief is Belief.BELIEVED:
            self._still_since_s = math.inf
            return event
        if belief is Belief.UNCONFIRMED:
            self._still_since_s = since_s
            return self._change(Belief.BELIEVED, Belief.UNCONFIRMED, since_s) or event
        self._still_since_s = math.inf
        return self._withdraw(since_s)

    def _is_answered(self, time_s: float) -> bool:
        """Tell whether the reading, which moved now, was touched since it stood still, and lately."""
        return self._still_since_s <= self._touched_s <= time_s <= self._touched_s + ANSWER_S

    def _add(self, from_s: float, to_s: float, belief: Belief) -> None:
        seconds = to_s - from_s
        if belief is Belief.BELIEVED:
            self.credited_s += seconds
        else:
            self.unconfirmed_s += seconds
        pieces = self._pieces
        if pieces:
            last = pieces[-1]
            if last.belief is belief and last.to_s == from_s and to_s - last.from_s <= _PIECE_S:
                last.to_s = to_s
                last.seconds += seconds
                return
        pieces.append(_Piece(from_s, to_s, belief))
        if len(pieces) > _MOST_PIECES:
            self._thin()

    def _change(self, old: Belief, new: Belief, since_s: float) -> CreditEvent | None:
        """Give another worth to the credit since a time; a piece that began before it is cut in two."""
        seconds = 0.0
        for piece in self._cut(since_s):
            if piece.belief is old:
                piece.belief = new
                seconds += piece.seconds
        if seconds == 0.0:
            return None
        sign = 1.0 if new is Belief.BELIEVED else -1.0
        self.credited_s += sign * seconds
        self.unconfirmed_s -= sign * seconds
        change = CreditChange.CONFIRMED if new is Belief.BELIEVED else CreditChange.UNCONFIRMED
        return CreditEvent(change, seconds, since_s)

    def _withdraw(self, since_s: float) -> CreditEvent | None:
        taken = self._cut(since_s)
        seconds = 0.0
        for piece in taken:
            seconds += piece.seconds
            if piece.belief is Belief.BELIEVED:
                self.credited_s -= piece.seconds
            else:
                self.unconfirmed_s -= piece.seconds
            self._pieces.pop()
        self.withdrawn_s += seconds
        if not self._pieces:
            # What sums of many small steps leave behind.
            self.credited_s = self.unconfirmed_s = 0.0
        return CreditEvent(CreditChange.WITHDRAWN, seconds, since_s) if seconds > 0.0 else None

    def _cut(self, since_s: float) -> list[_Piece]:
        """Give the pieces since a time, having cut the one in which it lies."""
        pieces = self._pieces
        place = len(pieces)
        while place and pieces[place - 1].to_s > since_s:
            place -= 1
        if place < len(pieces) and pieces[place].from_s < since_s:
            piece = pieces[place]
            later = _Piece(since_s, piece.to_s, piece.belief)
            # A thinned piece has holes: what is taken back is never less than what lies after the cut.
            later.seconds = min(piece.seconds, later.seconds)
            piece.seconds -= later.seconds
            piece.to_s = since_s
            place += 1
            pieces.insert(place, later)
        return [pieces[number] for number in range(place, len(pieces))]

    def _thin(self) -> None:
        """Join the older half in pairs: how far back credit can be told apart grows coarser with age."""
        kept: deque[_Piece] = deque()
        half = len(self._pieces) // 2
        for number, piece in enumerate(self._pieces):
            last = kept[-1] if kept else None
            if number < half and number % 2 and last is not None and last.belief is piece.belief:
                last.to_s = piece.to_s
                last.seconds += piece.seconds
            else:
                kept.append(piece)
        self._pieces = kept
