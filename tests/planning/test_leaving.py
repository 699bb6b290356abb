"""People who leave are removed from trips, with their starting places."""

from apps.planning.models import Trip, TripParty
from tests.planning.conftest import car, left_out, planned, post_trip, replanned


def end_membership(cast, who):
    membership = cast.membership(who)
    assert cast.ola.change("DELETE", f"/members/{membership.pk}").status_code == 204


def test_who_leaves_the_group_is_out_of_its_trips(cast, boats, trip_id):
    alone = post_trip(cast, boats, parties=[car(cast, "hal", label="Hal's van")]).json()["id"]
    planned(cast, alone)
    end_membership(cast, cast.bea)
    (party,) = Trip.objects.get(pk=trip_id).parties.all()
    assert [person.name for person in party.people.all()] == ["Ben"]
    end_membership(cast, cast.hal)
    assert not TripParty.objects.filter(trip=alone).exists()
    plan = replanned(cast, alone)
    assert (plan["routes"], set(left_out(plan).values())) == ([], {"nobody_may"})


def test_who_leaves_for_good_leaves_no_place_behind(cast, boats, trip_id):
    own = post_trip(cast, boats, parties=[car(cast, "ben")]).json()["id"]
    cast.ben.person.set_password("tidal stream 9")
    cast.ben.person.save()
    gone = cast.ben.post("/people/me/deletions", {"password": "tidal stream 9"})
    assert gone.status_code == 204, gone.content
    assert not TripParty.objects.filter(trip=own).exists()
    (party,) = Trip.objects.get(pk=trip_id).parties.all()
    assert [person.name for person in party.people.all()] == ["Bea"]
