"""Who leaves goes on no trip any more, and where they set out from is forgotten."""

from django.db.models import F, QuerySet

from apps.accounts.models import Person
from apps.planning.messages import trips_touched
from apps.planning.models import Trip, TripParty, TripStop


def person_trips_erase(person: Person) -> None:
    """For good: their own trips go, and so do parties of nobody else. In a transaction."""
    Trip.objects.filter(made_by=person, group=None).delete()
    trips_leave(person, Trip.objects.all())


def trips_leave(person: Person, trips: QuerySet[Trip]) -> None:
    """Out of every party of these trips; a party of nobody else starts from nowhere, and goes.

    Visits that were agreed for it stay, for the group to call off.
    """
    for party in TripParty.objects.filter(people=person, trip__in=trips).order_by("pk"):
        party.people.remove(person)
        trip = Trip.objects.filter(pk=party.trip_id)
        if not party.people.exists() and parties_delete(TripParty.objects.filter(pk=party.pk)):
            trip.update(sequence=F("sequence") + 1)
        trips_touched(trip)


def parties_delete(parties: QuerySet[TripParty]) -> bool:
    """Whether any of them had a stop in the plan. Its stops stay, dropped: calendars must hear."""
    stops = TripStop.objects.filter(party__in=parties)
    went = stops.filter(dropped=False).exists()
    stops.update(dropped=True, viewing=None)
    parties.delete()
    return went
