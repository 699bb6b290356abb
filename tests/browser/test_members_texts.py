"""What members write cannot run, breaks no page on a phone, and is read without script."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from django.contrib.auth.hashers import make_password
from django.db import connection
from playwright.sync_api import BrowserContext, Page

from apps.catalogue.services import catalogue_load
from tests.browser.conftest import PHONE
from tests.catalogue.conftest import small_files
from tests.pages.walking import DATA, addresses
from tests.system.calls import planned_trip, visited
from tests.system.processes import Process, answers, free_port, running, until
from tests.system.test_embedded_jobs import pytestmark as embedded
from tests.system.walk import Walk, both_worlds, undone
from tests.system.world import PASSWORD

pytestmark = [*embedded, pytest.mark.django_db]

# As long as a tag can be, the shortest text there is.
RUNS = '"><img src=x onerror=ran()>'
RUNS_TOO = "<script>ran()</script>"
SCRIPT_ADDRESS = "javascript:ran()"
PRINTED = (
    "/api/v1/lists/{list_id}/board.html",
    "/api/v1/lists/{list_id}/board.svg",
    "/api/v1/lists/{list_id}/decision-brief.html",
    "/api/v1/viewings/{viewing_id}/day-sheet.html",
)
READ = "main :is(h1, h2, h3, dt, dd, th, td):not(form *)"


@dataclass
class Written:
    """The service with a group that has everything, each text of which tries to run."""

    address: str
    walk: Walk

    def paths(self) -> dict[str, str]:
        paths = {name: at for name, at in addresses(self.walk).items() if name not in DATA}
        return paths | {at: at.format(**self.walk.here.named) for at in PRINTED}

    @contextmanager
    def open(self, context: BrowserContext) -> Iterator[Page]:
        """A page of somebody who has signed in."""
        page = context.new_page()
        page.set_default_timeout(15_000)
        page.goto(f"{self.address}/sign-in")
        page.fill("[name=email]", self.walk.here.organiser.person.email)
        page.fill("[name=password]", PASSWORD)
        page.locator("main button[type=submit]").click()
        page.get_by_role("heading", name="Hello").wait_for()
        yield page
        context.close()


@pytest.fixture(scope="module")
def written(django_db_setup, django_db_blocker, tmp_path_factory) -> Iterator[Written]:
    folder = tmp_path_factory.mktemp("written")
    with django_db_blocker.unblock(), undone():
        catalogue_load(folder=small_files(tmp_path_factory.mktemp("catalogue")).folder)
        walk = both_worlds(f"{RUNS}{RUNS_TOO}", f"Skua{RUNS}")
        planned_trip(walk.here)
        visited(walk.here)
        refuse_addresses_that_run(walk)
        for who in (walk.here.organiser, walk.here.buyer):
            who.person.name += RUNS + RUNS_TOO
            # By a hasher that the served process knows, not by the quick one of tests.
            who.person.password = make_password(PASSWORD, hasher="argon2")
            who.person.save()
        copy_database(folder / "hardstand.sqlite3")
    port = free_port()
    served = Process(
        *("-m", "gunicorn", "server.wsgi", f"--bind=127.0.0.1:{port}", "--threads=4"),
        "--no-control-socket",
        log=folder / "log",
        environment={"HARDSTAND_DATA_DIR": str(folder)},
    )
    with running(served):
        until(lambda: answers(f"http://127.0.0.1:{port}"))
        yield Written(f"http://127.0.0.1:{port}", walk)


def refuse_addresses_that_run(walk: Walk) -> None:
    at = f"/lists/{walk.here['list_id']}/candidates"
    refused = walk.here.buyer.post(at, {"name": "Heron", "links": [SCRIPT_ADDRESS]})
    assert refused.status_code == 422


def copy_database(to: Path) -> None:
    """The rows of this test's own database for a process of the service."""
    with closing(sqlite3.connect(to)) as copy:
        copy.executescript("\n".join(connection.connection.iterdump()))


def test_nothing_that_members_write_runs_and_no_page_scrolls_sideways(written, chromium):
    """Without the pages' content policy, which would block it a second time."""
    ran: list[str] = []
    context = chromium.new_context(viewport=PHONE, bypass_csp=True)
    context.expose_binding("ran", lambda source: ran.append(source["page"].url))
    with written.open(context) as page:
        page.on("dialog", lambda dialog: ran.append(dialog.page.url))
        for name, path in written.paths().items():
            page.goto(written.address + path)
            unfold(page)
            if not path.startswith("/api/"):
                assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), name
            assert page.locator("a[href^='javascript:']").count() == 0
        look(page, written)
        page.wait_for_timeout(200)
    assert ran == []


def unfold(page: Page) -> None:
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")


def look(page: Page, written: Written) -> None:
    """Also what one writes oneself during a look."""
    visit = written.walk.here["viewing_id"]
    page.goto(f"{written.address}/visits/{visit}")
    page.get_by_role("button", name="Keep this day on the phone").click()
    page.get_by_text("Kept for").wait_for()
    page.goto(f"{written.address}/visits/{visit}/look")
    page.get_by_role("button", name="Correct this look").or_(
        page.get_by_role("button", name="I am Ola")
    ).click()
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("button", name="Everything").click()
    page.get_by_role("button", name="I have read this").click()
    page.fill("#note", RUNS)
    page.get_by_role("button", name="A doubt for the group").click()
    page.fill("#question", RUNS_TOO)
    page.get_by_role("button", name="Keep this question").click()
    page.locator(".levels button").first.click()
    page.get_by_role("button", name="All checks").click()
    page.get_by_role("button", name="End the look").click()
    page.fill("#about", RUNS + RUNS_TOO)
    page.get_by_role("button", name="Send").click()
    page.get_by_role("heading", name="Sent").wait_for()
    assert page.get_by_text(RUNS).count() > 0
    page.goto(f"{written.address}/outbox")
    page.get_by_text("Days kept on this phone").wait_for()


def test_without_script_everything_is_read(written, chromium):
    """Headings, tables and facts of a page are the same with and without scripts."""
    paths = {name: at for name, at in written.paths().items() if name not in PRINTED}
    with written.open(chromium.new_context(viewport=PHONE)) as page:
        with_script = {name: lines(page, written, at) for name, at in paths.items()}
    plain = chromium.new_context(viewport=PHONE, java_script_enabled=False)
    with written.open(plain) as page:
        missing = {name: with_script[name] - lines(page, written, at) for name, at in paths.items()}
    assert {name: those for name, those in missing.items() if those} == {}


def lines(page: Page, written: Written, path: str) -> set[str]:
    page.goto(written.address + path)
    unfold(page)
    texts = page.locator(READ).all_inner_texts()
    return {line.strip() for text in texts for line in text.splitlines() if line.strip()}
