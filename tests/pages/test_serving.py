"""The addresses that the service prints at its start, and its first link."""

import io
import re
from urllib.request import urlopen

import pytest
from django.core.management import CommandError, call_command

from apps.accounts.models import Person
from server.management.commands import serve
from tests.system.processes import Process, answers, free_port, running, until


def test_on_an_empty_database_it_prints_a_link_that_works(migrated, tmp_path):
    migrated(tmp_path / "hardstand.sqlite3")
    port = free_port()
    log = tmp_path / "log"
    served = Process(
        *("manage.py", "serve", f"--bind=127.0.0.1:{port}"),
        log=log,
        environment={"HARDSTAND_DATA_DIR": str(tmp_path), "PYTHONUNBUFFERED": "1"},
    )
    with running(served):
        until(lambda: answers(f"http://127.0.0.1:{port}"), 60)
        found = re.search(rf"http://127.0.0.1:{port}/start/hso_[\w-]{{20,}}", log.read_text())
        assert found, log.read_text()
        with urlopen(found[0], timeout=10) as page:
            assert "You are the first here" in page.read().decode()
        assert served.end() == 0


def test_for_phones_it_has_another_address_which_is_allowed_and_shown_as_a_code(settings):
    settings.ALLOWED_HOSTS, settings.PUBLIC_URL = ["localhost"], "http://127.0.0.1:8000"
    out = io.StringIO()
    serve.Command(stdout=out).print_phone_address("http://192.168.1.7:8000", None)
    assert settings.ALLOWED_HOSTS == ["localhost", "192.168.1.7"]
    assert settings.PUBLIC_URL == "http://192.168.1.7:8000"
    said = out.getvalue()
    assert "http://192.168.1.7:8000/" in said
    assert "only in a network that you trust" in said
    assert said.count("█") > 100, "the code"


def test_links_keep_beginning_with_the_address_that_was_set(settings):
    settings.ALLOWED_HOSTS, settings.PUBLIC_URL = [], "https://boats.example.org"
    serve.Command(stdout=io.StringIO()).print_phone_address("http://192.168.1.7:8000", None)
    assert settings.PUBLIC_URL == "https://boats.example.org"


class Probe:
    """Stands for the machine's network, with a given address."""

    def __init__(self, address: str | None) -> None:
        self.address = address

    def __call__(self, *_: object) -> "Probe":
        return self

    def __enter__(self) -> "Probe":
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def connect(self, _: object) -> None:
        if self.address is None:
            raise OSError("network is unreachable")

    def getsockname(self) -> tuple[str | None, int]:
        return self.address, 50000


def test_phones_come_to_the_machines_own_address_by_the_same_port(monkeypatch):
    monkeypatch.setattr(serve, "socket", Probe("192.168.1.7"))
    assert serve.bind_for_phones("127.0.0.1:8123") == "192.168.1.7:8123"


@pytest.mark.parametrize("address", [None, "127.0.0.1"])
def test_without_a_network_it_says_so(monkeypatch, address):
    monkeypatch.setattr(serve, "socket", Probe(address))
    with pytest.raises(CommandError, match="in no network"):
        serve.bind_for_phones("127.0.0.1:8123")


def test_the_first_link_can_be_asked_for_where_another_server_serves(db, settings):
    settings.PUBLIC_URL = "https://boats.example.org"

    def asked() -> str:
        out = io.StringIO()
        call_command("first_link", stdout=out)
        return out.getvalue()

    assert asked().startswith("https://boats.example.org/start/hso_")
    Person.objects.create_user("ada@example.org", "tidal stream 9", name="Ada")
    assert "already" in asked()
