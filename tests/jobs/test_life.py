import time
import uuid
from types import SimpleNamespace

import pytest

from apps.jobs import life
from apps.jobs.life import nobody_works, silent_for  # as they are; a fixture replaces the latter


@pytest.fixture
def part() -> str:
    return f"part-{uuid.uuid4()}"


@pytest.fixture
def later(monkeypatch):
    """Let so many seconds pass."""
    now = [time.time()]
    monkeypatch.setattr(life, "time", SimpleNamespace(time=lambda: now[0]))

    def pass_by(seconds: float) -> None:
        now[0] += seconds

    return pass_by


class NoCache:
    def __getattr__(self, name):
        raise ConnectionError("no cache")


def test_it_works(part, later):
    life.sign_of_life(part, "here")
    later(30)
    assert silent_for(part) == 30
    assert life.lives(part, "here")
    assert not life.lives(part, "elsewhere")


def test_before_the_first_sign_there_is_time_to_start(part, later):
    assert silent_for(part) == 0
    later(70)
    assert silent_for(part) == 70
    life.sign_of_life(part, "here")
    assert silent_for(part) == 0


def test_a_message_was_taken(part, later):
    life.message_taken(part)
    later(5)
    assert life.untaken_for(part) == 5


def test_nobody_works_where_no_sign_was_given_for_a_minute(part, later, monkeypatch):
    monkeypatch.setattr(life, "silent_for", silent_for)
    life.sign_of_life(part, "here")
    later(59)
    assert not nobody_works(part)
    later(2)
    assert nobody_works(part)


def test_without_the_cache_the_work_goes_on(part, monkeypatch):
    monkeypatch.setattr(life, "cache", NoCache())
    monkeypatch.setattr(life, "silent_for", silent_for)
    life.sign_of_life(part, "here")
    life.message_taken(part)
    assert nobody_works(part)
    with pytest.raises(ConnectionError):
        life.lives(part, "here")
