"""What the settings of the page mean, and what is refused before a heat begins."""

import importlib.util
import sys
from importlib.machinery import ModuleSpec
from pathlib import Path

import pytest

from rampwarden.assembly.page import page_access, page_server
from rampwarden.control.messages import MARKS
from rampwarden.errors import SettingsError
from rampwarden.page.access import Access, Right
from rampwarden.settings import PageSection

ACT = "a token to act with"
READ = "a token to look with"


@pytest.fixture
def tokens(tmp_path: Path) -> dict[str, Path]:
    """The files of both tokens."""
    (tmp_path / "act").write_text(f"{ACT}\nits second line is no part of it\n")
    (tmp_path / "read").write_text(READ)
    return {"act_token_file": tmp_path / "act", "read_token_file": tmp_path / "read"}


def access(environment: dict[str, str] | None = None, **keys: object) -> Access:
    """Give whom a section lets in."""
    return page_access(PageSection(**keys), environment or {})[0]  # type: ignore[arg-type]


def refusal(**keys: object) -> str:
    """Give the reason why a section is refused."""
    with pytest.raises(SettingsError) as refused:
        access(**keys)
    assert "\n" not in str(refused.value)
    return str(refused.value)


def test_as_it_comes_the_page_is_off_and_then_costs_nothing() -> None:
    """Not even its libraries are looked for."""
    assert page_server(PageSection(), {}) is None


def test_on_this_computer_everybody_may_look_and_nobody_may_act() -> None:
    """Until there is a token to act."""
    opened = access()
    assert opened.right_of("", 0.0) is Right.READ
    assert opened.admit("", "a", 0.0) is None


def test_with_tokens_each_opens_its_own_right(tokens: dict[str, Path]) -> None:
    """First line of the file; reading is open no more."""
    opened = access(**tokens)
    assert opened.right_of("", 0.0) is None
    assert opened.admit(ACT, "a", 0.0) is Right.ACT
    assert opened.admit(READ, "a", 0.0) is Right.READ


def test_systemd_hands_tokens_over_as_credentials(tmp_path: Path) -> None:
    """No setting is needed for them."""
    (tmp_path / "page-read-token").write_text(READ)
    (tmp_path / "page-act-token").write_text(ACT)
    opened = access({"CREDENTIALS_DIRECTORY": str(tmp_path)})
    assert opened.right_of("", 0.0) is None
    assert opened.admit(ACT, "a", 0.0) is Right.ACT


@pytest.mark.parametrize(
    "keys",
    [
        {"address": "0.0.0.0:8420", "allow_plain_text": True},
        {"address": "[::]:8420", "allow_plain_text": True},
        {"names": ["furnace.local"]},
        {"behind_proxy": True},
    ],
    ids=str,
)
def test_where_others_can_reach_it_a_token_is_needed(keys: dict[str, object], tokens: dict[str, Path]) -> None:
    """For reading too: with a token to act alone, that one."""
    assert "needs a token: set page.read_token_file or page.act_token_file" in refusal(**keys)
    opened = access(**keys, act_token_file=tokens["act_token_file"])
    assert opened.right_of("", 0.0) is None


def test_off_this_computer_it_goes_encrypted_or_by_express_wish(tokens: dict[str, Path]) -> None:
    """As to a broker."""
    told = refusal(address="192.168.1.7:8420", **tokens)
    assert told.startswith("page.address = '192.168.1.7:8420': ")
    assert "page.certificate" in told
    assert "page.allow_plain_text = true" in told
    access(address="192.168.1.7:8420", allow_plain_text=True, **tokens)


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"address": "localhost:8420"}, "is no address and port"),
        ({"address": "127.0.0.1"}, "is no address and port"),
        ({"address": "::1:8420"}, "is no address and port"),
        ({"address": "127.0.0.1:70000"}, "a port lies between 1 and 65535"),
        ({"address": "0.0.0.0:8420", "behind_proxy": True}, "listen on 127.0.0.1"),
        ({"key": Path("page.key")}, "page.key: a key without page.certificate"),
        ({"certificate": Path("/none.pem")}, "page.certificate: cannot use /none.pem"),
        ({"act_token_file": Path("/none")}, "page.act_token_file: cannot read the token from /none"),
    ],
    ids=str,
)
def test_a_setting_that_cannot_work_is_refused_by_its_name(keys: dict[str, object], words: str) -> None:
    """In one line, with what would be right."""
    assert words in refusal(**keys)


def test_a_token_that_could_be_guessed_is_refused(tmp_path: Path) -> None:
    """And one that opens both rights makes one right of two."""
    short, same = tmp_path / "short", tmp_path / "same"
    short.write_text("hunter2\n")
    same.write_text(READ)
    assert "has 7 letters; at least 12" in refusal(read_token_file=short)
    assert "acting needs one of its own" in refusal(read_token_file=same, act_token_file=same)


def test_without_the_extra_it_is_said_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """In one line."""
    known = importlib.util.find_spec

    def find(name: str, package: str | None = None) -> ModuleSpec | None:
        return None if name == "uvicorn" else known(name, package)

    monkeypatch.setattr("rampwarden.assembly.page.find_spec", find)
    with pytest.raises(SettingsError, match=r"pip install 'rampwarden\[page\]'"):
        page_server(PageSection(enabled=True), {})


def test_every_mark_the_page_offers_is_one_the_watch_knows() -> None:
    """And it offers all of them."""
    html = (Path(sys.modules["rampwarden.page"].__file__ or "").parent / "assets" / "page.html").read_text()
    plain = {part.partition('"')[0] for part in html.split('data-mark="')[1:]}
    valued = {
        part.partition('"')[0]
        for part in html.partition('id="valued"')[2].partition("</select>")[0].split('value="')[1:]
    }
    offered = plain | valued
    assert offered == set(MARKS)
