"""What a person most likely did to a TOML file that cannot be read: named, with its line and what would be right."""

import tomllib

import pytest

from rampwarden.toml_faults import maybe_fault
from rampwarden.toml_files import bounded_toml


def refusal(text: str) -> str:
    """Give the words a file is refused with."""
    with pytest.raises(ValueError) as refused:  # noqa: PT011  (its words are compared)
        bounded_toml(text.encode())
    return str(refused.value)


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ("title = “Mine”", '“ is a typographic quote; type the straight one: title = "Mine"'),
        ("title = „Mine“ # ours", '„ is a typographic quote; type the straight one: title = "Mine"'),
        ("title = ’Mine’", '’ is a typographic quote; type the straight one: title = "Mine"'),
        (
            'band = [“-15 C”, "+15 C"]',
            '“ is a typographic quote; type the straight one, as in band = ["-25 C", "+35 C"]',
        ),
        ("max_rate = 25 C / 15 min", 'the value needs quotes: max_rate = "25 C / 15 min"'),
        ("name = oven drying", 'the value needs quotes: name = "oven drying"'),
        ("band = [-15 C, +15 C]", 'the values of band need quotes, as in band = ["-25 C", "+35 C"]'),
        ('to = "180 C', 'the quote that opens is never closed: to = "180 C"'),
        ("to = '180 C", 'the quote that opens is never closed: to = "180 C"'),
        ('to = 180 C"', 'the quote that closes was never opened: to = "180 C"'),
        ("to = 180 C”", 'the quote that closes was never opened: to = "180 C"'),
        ('to\t"180 C"', 'a tab where an = belongs: to = "180 C"'),
        ('to "180 C"', 'nothing where an = belongs: to = "180 C"'),
        ('to: "180 C"', 'a : where an = belongs: to = "180 C"'),
        ('to\u00a0= "180 C"', "a no-break space (U+00A0) that only looks like a blank; type a plain one"),
        ('to =\u202f"180 C"', "a narrow no-break space (U+202F) that only looks like a blank; type a plain one"),
        ("title =", "title has no value"),
        ('a = "x"\na = "y"', "a stands twice in one table"),
        (
            "[segment]\n[segment]",
            "[segment] stands for the second time; each of several needs two brackets: [[segment]]",
        ),
    ],
)
def test_what_was_done_to_a_line_is_named_with_its_place(line: str, fault: str) -> None:
    """The whole refusal, after two lines that are right and before one more."""
    text = f'first = "line"\n# ‘a comment’ may hold anything: “ ”\n{line}\nlast = "line"\n'
    number = 3 + line.count("\n")
    assert refusal(text) == f"line {number}: {fault}"


@pytest.mark.parametrize(
    "text", ['say = "He said "no""\n', 'say = "C:\\q"\n', "a = 1.2.3\n", "[[segment\n", "a = [1,\n"]
)
def test_where_nobody_can_say_more_the_parsers_own_words_stand(text: str) -> None:
    """Better a dull sentence than a wrong one."""
    assert refusal(text).startswith("not a TOML file: ")


@pytest.mark.parametrize(
    "text",
    ['x = "a\tb"\r\n', "x = '“'\n", '\ufeffx = "°"\n', "x = 1\t# “\n", 'x = """\nto = 180 C\n"""\n', '"“" = 1\n'],
)
def test_what_toml_allows_is_left_alone(text: str) -> None:
    """Tabs between words, quotes within quotes, Windows line ends, a byte order mark."""
    assert bounded_toml(text.encode())


def test_an_encoding_that_is_none_of_ours_is_named() -> None:
    """The ° of old encodings, and files of two bytes a letter."""
    with pytest.raises(ValueError, match=r"line 2: byte 0xb0 \(a ° of another encoding\) is not UTF-8"):
        bounded_toml(b'a = 1\nto = "20 \xb0C"\n')
    with pytest.raises(ValueError, match="it is saved as UTF-16; save it as UTF-8"):
        bounded_toml('a = "1"'.encode("utf-16"))


@pytest.mark.parametrize("line", ["x = [" + "a" * 900_000, "“" * 300_000, "k" * 900_000, "a = " + "'\\" * 400_000])
def test_a_line_without_end_is_looked_at_once(line: str) -> None:
    """Whatever it says of it, it says it soon: the time limit of all tests is what this leans on."""
    with pytest.raises(tomllib.TOMLDecodeError) as complaint:
        tomllib.loads(line)
    assert maybe_fault(line, str(complaint.value)) != ""
