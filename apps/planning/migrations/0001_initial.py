"""The tables of planning. Every change from here on is a migration of its own.

What came before was squashed into this one before the first release.
"""

import django.db.models.deletion
import uuid_utils.compat
from django.conf import settings
from django.db import migrations, models

import apps.planning.models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("accounts", "__first__"),
        ("boats", "0001_initial"),
        ("groups", "0001_initial"),
        ("viewings", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="Trip",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid_utils.compat.uuid7,
                        editable=False,
                        primary_key=True,
                        serialize=False,
                    ),
                ),
                ("version", models.PositiveIntegerField(default=1, editable=False)),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                ("updated_at", models.DateTimeField(auto_now=True)),
                ("name", models.CharField(max_length=120)),
                ("note", models.TextField(blank=True, max_length=4000)),
                (
                    "state",
                    models.CharField(
                        choices=[("planned", "planned"), ("called_off", "called off")],
                        default="planned",
                        max_length=10,
                    ),
                ),
                ("day", models.DateField()),
                (
                    "time_zone",
                    models.CharField(help_text="time zone of the parties' hours", max_length=60),
                ),
                ("currency", models.CharField(help_text="currency of values", max_length=3)),
                ("speed_kmh", models.FloatField(default=60, help_text="assumed driving speed")),
                (
                    "road_factor",
                    models.FloatField(
                        default=1.3, help_text="road distance divided by geodesic distance"
                    ),
                ),
                ("minutes_per_boat", models.PositiveSmallIntegerField(default=15)),
                ("revision", models.PositiveIntegerField(default=1, editable=False)),
                ("planned_revision", models.PositiveIntegerField(default=0, editable=False)),
                (
                    "asked",
                    models.BooleanField(
                        default=False, help_text="a plan was requested; it is kept up to date"
                    ),
                ),
                (
                    "values_anew",
                    models.BooleanField(
                        default=False, help_text="take new values for the next plan"
                    ),
                ),
                (
                    "outcome",
                    models.CharField(
                        choices=[
                            ("none", "no plan was asked for"),
                            ("planned", "there is a plan"),
                            ("impossible", "no plan keeps the agreed visits"),
                            ("failed", "something went wrong"),
                        ],
                        default="none",
                        max_length=10,
                    ),
                ),
                (
                    "sequence",
                    models.PositiveIntegerField(
                        default=0,
                        help_text="raised by each different plan; SEQUENCE in calendars",
                    ),
                ),
                ("planned_at", models.DateTimeField(blank=True, null=True)),
                (
                    "digest",
                    models.CharField(blank=True, help_text="digest of the problem", max_length=64),
                ),
                (
                    "value",
                    models.DecimalField(
                        blank=True,
                        decimal_places=2,
                        help_text="value of all looks together",
                        max_digits=14,
                        null=True,
                    ),
                ),
                (
                    "bound",
                    models.DecimalField(
                        blank=True,
                        decimal_places=2,
                        help_text="upper bound on the value of any plan",
                        max_digits=14,
                        null=True,
                    ),
                ),
                (
                    "cannot_keep",
                    models.JSONField(
                        blank=True,
                        default=apps.planning.models.no_ids,
                        help_text="candidates whose appointments no plan can keep",
                    ),
                ),
                ("failed_revision", models.PositiveIntegerField(default=0, editable=False)),
                (
                    "club",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="trips",
                        to="groups.club",
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="trips",
                        to="groups.group",
                    ),
                ),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="trips_made",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("leased_by", models.UUIDField(blank=True, null=True)),
                ("leased_until", models.DateTimeField(blank=True, null=True)),
                ("attempts", models.PositiveSmallIntegerField(default=0)),
                ("last_error", models.TextField(blank=True)),
                ("failing_since", models.DateTimeField(blank=True, null=True)),
                ("next_attempt_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "indexes": [models.Index(fields=["day"], name="trips_by_day")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("club", None), models.Q(("group", None), _negated=True)),
                            models.Q(models.Q(("club", None), _negated=True), ("group", None)),
                            _connector="OR",
                        ),
                        name="trip_of_one_group_or_one_club",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("speed_kmh__gte", 5),
                            ("speed_kmh__lte", 150),
                            ("road_factor__gte", 1),
                            ("road_factor__lte", 5),
                            ("minutes_per_boat__gte", 1),
                            ("minutes_per_boat__lte", 480),
                        ),
                        name="trip_assumptions_sensible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("planned_revision__lte", models.F("revision"))),
                        name="trip_plan_not_newer_than_the_trip",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("outcome", "planned"), _negated=True),
                            models.Q(
                                models.Q(("value", None), _negated=True),
                                models.Q(("bound", None), _negated=True),
                                ("bound__gte", models.F("value")),
                            ),
                            _connector="OR",
                        ),
                        name="trip_plan_states_value_and_bound",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="TripBoat",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid_utils.compat.uuid7,
                        editable=False,
                        primary_key=True,
                        serialize=False,
                    ),
                ),
                (
                    "stated_value",
                    models.DecimalField(
                        blank=True,
                        decimal_places=2,
                        help_text="value of a look as given; replaces the computed one",
                        max_digits=14,
                        null=True,
                    ),
                ),
                ("stated_minutes", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "wanted",
                    models.BooleanField(
                        default=True, help_text="false: she was in a plan and was then taken off"
                    ),
                ),
                (
                    "value",
                    models.DecimalField(
                        blank=True,
                        decimal_places=2,
                        help_text="value of a look, in the trip's currency",
                        max_digits=14,
                        null=True,
                    ),
                ),
                (
                    "basis",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("given", "given with the trip"),
                            ("visit_as_before", "a second visit, as she lay last time"),
                            ("visit_nothing_in_the_way", "a visit with nothing in the way"),
                            ("best_check", "the best single check"),
                        ],
                        max_length=30,
                    ),
                ),
                (
                    "checks",
                    models.PositiveSmallIntegerField(
                        blank=True, help_text="how many checks can be made", null=True
                    ),
                ),
                ("minutes", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "left_out",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("nobody_may", "nobody on the trip may look at her"),
                            ("closed", "the yard is closed on the day"),
                            ("out_of_reach", "nobody drives that far"),
                            (
                                "no_time",
                                "the hours of the yard and of the parties leave no time for her",
                            ),
                            (
                                "no_value",
                                "another look at her in these conditions would not move her expected cost",
                            ),
                            (
                                "others_worth_more",
                                "other boats are worth more in the time available",
                            ),
                            ("no_place", "her place is not known"),
                            ("no_value_known", "the value of a look at her is not known"),
                            (
                                "no_exchange_rate",
                                "there is no exchange rate from the value of a look to the trip's currency",
                            ),
                            ("not_looked_at_now", "she is struck off or bought"),
                            ("another_day", "the visit to her is on another day"),
                            ("called_off", "the visit to her was called off"),
                            ("taken_off", "she was taken off the trip"),
                        ],
                        max_length=20,
                    ),
                ),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="trip_boats",
                        to="boats.candidate",
                    ),
                ),
                (
                    "trip",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="boats",
                        to="planning.trip",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("trip", "candidate"), name="boat_once_on_a_trip"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("stated_value", None), ("stated_value__gte", 0), _connector="OR"
                            ),
                            models.Q(
                                ("stated_minutes", None),
                                ("stated_minutes__gte", 1),
                                _connector="OR",
                            ),
                        ),
                        name="trip_boat_takes_time",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="TripParty",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=uuid_utils.compat.uuid7,
                        editable=False,
                        primary_key=True,
                        serialize=False,
                    ),
                ),
                ("label", models.CharField(help_text="such as: Ada's car", max_length=120)),
                (
                    "start",
                    models.CharField(
                        blank=True, help_text="place of the start, in words", max_length=120
                    ),
                ),
                ("latitude", models.FloatField()),
                ("longitude", models.FloatField()),
                (
                    "leaves_at",
                    models.TimeField(help_text="earliest departure, in the trip's local time"),
                ),
                ("back_by", models.TimeField(help_text="latest return, in the trip's local time")),
                (
                    "most_km",
                    models.PositiveIntegerField(
                        blank=True, help_text="longest drive of the day", null=True
                    ),
                ),
                ("sets_off_at", models.DateTimeField(blank=True, null=True)),
                ("back_at", models.DateTimeField(blank=True, null=True)),
                ("metres", models.PositiveIntegerField(default=0)),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                (
                    "people",
                    models.ManyToManyField(
                        blank=True, related_name="trip_parties", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "trip",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="parties",
                        to="planning.trip",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "trip parties",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("latitude__gte", -90),
                            ("latitude__lte", 90),
                            ("longitude__gte", -180),
                            ("longitude__lte", 180),
                        ),
                        name="trip_party_starts_on_earth",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("leaves_at__lt", models.F("back_by"))),
                        name="trip_party_leaves_before_it_is_back",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="TripStop",
            fields=[
                (
                    "boat",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="stop",
                        serialize=False,
                        to="planning.tripboat",
                    ),
                ),
                (
                    "position",
                    models.PositiveSmallIntegerField(
                        help_text="position in the party's route, from 1"
                    ),
                ),
                ("starts_at", models.DateTimeField()),
                ("ends_at", models.DateTimeField()),
                (
                    "metres",
                    models.PositiveIntegerField(
                        help_text="distance from the stop before, or from the start"
                    ),
                ),
                ("drive_minutes", models.PositiveIntegerField()),
                ("dropped", models.BooleanField(default=False)),
                (
                    "party",
                    models.ForeignKey(
                        blank=True,
                        help_text="null only for a dropped stop",
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="stops",
                        to="planning.tripparty",
                    ),
                ),
                (
                    "viewing",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="trip_stop",
                        to="viewings.viewing",
                    ),
                ),
            ],
            options={
                "ordering": ["party", "position"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("dropped", False)),
                        fields=("party", "position"),
                        name="one_stop_at_each_position_of_a_party",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("dropped", True),
                            models.Q(("party", None), _negated=True),
                            _connector="OR",
                        ),
                        name="trip_stop_in_the_plan_has_a_party",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("ends_at__gt", models.F("starts_at")), ("position__gte", 1)
                        ),
                        name="trip_stop_ends_after_it_starts",
                    ),
                ],
            },
        ),
    ]
