"""People who leave are taken off all trips, and their starting places are erased."""

from django.db.models import F, QuerySet

from apps.accounts.models import Person
from apps.planning.messages import trips_touched
from apps.planning.models import Trip, TripParty, TripStop


def person_trips_erase(person: Person) -> None:
    """Delete the person's own trips, and parties of nobody else. Call in a transaction."""
    Trip.objects.filter(made_by=person, group=None).delete()
    trips_leave(person, Trip.objects.all())


def trips_leave(person: Person, trips: QuerySet[Trip]) -> None:
    """Remove the person from every party of these trips; delete parties that become empty.

    Agreed visits of such a party stay; the group can call them off.
    """
    for party in TripParty.objects.filter(people=person, trip__in=trips).order_by("pk"):
        party.people.remove(person)
        trip = Trip.objects.filter(pk=party.trip_id)
        if not party.people.exists() and parties_delete(TripParty.objects.filter(pk=party.pk)):
            trip.update(sequence=F("sequence") + 1)
        trips_touched(trip)


def parties_delete(parties: QuerySet[TripParty]) -> bool:
    """Returns whether the plan had a stop of theirs. Stops stay as dropped, for the calendars."""
    stops = TripStop.objects.filter(party__in=parties)
    went = stops.filter(dropped=False).exists()
    stops.update(dropped=True, viewing=None)
    parties.delete()
    return went
