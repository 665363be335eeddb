"""Big numerals, as they look."""

from rampwarden.display.numerals import numerals


def test_at_the_plain_size_two_dots_share_a_cell() -> None:
    """One above the other."""
    assert numerals("47", 2, blocks=True) == (
        "  ▄██  ██████",
        "▄█▀██     ▄█▀",
        "██ ██    ▄█▀ ",
        "██████  ▄█▀  ",
        "   ██   ██   ",
    )


def test_half_a_size_more_repeats_every_other_dot() -> None:
    """An odd number of dots leaves the lower half of the last row empty."""
    assert numerals("7", 3, blocks=True) == (
        "█████████",
        "▀▀▀▀▀▀███",
        "     ▄██▀",
        "     ███ ",
        "   ███   ",
        "  ▄██▀   ",
        "  ███    ",
        "  ▀▀▀    ",
    )


def test_at_twice_the_size_slants_and_corners_are_smooth() -> None:
    """A quarter of a dot follows its neighbours, so that a slant has no steps of a whole dot."""
    assert numerals("47", 4, blocks=True) == (
        "     ▄▄██▄    ▄██████████▄",
        "   ▄▄█████    ▀███████████",
        " ▄▄███████            ███▀",
        "▄███  ████          ▄███▀ ",
        "████  ████         ▄███▀  ",
        "████  ████▄       ▄███▀   ",
        "███████████▄     ▄███▀    ",
        "▀██████████▀    ▄███▀     ",
        "     ▀████▀     ████      ",
        "      ▀██▀      ▀██▀      ",
    )


def test_a_terminal_without_blocks_has_letters() -> None:
    """The same dots."""
    signs = str.maketrans("▀▄█", '"o#')
    assert numerals("47", 4, blocks=False) == tuple(row.translate(signs) for row in numerals("47", 4, blocks=True))
