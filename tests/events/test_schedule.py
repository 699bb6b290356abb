"""The schedule of retries."""

import random
from datetime import timedelta

import pytest

from apps.events.webhooks.sending import asked_for
from apps.jobs.backoff import JITTER, MESSAGE, RECEIVER

# Standard Webhooks 1.0.0, "Deliverability and reliability": "Time since start" of each attempt.
SINCE_START = [
    "00:00:00", "00:00:05", "00:05:05", "00:35:05", "02:35:05",
    "07:35:05", "17:35:05", "31:35:05", "51:35:05", "75:35:05",
]  # fmt: skip


def seconds(sequence: str) -> int:
    hours, minutes, rest = map(int, sequence.split(":"))
    return hours * 3600 + minutes * 60 + rest


def test_the_example_schedule_of_the_specification(monkeypatch):
    monkeypatch.setattr(random, "random", lambda: 0.0)
    at, times = timedelta(0), []
    for tries in range(len(SINCE_START)):
        at += MESSAGE.wait(tries) if tries else timedelta(0)
        times.append(at.total_seconds())
    assert times == [seconds(sequence) for sequence in SINCE_START]
    assert MESSAGE.wait(len(SINCE_START)) is None


def test_waits_spread_and_are_never_shorter():
    waits = {MESSAGE.wait(2) for _ in range(200)}
    least, most = timedelta(minutes=5), timedelta(minutes=5) * (1 + JITTER)
    assert all(least <= wait <= most for wait in waits)
    assert max(waits) - min(waits) > (most - least) / 2


@pytest.mark.parametrize(
    ("asked", "least"),
    [(600.0, 600), (1.0, 5), (None, 5), (10.0**9, 86400), (float("inf"), 86400)],
)
def test_a_receiver_s_wish_lengthens_the_wait_within_a_day(asked, least):
    wait = MESSAGE.wait(1, asked_for(asked)).total_seconds()
    assert least <= wait <= max(least, 6)


def test_an_endpoint_rests_longer_with_each_failure(monkeypatch):
    monkeypatch.setattr(random, "random", lambda: 0.0)
    rests = [RECEIVER.wait(failures).total_seconds() for failures in range(1, 12)]
    assert rests[:4] == [5, 10, 20, 40]
    assert rests == sorted(rests)
    assert rests[-1] == RECEIVER.wait(1000).total_seconds() == 900
    assert RECEIVER.wait(1, asked_for(3600)).total_seconds() == 3600
