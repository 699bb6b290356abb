"""The tables of second_opinions. Every change from here on is a migration of its own.

What came before was squashed into this one before the first release.
"""

import django.db.models.deletion
import uuid_utils.compat
from django.conf import settings
from django.db import migrations, models


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
            name="GroupOpinionSettings",
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
                (
                    "opens_yard_days",
                    models.BooleanField(
                        default=False,
                        help_text="that somebody of it goes to a yard on a day, for every visit",
                    ),
                ),
                (
                    "group",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="opinion_settings",
                        to="groups.group",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="YardDay",
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
                (
                    "room",
                    models.PositiveSmallIntegerField(
                        default=1, help_text="for so many boats of others"
                    ),
                ),
                (
                    "says_who",
                    models.BooleanField(default=False, help_text="which group it is and who goes"),
                ),
                (
                    "by_setting",
                    models.BooleanField(
                        default=False, help_text="opened because the group opens all"
                    ),
                ),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                (
                    "opened_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="yard_days_opened",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "viewing",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="yard_day",
                        to="viewings.viewing",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("room__gte", 1), ("room__lte", 20)),
                        name="yard_day_room_1_to_20",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SecondOpinionRequest",
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
                ("question", models.CharField(max_length=1000)),
                (
                    "checkpoints",
                    models.JSONField(default=list, help_text="codes of those it is about, if some"),
                ),
                ("wanted_by", models.DateField(blank=True, null=True)),
                (
                    "subject",
                    models.CharField(
                        editable=False,
                        help_text="digest of what is asked: nobody asks it twice",
                        max_length=64,
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "nobody has taken it on"),
                            ("taken", "somebody looks at her"),
                            ("answered", "answered"),
                            ("declined", "the visitor cannot look at her"),
                            ("withdrawn", "withdrawn by the group"),
                        ],
                        default="waiting",
                        max_length=10,
                    ),
                ),
                ("answer", models.TextField(blank=True, help_text="in words", max_length=4000)),
                ("answered_at", models.DateTimeField(blank=True, null=True)),
                (
                    "answered_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="second_opinions_answered",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "asked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="second_opinions_asked",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="second_opinion_requests",
                        to="boats.candidate",
                    ),
                ),
                (
                    "club",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="second_opinion_requests",
                        to="groups.club",
                    ),
                ),
                (
                    "offered_to",
                    models.ForeignKey(
                        blank=True,
                        help_text="the adviser whom the secretary asked, while nobody else is to take it",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="second_opinions_offered",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "yard_day",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="requests",
                        to="second_opinions.yardday",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        condition=models.Q(("state", "waiting")),
                        fields=["club"],
                        name="requests_waiting",
                    )
                ],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("state__in", ("waiting", "taken"))),
                        fields=("candidate", "subject"),
                        name="one_open_request_per_candidate_and_subject",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state__in", ("waiting", "taken")), _negated=True),
                            models.Q(("club", None), _negated=True),
                            _connector="OR",
                        ),
                        name="open_request_is_within_a_club",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("state", "answered"),
                                models.Q(("answered_at", None), _negated=True),
                                models.Q(("answered_by", None), _negated=True),
                            ),
                            models.Q(
                                models.Q(("state", "answered"), _negated=True),
                                ("answer", ""),
                                ("answered_at", None),
                                ("answered_by", None),
                            ),
                            _connector="OR",
                        ),
                        name="answered_request_says_by_whom_and_when",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("offered_to", None), ("state", "waiting"), _connector="OR"
                        ),
                        name="only_a_waiting_request_is_offered",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Step",
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
                    "kind",
                    models.CharField(
                        choices=[
                            ("asked", "asked"),
                            ("offered", "the secretary asked an adviser for it"),
                            ("taken", "taken on"),
                            ("declined", "declined"),
                            ("visit_planned", "a visit was planned"),
                            ("submitted", "findings were submitted"),
                            ("handed_back", "handed back unfinished"),
                            ("answered", "answered"),
                            ("access_ended", "the group ended the access"),
                            ("access_lapsed", "the access lapsed"),
                            ("withdrawn", "withdrawn"),
                        ],
                        max_length=14,
                    ),
                ),
                (
                    "words",
                    models.TextField(
                        blank=True, help_text="the reason, or the answer", max_length=4000
                    ),
                ),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        help_text="nobody: the service itself",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="second_opinion_steps",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "request",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="steps",
                        to="second_opinions.secondopinionrequest",
                    ),
                ),
                (
                    "whom",
                    models.ForeignKey(
                        blank=True,
                        help_text="to whom it was offered, whose access ended",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ClubOpinionSettings",
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
                (
                    "most_taken",
                    models.PositiveSmallIntegerField(
                        default=3, help_text="that one adviser may have at a time"
                    ),
                ),
                (
                    "currency",
                    models.CharField(
                        blank=True, help_text="in which looks for groups are compared", max_length=3
                    ),
                ),
                (
                    "club",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="opinion_settings",
                        to="groups.club",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("most_taken__gte", 1), ("most_taken__lte", 50)),
                        name="opinion_settings_most_taken_1_to_50",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Assignment",
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
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                (
                    "ending",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("answered", "answered"),
                            ("handed_back", "handed back unfinished"),
                            ("ended", "ended by the group"),
                            ("withdrawn", "the request was withdrawn"),
                            ("lapsed", "the assignee may no longer look at her"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="assignments",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "request",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="assignments",
                        to="second_opinions.secondopinionrequest",
                    ),
                ),
                (
                    "viewing",
                    models.OneToOneField(
                        blank=True,
                        help_text="the visit made for it",
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="assignment",
                        to="viewings.viewing",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        condition=models.Q(("ended_at", None)),
                        fields=["person"],
                        name="assignments_live",
                    )
                ],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ended_at", None)),
                        fields=("request",),
                        name="one_live_assignment_per_request",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("ended_at", None), ("ending", "")),
                            models.Q(
                                models.Q(("ended_at", None), _negated=True),
                                models.Q(("ending", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="ended_assignment_says_how",
                    ),
                ],
            },
        ),
    ]
