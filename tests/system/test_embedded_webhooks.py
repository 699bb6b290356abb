"""Webhooks in the embedded setup: a hanging receiver does not delay results."""

import threading

from tests.events.receiving import receiver
from tests.system.processes import until
from tests.system.test_embedded_jobs import buyer, pytestmark, service  # noqa: F401  (fixture)


def test_results_do_not_wait_for_receivers(service, monkeypatch):  # noqa: F811
    monkeypatch.setenv("WEBHOOK_OWN_NETWORKS", "127.0.0.0/8")
    monkeypatch.setenv("WEBHOOK_TIMEOUT_SECONDS", "300")
    with receiver(hold=threading.Event()) as there, service.serving():
        ola = buyer(service)
        until(lambda: not service.behind)
        (group,) = ola.client.pages("/groups")
        made = ola.client.post(f"/groups/{group['id']}/webhooks", {"url": there.url})
        ola.submit(ola.boats[0], level=3)
        until(lambda: there.received, seconds=20)
        before = service.rounds
        ola.submit(ola.boats[1], level=3)
        until(lambda: not service.behind and service.rounds > before)
        assert len(there.received) == 1  # still at this one
        there.hold.set()
        waiting = "SELECT count(*) FROM events_delivery WHERE state = 'waiting'"
        until(lambda: there.received[1:] and not service.asked(waiting))
        ready = [message.opened(made["secret"])["type"] for message in there.received]
        assert {"submission.submitted", "results.ready"} <= set(ready)
