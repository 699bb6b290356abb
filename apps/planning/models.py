from django.conf import settings
from django.db import models
from django.db.models import F, Q
from uuid_utils.compat import uuid7

from apps.boats.list_models import money_field
from apps.boats.models import Candidate
from apps.common.models import Versioned
from apps.groups.models import Club, Group
from apps.jobs.models import Job
from apps.planning.solver.distances import ROAD_FACTOR, SPEED_KMH
from apps.planning.solver.problem import Why
from apps.viewings.models import Viewing

# Time that a look takes in addition to its checks: to find her, set a ladder, open up and close
# again. Common practice, no source.
MINUTES_PER_BOAT = 15

# Why a boat is not in the plan: the solver's reasons, and those that exclude her before solving.
LEFT_OUT = {
    Why.NOBODY_MAY.value: "nobody on the trip may look at her",
    Why.CLOSED.value: "the yard is closed on the day",
    Why.OUT_OF_REACH.value: "nobody drives that far",
    Why.NO_TIME.value: "the hours of the yard and of the parties leave no time for her",
    Why.NO_VALUE.value: "another look at her in these conditions would not move her expected cost",
    Why.OTHERS_WORTH_MORE.value: "other boats are worth more in the time available",
    "no_place": "her place is not known",
    "no_value_known": "the value of a look at her is not known",
    "no_exchange_rate": "there is no exchange rate from the value of a look to the trip's currency",
    "not_looked_at_now": "she is struck off or bought",
    "another_day": "the visit to her is on another day",
    "called_off": "the visit to her was called off",
    "taken_off": "she was taken off the trip",
}


def no_ids() -> list[str]:
    return []


class Basis(models.TextChoices):
    """The source of the value of a look at a boat."""

    GIVEN = "given", "given with the trip"
    AS_BEFORE = "visit_as_before", "a second visit, as she lay last time"
    NOTHING_IN_THE_WAY = "visit_nothing_in_the_way", "a visit with nothing in the way"
    BEST_CHECK = "best_check", "the best single check"


class StopState(models.TextChoices):
    PLANNED = "planned", "no visit is agreed yet"
    AGREED = "agreed", "there is a planned visit"
    MADE = "made", "the visit was made"


class Trip(Versioned, Job):
    """A day trip to look at boats: of a group, or of one member of a club.

    A job computes the plan. Each change that it depends on raises `revision`; `planned_revision` is
    the revision of the present plan.
    """

    class State(models.TextChoices):
        PLANNED = "planned", "planned"
        CALLED_OFF = "called_off", "called off"

    class Outcome(models.TextChoices):
        NONE = "none", "no plan was asked for"
        PLANNED = "planned", "there is a plan"
        IMPOSSIBLE = "impossible", "no plan keeps the agreed visits"
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
    time_zone = models.CharField(max_length=60, help_text="time zone of the parties' hours")
    currency = models.CharField(max_length=3, help_text="currency of values")
    speed_kmh = models.FloatField(default=SPEED_KMH, help_text="assumed driving speed")
    road_factor = models.FloatField(
        default=ROAD_FACTOR, help_text="road distance divided by geodesic distance"
    )
    minutes_per_boat = models.PositiveSmallIntegerField(default=MINUTES_PER_BOAT)

    revision = models.PositiveIntegerField(default=1, editable=False)
    planned_revision = models.PositiveIntegerField(default=0, editable=False)
    asked = models.BooleanField(
        default=False, help_text="a plan was requested; it is kept up to date"
    )
    values_anew = models.BooleanField(default=False, help_text="take new values for the next plan")
    outcome = models.CharField(max_length=10, choices=Outcome.choices, default=Outcome.NONE)
    sequence = models.PositiveIntegerField(
        default=0, help_text="raised by each different plan; SEQUENCE in calendars"
    )
    planned_at = models.DateTimeField(null=True, blank=True)
    digest = models.CharField(max_length=64, blank=True, help_text="digest of the problem")
    value = money_field(null=True, blank=True, help_text="value of all looks together")
    bound = money_field(null=True, blank=True, help_text="upper bound on the value of any plan")
    cannot_keep = models.JSONField(
        default=no_ids, blank=True, help_text="candidates whose appointments no plan can keep"
    )
    # A failed trip is tried again later if it is unchanged, and at once after a change.
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
        """Whether the plan is out of date."""
        return self.planned_revision < self.revision

    @property
    def failing(self) -> bool:
        """Whether the last attempt to plan the present trip failed."""
        return self.failed_revision == self.revision


class TripParty(models.Model):
    """People who drive together in one car: their start, hours and longest drive."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    trip = models.ForeignKey(Trip, on_delete=models.CASCADE, related_name="parties")
    label = models.CharField(max_length=120, help_text="such as: Ada's car")
    people = models.ManyToManyField(
        settings.AUTH_USER_MODEL, blank=True, related_name="trip_parties"
    )
    start = models.CharField(max_length=120, blank=True, help_text="place of the start, in words")
    latitude = models.FloatField()
    longitude = models.FloatField()
    leaves_at = models.TimeField(help_text="earliest departure, in the trip's local time")
    back_by = models.TimeField(help_text="latest return, in the trip's local time")
    most_km = models.PositiveIntegerField(
        null=True, blank=True, help_text="longest drive of the day"
    )
    # Set by the plan.
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
    """A boat of the trip, with the value and the minutes of a look at her."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    trip = models.ForeignKey(Trip, on_delete=models.CASCADE, related_name="boats")
    candidate = models.ForeignKey(Candidate, on_delete=models.CASCADE, related_name="trip_boats")
    stated_value = money_field(
        null=True, blank=True, help_text="value of a look as given; replaces the computed one"
    )
    stated_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    wanted = models.BooleanField(
        default=True, help_text="false: she was in a plan and was then taken off"
    )
    # As used by the plan. They stay until new values are wanted, so that plans do not keep
    # changing.
    value = money_field(null=True, blank=True, help_text="value of a look, in the trip's currency")
    basis = models.CharField(max_length=30, blank=True, choices=Basis.choices)
    checks = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="how many checks can be made"
    )
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
    """A look at one boat in the plan. A dropped stop stays, so that calendars can cancel it."""

    boat = models.OneToOneField(
        TripBoat, primary_key=True, on_delete=models.CASCADE, related_name="stop"
    )
    party = models.ForeignKey(
        TripParty,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="stops",
        help_text="null only for a dropped stop",
    )
    position = models.PositiveSmallIntegerField(help_text="position in the party's route, from 1")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    metres = models.PositiveIntegerField(
        help_text="distance from the stop before, or from the start"
    )
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
        """Whether there is a planned visit, which a new plan keeps."""
        return self.viewing is not None and self.viewing.state == Viewing.State.PLANNED
