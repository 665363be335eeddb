"""What a person most likely did where TOML's own parser only says that something is invalid.

Looks at the text of a file that was refused, line by line, for what text programs and hands do to it: typographic
quotes, a quote left out, a tab or a blank that looks like another letter, one bracket instead of two. Pure: text
in, words out.
"""

import re

_LINE = re.compile(r"\(at line (\d+), column \d+\)")
# Letters of a line that are shown.
_SHOWN = 60
_TYPOGRAPHIC = "“”„‟«»‘’‚‛‹›″′＂"
_BLANKS = {
    "\u00a0": "no-break space",
    "\u202f": "narrow no-break space",
    "\u2009": "thin space",
    "\u200b": "zero-width space",
}
_KEY = re.compile(r"\s*(?P<key>[A-Za-z_][\w.-]*)(?P<between>\s*)(?P<sign>[=:]?)\s*(?P<value>.*)")
_BARE = re.compile(r"[+-]?\d[\d_.:eETZ+-]*|true|false|inf|nan")


def maybe_fault(text: str, complaint: str) -> str | None:
    """Give what is most likely wrong with a file, with its line; None where nobody can say more than `complaint`.

    `complaint` is what the parser said; where it names a line, that line and the one before it are looked at first.
    """
    lines = text.split("\n")
    named = _LINE.search(complaint)
    at = min(int(named[1]), len(lines)) if named is not None else 0
    # Some faults are noticed a line later, some (a quote that is never closed) only at the end.
    for number in dict.fromkeys((at, at - 1, *range(1, len(lines) + 1))):
        if 1 <= number <= len(lines) and (fault := _fault_of(lines[number - 1].rstrip("\r"))):
            return f"line {number}: {fault}"
    if "twice" in complaint or "overwrite" in complaint or "declare" in complaint:
        return _twice(lines, at)
    return None


def _fault_of(line: str) -> str | None:
    code = _without_comment(line)
    if not code.strip() or code.lstrip().startswith("["):
        return _odd_blank(code)
    found = _KEY.fullmatch(code)
    if found is None:
        return _odd_blank(code) or _typographic(code)
    key, sign, value = found["key"], found["sign"], found["value"].strip()
    if value[:1] in _TYPOGRAPHIC and value:
        return f"{value[0]} is a typographic quote; type the straight one: {key} = {_quoted(value)}"
    if not sign and found["between"]:
        seen = "a tab" if "\t" in found["between"] else "nothing"
        return f"{seen} where an = belongs: {key} = {_quoted(value)}"
    if sign == ":":
        return f"a : where an = belongs: {key} = {_quoted(value)}"
    if not value:
        return f"{key} has no value"
    return _odd_blank(code) or _bad_value(key, value)


def _bad_value(key: str, value: str) -> str | None:
    if value[0] in "\"'":
        mark = value[0]
        if value.startswith(mark * 3) or len(re.findall(rf"(?<!\\){mark}", value)) % 2 == 0:
            return None
        return f"the quote that opens is never closed: {key} = {_quoted(value)}"
    if value[0] in "[{":
        inner = next((letter for letter in value if letter in _TYPOGRAPHIC), None)
        if inner is not None:
            return f'{inner} is a typographic quote; type the straight one, as in {key} = ["-25 C", "+35 C"]'
        if value[0] == "[" and value[-1] == "]" and not {'"', "'"} & {*value} and any(map(str.isalpha, value)):
            return f'the values of {key} need quotes, as in {key} = ["-25 C", "+35 C"]'
        return None
    if _BARE.fullmatch(value):
        return None
    if value[-1] in "\"'" or value[-1] in _TYPOGRAPHIC:
        return f"the quote that closes was never opened: {key} = {_quoted(value)}"
    return f"the value needs quotes: {key} = {_quoted(value)}"


def _quoted(value: str) -> str:
    """Write a value as it ought to stand: in straight quotes."""
    inner = value.strip("\"'" + _TYPOGRAPHIC + " \t").replace("\\", "").replace('"', "")
    return f'"{inner[:_SHOWN]}"'


def _typographic(code: str) -> str | None:
    odd = next((letter for letter in code if letter in _TYPOGRAPHIC), None)
    return None if odd is None else f'{odd} is a typographic quote; type the straight one, "'


def _odd_blank(code: str) -> str | None:
    """Say where a letter stands that looks like a blank and is none. Within quotes it does no harm."""
    for letter in re.sub(r"\"[^\"]*\"|'[^']*'", "", code):
        if letter in _BLANKS:
            return f"a {_BLANKS[letter]} (U+{ord(letter):04X}) that only looks like a blank; type a plain one"
    return None


def _without_comment(line: str) -> str:
    """Give a line without its comment; a # within straight quotes is none."""
    quote = ""
    for place, letter in enumerate(line):
        if quote:
            quote = "" if letter == quote else quote
        elif letter in "\"'":
            quote = letter
        elif letter == "#":
            return line[:place]
    return line


def _twice(lines: list[str], at: int) -> str | None:
    line = lines[at - 1].strip() if 1 <= at <= len(lines) else ""
    if re.fullmatch(r"\[\s*\w+\s*\].*", line):
        name = line.strip("[] \t").partition("]")[0].strip()
        return f"line {at}: [{name}] stands for the second time; each of several needs two brackets: [[{name}]]"
    found = _KEY.fullmatch(_without_comment(line))
    return None if found is None or not found["sign"] else f"line {at}: {found['key']} stands twice in one table"
