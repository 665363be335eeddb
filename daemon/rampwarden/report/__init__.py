"""The report of a heat: what its record shows, in a drawing, tables and plain words, for paper and screen."""

__all__ = [
    "assembling",
    "course",
    "next_shift",
    "units",
    "verdict",
]
