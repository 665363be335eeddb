"""Who may look and who may act: names, origins, tokens, cookies, and the pace of trying."""

import pytest
from tests.page.served_page import ACT_TOKEN, READ_TOKEN, rules

from rampwarden.page.access import Access, Right, TriedTooOftenError

NOW_S = 1_800_000_000.0
DAY_S = 86_400.0


def cookie_of(access: Access, right: Right) -> str:
    return access.cookie(right, NOW_S).partition(";")[0]


# Names


@pytest.mark.parametrize(
    ("host", "own_address", "expected"),
    [
        ("127.0.0.1:8420", "127.0.0.1", True),
        ("localhost:8420", "127.0.0.1", True),
        ("LOCALHOST", "127.0.0.1", True),
        ("[::1]:8420", "::1", True),
        ("192.168.1.7:8420", "192.168.1.7", True),
        ("192.168.1.7", "::ffff:192.168.1.7", True),
        ("furnace.local:8420", "192.168.1.7", True),
        ("furnace.local.", "192.168.1.7", True),
        ("localhost", "192.168.1.7", False),
        ("192.168.1.8", "192.168.1.7", False),
        ("evil.example", "127.0.0.1", False),
        ("furnace.local.evil.example", "127.0.0.1", False),
        ("furnace.local@evil.example", "127.0.0.1", False),
        ("furnace.local/x", "127.0.0.1", False),
        ("furnace.local:99999", "127.0.0.1", False),
        ("[::1", "::1", False),
        ("", "127.0.0.1", False),
    ],
)
def test_the_page_answers_to_its_own_address_and_the_names_it_was_given_alone(
    host: str, own_address: str, expected: bool
) -> None:
    """A stranger's name that has been pointed at this address is none of them."""
    assert Access(rules("", ACT_TOKEN, "furnace.local")).is_our_name(host, own_address) is expected


@pytest.mark.parametrize(
    ("origin", "is_secure", "expected"),
    [
        ("http://furnace.local:8420", False, True),
        ("http://furnace.local", False, False),
        ("https://furnace.local:8420", False, False),
        ("https://furnace.local:8420", True, True),
        ("http://furnace.local:8420", True, False),
        ("http://furnace.local:8420.evil.example", False, False),
        ("null", False, False),
    ],
)
def test_only_the_very_place_a_page_was_served_from_is_our_origin(origin: str, is_secure: bool, expected: bool) -> None:
    """Scheme, name and port."""
    assert Access(rules(is_secure=is_secure)).is_our_origin(origin, "furnace.local:8420") is expected


# Tokens


def test_each_token_opens_its_own_right_and_nothing_else_opens_any() -> None:
    """Nor does an empty token where none was set."""
    access = Access(rules(READ_TOKEN, ACT_TOKEN))
    assert access.admit(ACT_TOKEN, "a", 0.0) is Right.ACT
    assert access.admit(READ_TOKEN, "a", 0.0) is Right.READ
    assert access.admit("", "a", 0.0) is None
    assert access.admit(ACT_TOKEN[:-1], "a", 0.0) is None
    assert Access(rules("", "")).admit("", "a", 0.0) is None
    assert access.admit("\ud800", "a", 0.0) is None


def test_after_five_wrong_tokens_an_address_is_slowed_and_others_are_not() -> None:
    """Each further token waits before it is looked at; a wrong one is told for how long still."""
    access = Access(rules())
    for second in range(5):
        assert access.pause_s("a", float(second)) == 0.0
        assert access.admit("wrong", "a", float(second)) is None
    assert access.pause_s("a", 5.0) == 1.0
    with pytest.raises(TriedTooOftenError) as refused:
        access.admit("wrong", "a", 5.0)
    assert refused.value.wait_s == pytest.approx(55.0)
    assert access.pause_s("b", 5.0) == 0.0
    assert access.pause_s("a", 60.0) == 0.0


def test_the_right_token_is_not_locked_out_by_a_strangers_wrong_ones() -> None:
    """Both may sit behind one proxy: whoever has to act is let in."""
    access = Access(rules())
    for _ in range(5):
        access.admit("wrong", "a", 0.0)
    for _ in range(100):
        with pytest.raises(TriedTooOftenError):
            access.admit("wrong", "a", 1.0)
    assert access.admit(ACT_TOKEN, "a", 2.0) is Right.ACT


def test_a_crowd_of_addresses_together_has_thirty_tries_a_minute() -> None:
    """And uses up no memory."""
    access = Access(rules())
    for address in range(30):
        assert access.admit("wrong", f"10.0.0.{address}", 0.0) is None
    with pytest.raises(TriedTooOftenError):
        access.admit("wrong", "10.0.1.1", 1.0)


# Cookies


def test_a_cookie_proves_its_right_until_it_ends() -> None:
    """Ninety days, and across a restart of the watch."""
    access = Access(rules(READ_TOKEN, ACT_TOKEN))
    for right in Right:
        cookie = cookie_of(access, right)
        again = Access(rules(READ_TOKEN, ACT_TOKEN))
        assert again.right_of(f"other=1; {cookie}", NOW_S + 89 * DAY_S) is right
        assert again.right_of(cookie, NOW_S + 91 * DAY_S) is None


def test_without_a_cookie_there_is_the_right_that_everybody_has_or_none() -> None:
    """Reading, where no token is needed for it; acting never."""
    assert Access(rules("", ACT_TOKEN)).right_of("", NOW_S) is Right.READ
    assert Access(rules(READ_TOKEN, ACT_TOKEN)).right_of("", NOW_S) is None


def test_a_cookie_cannot_be_made_better_nor_longer_nor_by_another_token() -> None:
    """Its seal is of its right, its end and its token."""
    access = Access(rules(READ_TOKEN, ACT_TOKEN))
    cookie = cookie_of(access, Right.READ)
    assert access.right_of(cookie.replace("=read.", "=act."), NOW_S) is None
    name, _, value = cookie.partition("=")
    right, end, seal = value.split(".")
    for forged in (
        f"{right}.{int(end) + 1}.{seal}",
        f"{right}.{end}.",
        f"{right}.{end}.{seal[:-1]}x",
        "read",
        "..",
        seal,
    ):
        assert access.right_of(f"{name}={forged}", NOW_S) is None, forged
    assert access.right_of(f"{name}={right}.{end}.é", NOW_S) is None
    assert Access(rules("another token to look", ACT_TOKEN)).right_of(cookie, NOW_S) is None


def test_a_cookie_is_kept_from_scripts_and_other_sites_and_from_lines_in_the_clear() -> None:
    """The last where there is TLS."""
    plain = Access(rules()).cookie(Right.ACT, NOW_S)
    assert plain.startswith("rampwarden-8420=act.")
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(plain.split("; "))
    assert "Secure" not in plain
    secure = Access(rules(is_secure=True)).cookie(Right.ACT, NOW_S)
    assert secure.startswith("__Host-rampwarden-8420=act.")
    assert "Secure" in secure.split("; ")
