"""Real workers and a real Redis, which is killed: a worker outlives that, and what nobody can read.

The Redis is the tests' own, on another port. No PostgreSQL is needed: the tasks find no database
that has work for them, and a worker outlives their failing too.
"""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
import redis

from tests.system.processes import ROOT, Process, free_port, running, until

pytestmark = [
    pytest.mark.served,
    pytest.mark.long,
    pytest.mark.skipif(not os.environ.get("REDIS_URL"), reason="needs a served setup"),
    pytest.mark.skipif(not shutil.which("redis-server"), reason="needs redis-server"),
]
TASK = "apps.http.tasks.prune"
QUEUE = "hardstand:results"
PLAIN = {"content-type": "application/json", "content-encoding": "utf-8"}


def message(number: int, body: str = "[[], {}, {}]", **others: object) -> str:
    """As the broker's library writes one."""
    info = {"exchange": "", "routing_key": "results"}
    properties = {"delivery_tag": f"tag-{number}", "delivery_info": info, "delivery_mode": 2}
    headers = {"task": TASK, "id": f"id-{number}", "lang": "py"}
    return json.dumps(
        {"body": body, "headers": headers, "properties": properties, **PLAIN, **others}
    )


UNREADABLE = [
    "no json",
    b"\xff\xfe",
    "null",
    "1",
    '"text"',
    "[]",
    "{}",
    '{"properties": {}}',
    message(1, headers={}),
    message(2, headers={"task": "nonsense"}),
    message(3, body="no json"),
    message(4, **{"content-type": "application/x-python-serialize"}),
    message(5, headers={"task": "x"}, **{"content-type": "application/x-python-serialize"}),
]


@dataclass
class OwnRedis:
    folder: Path
    port: int
    process: subprocess.Popen[bytes] | None = None

    @property
    def client(self) -> "redis.Redis[bytes]":
        return redis.Redis(port=self.port)

    def start(self) -> None:
        options = ["--port", str(self.port), "--dir", str(self.folder), "--appendonly", "yes"]
        self.process = subprocess.Popen(
            ["redis-server", *options], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        until(self.answers)

    def answers(self) -> bool:
        try:
            return bool(self.client.ping())
        except redis.ConnectionError:
            return False

    def kill(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.wait()


@pytest.fixture(scope="module")
def own_redis(tmp_path_factory) -> Iterator[OwnRedis]:
    one = OwnRedis(tmp_path_factory.mktemp("redis"), free_port())
    one.start()
    yield one
    one.kill()


@pytest.fixture(scope="module")
def environment(own_redis, tmp_path_factory) -> dict[str, str]:
    folder = tmp_path_factory.mktemp("signs")
    return {
        "REDIS_URL": f"redis://127.0.0.1:{own_redis.port}/0",
        "DATABASE_URL": f"sqlite:///{folder / 'empty.sqlite3'}",
        "HARDSTAND_DATA_DIR": str(folder),
        "SECRET_KEY": "only-for-this-test-run",
    }


@pytest.fixture(scope="module")
def worker(environment, tmp_path_factory) -> Iterator[Process]:
    command = ("-m", "celery", "-A", "server", "worker", "--concurrency=1", "--loglevel=INFO")
    log = tmp_path_factory.mktemp("worker") / "log"
    with running(Process(*command, log=log, environment=environment)) as process:
        until(lambda: process.says("ready."))
        yield process


def works(worker: Process, own_redis: OwnRedis) -> bool:
    """Whether it takes a message that can be read."""
    before = worker.log.read_text().count(f"Task {TASK}[")
    own_redis.client.lpush(QUEUE, message(before))
    until(lambda: worker.says("") and worker.log.read_text().count(f"Task {TASK}[") > before)
    return True


def lives(part: str, environment: dict[str, str]) -> bool:
    command = [sys.executable, "-m", "server.health", part]
    return not subprocess.run(command, cwd=ROOT, env={**os.environ, **environment}).returncode


def test_it_works(worker, own_redis):
    assert works(worker, own_redis)


def test_what_nobody_can_read_does_not_end_the_worker(worker, own_redis):
    for one in UNREADABLE:
        own_redis.client.lpush(QUEUE, one)
    until(lambda: worker.says("") and not own_redis.client.llen(QUEUE))
    assert works(worker, own_redis)
    assert worker.log.read_text().count("a message that cannot be read was dropped") >= 8


def test_the_check_of_each_process_looks_at_that_process(worker, own_redis, environment):
    until(lambda: lives("results", environment), every=1)
    assert not lives("sending", environment), "another worker's sign does not count"
    assert not lives("beat", environment)


@pytest.mark.parametrize("kills", [1, 3])
def test_the_worker_outlives_its_redis(worker, own_redis, kills):
    for number in range(kills):
        for busy in range(20):
            own_redis.client.lpush(QUEUE, message(1000 * number + busy))
        own_redis.kill()
        own_redis.start()
    assert works(worker, own_redis)


def test_a_sign_does_not_outlive_its_process(worker, own_redis, environment):
    until(lambda: lives("results", environment), every=1)
    (key,) = own_redis.client.keys("hardstand:1:life:results:?*")
    assert 0 < own_redis.client.ttl(key) <= 60
    worker.kill()
    own_redis.client.expire(key, 0)  # as after a minute
    assert not lives("results", environment)


def test_the_scheduler_gives_its_own(own_redis, environment, tmp_path):
    command = ("-m", "celery", "-A", "server", "beat", f"--schedule={tmp_path / 'beat'}")
    with running(Process(*command, log=tmp_path / "log", environment=environment)):
        until(lambda: lives("beat", environment), every=1)
