"""The pages at /docs/ are complete, their links work, and nothing comes from another host."""

import re
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.staticfiles import finders
from django.core.management import get_commands
from django.test import Client

from apps.accounts.scopes import SCOPES
from server.docs.guide import OPERATING, ORIGIN, SATURDAY, pages

PATHS = [
    "/docs/",
    "/docs/saturday",
    "/docs/problems",
    "/docs/access",
    "/docs/api",
    *(f"/docs/guide/{page.slug}" for page in pages()),
    *(f"/docs/operating/{page.slug}" for page in pages(OPERATING)),
]


class Read(HTMLParser):
    """A page's links, loaded files and headings."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.loads: list[str] = []
        self.levels: list[int] = []
        self.inline: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        if "id" in found:
            self.ids.append(found["id"])
        if tag == "a":
            self.links.append(found["href"])
        if tag in ("link", "script", "img"):
            self.loads.append(found.get("href") or found.get("src") or "")
        if re.fullmatch("h[1-6]", tag):
            self.levels.append(int(tag[1]))
        if tag == "style" or "style" in found or any(name.startswith("on") for name in found):
            self.inline.append(tag)


def read(path: str) -> Read:
    answer = Client().get(path)
    assert answer.status_code == 200, path
    assert answer["Content-Type"] == "text/html; charset=utf-8"
    return Read(answer.content.decode())


@pytest.mark.parametrize("path", PATHS)
def test_a_page_is_well_made(path):
    page = read(path)
    assert page.ids.count("main") == 1
    assert page.links[0] == "#main", "the first link skips to the text"
    assert page.levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(page.levels))
    assert len(set(page.ids)) == len(page.ids)


@pytest.mark.parametrize("path", PATHS)
def test_nothing_comes_from_another_host(path):
    page = read(path)
    for address in page.loads:
        assert address.startswith("/static/")
        assert finders.find(address.removeprefix("/static/")), address
    assert page.inline == []
    policy = Client().get(path)["Content-Security-Policy"]
    assert policy.startswith("default-src 'none'; ")
    assert "http" not in policy
    assert "unsafe" not in policy


def test_pictures_of_the_day_in_the_yard_are_there_and_small():
    shown = [at for at in read("/docs/saturday").loads if at.endswith(".webp")]
    assert len(shown) > 8
    files = [Path(finders.find(at.removeprefix("/static/"))) for at in shown]
    assert sum(file.stat().st_size for file in files) < 600_000
    assert {file.name for file in files} == {file.name for file in files[0].parent.iterdir()}


def test_messages_that_are_explained_are_those_of_the_pages():
    """Each begins with the words that a page or a script has."""
    sources = [path for path in Path("apps/pages").rglob("*") if path.suffix in (".js", ".html")]
    said = " ".join(" ".join(path.read_text() for path in sources).split())
    said = said.replace('" + "', "")
    rows = re.findall(r"^\| (?!the phone|---)(.+?) \|", SATURDAY.read_text(), re.MULTILINE)
    assert len(rows) > 10
    for words in rows:
        assert words in said, words


def test_every_link_leads_somewhere():
    there: dict[str, Read] = {path: read(path) for path in PATHS}
    elsewhere = {"/api/v1/schema", "/api/v1/schema?format=json"}
    for path, page in there.items():
        for link in page.links:
            if link in elsewhere or link.startswith("https://"):
                continue
            to, _, anchor = link.partition("#")
            if to and not to.startswith("/"):
                to = path.rpartition("/")[0] + "/" + to
            assert (to or path) in there, f"{path}: {link}"
            assert not anchor or anchor in there[to or path].ids, f"{path}: {link}"


@pytest.mark.parametrize("path", PATHS)
def test_every_page_says_that_it_is_no_survey(path):
    assert "not a survey" in Client().get(path).content.decode()


def test_examples_name_the_service_that_shows_them():
    page = Client().get("/docs/guide/first-call", headers={"host": "localhost:1234"})
    assert b"HARDSTAND=http://localhost:1234" in page.content
    assert ORIGIN.encode() not in page.content


def test_every_scope_is_told():
    page = Client().get("/docs/guide/programs").content.decode()
    for scope, words in SCOPES.items():
        assert f"<code>{scope}</code></td><td>{words}</td>" in page


def test_the_operators_pages_name_commands_and_settings_that_there_are():
    text = "".join(path.read_text() for path in sorted(OPERATING.glob("*.md")))
    commands = set(re.findall(r"(?:manage\.py|server/run manage) ([a-z_]+)", text))
    assert len(commands) > 4
    assert commands <= get_commands().keys()
    run = (settings.BASE_DIR / "server/run").read_text()
    assert set(re.findall(r"server/run ([a-z]+)", text)) <= set(
        re.findall(r"^    ([a-z]+)\)$", run, re.MULTILINE)
    )
    example = (settings.BASE_DIR / ".env.example").read_text()
    named = set(re.findall(r"^([A-Z_]+)=", text, re.MULTILINE)) | set(
        re.findall(r"`([A-Z]+_[A-Z_]+)`", text)
    )
    assert named - {"NAME_FILE"} <= set(re.findall(r"^#([A-Z_]+)=", example, re.MULTILINE))


def test_every_test_that_the_page_on_security_names_is_there():
    text = (OPERATING / "08-security.md").read_text()
    named = set(re.findall(r"`(tests/[^`]+)`", text))
    assert len(named) > 30
    assert [path for path in sorted(named) if not (settings.BASE_DIR / path).is_file()] == []
    rows = re.findall(r"^\| API(\d+) .* \| (.+) \|$", text, re.MULTILINE)
    assert [int(number) for number, _ in rows] == list(range(1, 11))
    assert all("`tests/" in tests for _, tests in rows)


def test_no_such_page():
    answer = Client().get("/docs/guide/no-such-page")
    assert answer.status_code == 404
    assert "There is no such page" in answer.content.decode()


def test_one_comes_to_the_pages():
    assert Client().get("/docs")["Location"] == "/docs/"


def test_pages_are_only_read():
    assert Client().post("/docs/").status_code == 405
    assert Client().head("/docs/").status_code == 200
