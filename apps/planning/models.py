from django.conf import settings
from django.db import models
from django.db.models import F, Q
from uuid_utils.compat import uuid7

from apps.boats.list_models import money
from apps.boats.models import Candidate
from apps.common.models import Versioned
from apps.groups.models import Club, Group
from apps.jobs.models import Job
from apps.planning.solver.distances import ROAD_FACTOR, SPEED_KMH
from apps.planning.solver.problem import Why
from apps.viewings.models import Viewing

# What a look takes beside its checks: to find her, set a ladder, open up and close again. Common
# practice, no source.
MINUTES_PER_BOAT = 15

# Why a boat is not in the plan: what the solver says, and what keeps it from being asked.
LEFT_OUT = {
    Why.NOBODY_MAY.value: "nobody who goes may look at her",
    Why.CLOSED.value: "the yard is closed on the day",
    Why.OUT_OF_REACH.value: "nobody drives that far",
    Why.NO_TIME.value: "there is no time for her within the hours of the yard and of those who go",
    Why.NO_VALUE.value: "another look at her as she lies would tell nothing of what she costs",
    Why.OTHERS_WORTH_MORE.value: "in the time there is, others are worth more",
    "no_place": "nobody said where she lies",
    "no_value_known": "what a look at her is worth is not known",
    "no_exchange_rate": "what a look is worth cannot be told in the trip's currency",
    "not_looked_at_now": "she is struck off or bought",
    "another_day": "the visit to her is on another day",
    "called_off": "the visit to her was called off",
    "taken_off": "she was taken off the trip",
}


def no_ids() -> list[str]:
    return []


class Basis(models.TextChoices):
    """What the worth of a look at a boat rests on."""

    GIVEN = "given", "given with the trip"
    AS_BEFORE = "visit_as_before", "a second visit, as she lay last time"
    NOTHING_IN_THE_WAY = "visit_nothing_in_the_way", "a visit with nothing in the way"
    BEST_CHECK = "best_check", "the best single check"


class StopState(models.TextChoices):
    PLANNED = "planned", "nobody was told yet"
    AGREED = "agreed", "there is a planned visit"
    MADE = "made", "the visit was made"


class Trip(Versioned, Job):
    """A day out to look at boats: of a group, or of one member of a club.

    The plan is worked out by a job. `revision` goes up with each change that it depends on, and it
    is as new as `planned_revision` says.
    """

    class State(models.TextChoices):
        PLANNED = "planned", "planned"
        CALLED_OFF = "called_off", "called off"

    class Outcome(models.TextChoices):
        NONE = "none", "no plan was asked for"
        PLANNED = "planned", "there is a plan"
        IMPOSSIBLE = "impossible", "no plan keeps what was agreed"
        FAILED = "failed", "something went wrong"

    UNFINISHED = Q(state="planned", asked=True, planned_revision__lt=F("revision"))

    group = models.ForeignKey(
        Group, null=True, blank=True, on_delete=models.CASCADE, related_name="trips"
    )
    club = models.ForeignKey(
        Club, null=True, blank=True, on_delete=models.CASCADE, related_name="trips"
    )
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="trips_made"
    )
    name = models.CharField(max_length=120)
    note = models.TextField(blank=True, max_length=4000)
    state = models.CharField(max_length=10, choices=State.choices, default=State.PLANNED)

    day = models.DateField()
    time_zone = models.CharField(max_length=60, help_text="of the parties' hours")
    currency = models.CharField(max_length=3, help_text="of values")
    speed_kmh = models.FloatField(default=SPEED_KMH, help_text="assumed on the road")
    road_factor = models.FloatField(default=ROAD_FACTOR, help_text="road over geodesic")
    minutes_per_boat = models.PositiveSmallIntegerField(default=MINUTES_PER_BOAT)

    revision = models.PositiveIntegerField(default=1, editable=False)
    planned_revision = models.PositiveIntegerField(default=0, editable=False)
    asked = models.BooleanField(default=False, help_text="a plan was asked for; it is kept up")
    values_anew = models.BooleanField(default=False, help_text="with the next plan")
    outcome = models.CharField(max_length=10, choices=Outcome.choices, default=Outcome.NONE)
    sequence = models.PositiveIntegerField(
        default=0, help_text="how many different plans there were; calendars go by it"
    )
    planned_at = models.DateTimeField(null=True, blank=True)
    digest = models.CharField(max_length=64, blank=True, help_text="of what it was planned from")
    value = money(null=True, blank=True, help_text="of all looks together")
    bound = money(null=True, blank=True, help_text="no plan is worth more")
    cannot_keep = models.JSONField(
        default=no_ids, blank=True, help_text="candidates whose appointments no plan can keep"
    )
    # What failed is tried again later on the same trip, and at once on a changed one.
    failed_revision = models.PositiveIntegerField(default=0, editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=(Q(club=None) & ~Q(group=None)) | (~Q(club=None) & Q(group=None)),
                name="trip_of_one_group_or_one_club",
            ),
            models.CheckConstraint(
                condition=Q(speed_kmh__gte=5, speed_kmh__lte=150)
                & Q(road_factor__gte=1, road_factor__lte=5)
                & Q(minutes_per_boat__gte=1, minutes_per_boat__lte=480),
                name="trip_assumptions_sensible",
            ),
            models.CheckConstraint(
                condition=Q(planned_revision__lte=F("revision")),
                name="trip_plan_not_newer_than_the_trip",
            ),
            models.CheckConstraint(
                condition=~Q(outcome="planned")
                | (~Q(value=None) & ~Q(bound=None) & Q(bound__gte=F("value"))),
                name="trip_plan_states_value_and_bound",
            ),
        ]
        indexes = [models.Index(fields=["day"], name="trips_by_day")]

    def __str__(self) -> str:
        return self.name

    @property
    def stale(self) -> bool:
        """Whether the plan may be another one now."""
        return self.planned_revision < self.revision

    @property
    def failing(self) -> bool:
        """Whether the last attempt at a plan of the trip as it is now failed."""
        return self.failed_revision == self.revision


