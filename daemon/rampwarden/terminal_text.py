"""Text that leaves the program, one way each: for a terminal, as JSON and as a spreadsheet's cell; times for people.

Whatever came from outside (a board, a broker, a record, somebody's mark) passes here on its way out, and can then
neither steer a terminal, nor break a reader's line, nor be taken for a formula.
"""

import unicodedata

# Control characters, marks of direction and other invisible ones, halves of letters, private ones, and the separators
# of lines and paragraphs that some readers of logs break a line at.
_FORMULA = ("=", "+", "-", "@")
_LONGEST_LINE = 1_000
_MOST_LINES = 40
_STEERING = ("Cc", "Cf", "Cs", "Co", "Zl", "Zp")


def printable(text: str) -> str:
    """Give the text with every control character replaced: what a board sends must not steer a terminal."""
    if text.isprintable():
        return text
    return "".join("�" if unicodedata.category(letter) in _STEERING else letter for letter in text)


def error_lines(message: str) -> list[str]:
    """Give what an error says in harmless lines that a person can read: so many, and each so long.

    Whatever parts lines for some readers and not for others is no line's end: it would forge the next one's beginning.
    """
    lines = [shortened(printable(line)) for line in message.split("\n")]
    more = len(lines) - _MOST_LINES
    return lines if more <= 0 else [*lines[:_MOST_LINES], f"and {more} more"]


def shortened(text: str, longest: int = _LONGEST_LINE) -> str:
    """Give a text as it is, or its beginning and its end where it has more letters than `longest`."""
    if len(text) <= longest:
        return text
    half = (longest - 1) // 2
    return f"{text[: longest - 1 - half]}…{text[-half:]}"


def folded(line: str, columns: int, hanging: int = 0) -> str:
    """Break a line between words where it is longer than `columns`; what follows begins at column `hanging`.

    A word that is longer than the room for it, such as a path, stays whole: it can be copied then.

    >>> folded("  one two three", 10, 4)
    '  one two\\n    three'
    """
    kept, found, rest = " " * hanging, [], line
    while len(rest) > columns:
        begins = len(rest) - len(rest.lstrip(" "))
        at = rest.rfind(" ", begins, columns + 1)
        at = at if at > begins else rest.find(" ", max(columns, begins))
        if at < 0 or not rest[at:].strip():
            break
        found.append(rest[:at].rstrip(" "))
        rest = kept + rest[at:].lstrip(" ")
    return "\n".join([*found, rest])


def visible_json(text: str) -> str:
    """Give JSON in which every invisible letter is written as its escape: it decodes to the same."""
    if text.isascii() and "\x7f" not in text:
        return text
    return "".join(
        letter if letter in "\n" or unicodedata.category(letter) not in _STEERING else _escape(letter)
        for letter in text
    )


def spreadsheet_cell(value: object) -> object:
    """Give a CSV field that no spreadsheet calculates: text that begins like a formula gets an apostrophe before it.

    Source: OWASP, CSV Injection (owasp.org/www-community/attacks/CSV_Injection).
    """
    if not isinstance(value, str):
        return value
    shown = printable(value)
    return f"'{shown}" if value.lstrip().startswith(_FORMULA) or (value[:1] in "\t\r" and value) else shown


def _escape(letter: str) -> str:
    units = letter.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at]:02x}{units[at + 1]:02x}" for at in range(0, len(units), 2))


def elapsed(seconds: float) -> str:
    """Give elapsed time as h:mm:ss."""
    whole = max(0, int(seconds))
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"
