"""Who leaves goes on no trip any more, and where they set out from is forgotten."""

from django.db.models import QuerySet

from apps.accounts.models import Person
from apps.planning.messages import trips_touched
from apps.planning.models import Trip, TripParty


def person_trips_forget(person: Person) -> None:
    """For good: their own trips go, and so do parties of nobody else. In a transaction."""
    Trip.objects.filter(made_by=person, group=None).delete()
    trips_leave(person, Trip.objects.all())


def trips_leave(person: Person, trips: QuerySet[Trip]) -> None:
    """Out of every party of these trips; a party of nobody else starts from nowhere, and goes.

    Visits that were agreed for it stay, for the group to call off.
    """
    for party in TripParty.objects.filter(people=person, trip__in=trips).order_by("pk"):
        party.people.remove(person)
        if not party.people.exists():
            party.delete()
        trips_touched(Trip.objects.filter(pk=party.trip_id))