class TripParty(models.Model):
    """Who drives together in one car: from where, when, and how far."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    trip = models.ForeignKey(Trip, on_delete=models.CASCADE, related_name="parties")
    label = models.CharField(max_length=120, help_text="such as: Ada's car")
    people = models.ManyToManyField(
        settings.AUTH_USER_MODEL, blank=True, related_name="trip_parties"
    )
    start = models.CharField(max_length=120, blank=True, help_text="where from, in words")
    latitude = models.FloatField()
    longitude = models.FloatField()
    leaves_at = models.TimeField(help_text="not before; local time of the trip")
    back_by = models.TimeField(help_text="local time of the trip")
    most_km = models.PositiveIntegerField(null=True, blank=True, help_text="of driving on the day")
    # From the plan.
    sets_off_at = models.DateTimeField(null=True, blank=True)
    back_at = models.DateTimeField(null=True, blank=True)
    metres = models.PositiveIntegerField(default=0)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        verbose_name_plural = "trip parties"
        constraints = [
            models.CheckConstraint(
                condition=Q(latitude__gte=-90)
                & Q(latitude__lte=90)
                & Q(longitude__gte=-180)
                & Q(longitude__lte=180),
                name="trip_party_starts_on_earth",
            ),
            models.CheckConstraint(
                condition=Q(leaves_at__lt=F("back_by")), name="trip_party_leaves_before_it_is_back"
            ),
        ]

    def __str__(self) -> str:
        return self.label

    @property
    def place(self) -> tuple[float, float]:
        return self.latitude, self.longitude


class TripBoat(models.Model):
    """A boat that may be looked at on the trip, and what a look at her is worth and takes."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    trip = models.ForeignKey(Trip, on_delete=models.CASCADE, related_name="boats")
    candidate = models.ForeignKey(Candidate, on_delete=models.CASCADE, related_name="trip_boats")
    stated_value = money(null=True, blank=True, help_text="of a look; in place of what is stored")
    stated_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    wanted = models.BooleanField(default=True, help_text="false: taken off after a plan had her")
    # As taken for the plan: kept until values are asked for anew, so that plans do not flutter.
    value = money(null=True, blank=True, help_text="of a look, in the trip's currency")
    basis = models.CharField(max_length=30, blank=True, choices=Basis.choices)
    checks = models.PositiveSmallIntegerField(null=True, blank=True, help_text="that can be made")
    minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    left_out = models.CharField(max_length=20, blank=True, choices=list(LEFT_OUT.items()))
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["trip", "candidate"], name="boat_once_on_a_trip"),
            models.CheckConstraint(
                condition=(Q(stated_value=None) | Q(stated_value__gte=0))
                & (Q(stated_minutes=None) | Q(stated_minutes__gte=1)),
                name="trip_boat_takes_time",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.candidate_id} on {self.trip_id}"


class TripStop(models.Model):
    """A look at one boat in the plan. A stop that fell out stays, dropped: calendars must hear."""

    boat = models.OneToOneField(
        TripBoat, primary_key=True, on_delete=models.CASCADE, related_name="stop"
    )
    party = models.ForeignKey(
        TripParty,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="stops",
        help_text="none only where it does not go any more",
    )
    position = models.PositiveSmallIntegerField(help_text="on the party's way, from 1")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    metres = models.PositiveIntegerField(help_text="of driving from the stop before, or the start")
    drive_minutes = models.PositiveIntegerField()
    dropped = models.BooleanField(default=False)
    viewing = models.OneToOneField(
        Viewing, null=True, blank=True, on_delete=models.SET_NULL, related_name="trip_stop"
    )

    class Meta:
        ordering = ["party", "position"]
        constraints = [
            models.UniqueConstraint(
                fields=["party", "position"],
                condition=Q(dropped=False),
                name="one_stop_at_each_position_of_a_party",
            ),
            models.CheckConstraint(
                condition=Q(dropped=True) | ~Q(party=None), name="trip_stop_in_the_plan_has_a_party"
            ),
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")) & Q(position__gte=1),
                name="trip_stop_ends_after_it_starts",
            ),
        ]

    def __str__(self) -> str:
        return f"stop {self.position} of {self.party_id}"

    @property
    def state(self) -> StopState:
        if self.made:
            return StopState.MADE
        return StopState.AGREED if self.agreed else StopState.PLANNED

    @property
    def made(self) -> bool:
        return self.viewing is not None and self.viewing.state == Viewing.State.MADE

    @property
    def agreed(self) -> bool:
        """Whether there is an appointment, which a new plan keeps."""
        return self.viewing is not None and self.viewing.state == Viewing.State.PLANNED
