"""A trip that the service planned, and its notifications when a boat is dropped."""

from apps.notifications.jobs import group_notify
from tests.notifications.conftest import everything_read, told, types
from tests.planning.conftest import (  # noqa: F401  (fixtures)
    _catalogue,
    boats,
    files,
    list_id,
    planned,
    replanned,
    small_catalogue,
    trip_id,
    yards,
)


def test_it_works(cast, trip_id, boats):  # noqa: F811
    first = planned(cast, trip_id)
    on_it = first["routes"][0]["stops"][0]["name"]
    group_notify(group_id=cast.group.id)
    assert "trip_planned" in types(cast.bea)  # it has a plan now
    everything_read(cast)
    body = {"stage": "struck_off", "reason": "Sold"}
    assert cast.ola.post(f"/candidates/{boats[on_it]}/stage-changes", body).status_code == 201
    replanned(cast, trip_id)
    group_notify(group_id=cast.group.id)
    found = told(cast.bea, "trip_planned", "?read=false")
    assert found["facts"]["fell_out"] == [boats[on_it]]
    assert "1 boat dropped" in found["sentence"] or "1 boat added" in found["sentence"]
    assert "trip_planned" not in types(cast.hal)
