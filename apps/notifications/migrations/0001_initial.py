"""The tables of notifications. Every change from here on is a migration of its own.

What came before was squashed into this one before the first release.
"""

import django.db.models.deletion
import uuid_utils.compat
from django.conf import settings
from django.db import migrations, models

import apps.notifications.models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("accounts", "__first__"),
        ("boats", "0001_initial"),
        ("groups", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="NotifiedStanding",
            fields=[
                (
                    "list",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="+",
                        serialize=False,
                        to="boats.candidatelist",
                    ),
                ),
                (
                    "stands",
                    models.JSONField(
                        default=dict,
                        help_text="by person: ids of candidates, best first, and codes of advice by candidate",
                    ),
                ),
                (
                    "by",
                    models.JSONField(
                        default=apps.notifications.models.nobody,
                        help_text="ids of those whose doings came since",
                    ),
                ),
                (
                    "in_secret",
                    models.JSONField(
                        default=apps.notifications.models.nobody,
                        help_text="those of them of whose doings nobody else may know",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="EventCursor",
            fields=[
                (
                    "group",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="+",
                        serialize=False,
                        to="groups.group",
                    ),
                ),
                (
                    "number",
                    models.PositiveBigIntegerField(
                        default=0, help_text="of the last event dealt with"
                    ),
                ),
                (
                    "due_at",
                    models.DateTimeField(
                        db_index=True,
                        help_text="when time alone changes what waits for somebody",
                        null=True,
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
                "verbose_name_plural": "event_cursors",
            },
        ),
        migrations.CreateModel(
            name="DigestEmail",
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
                    "occasion",
                    models.CharField(
                        choices=[
                            ("at_once", "notifications of the last minutes"),
                            ("daily", "notifications of a day"),
                            ("weekly", "notifications of a week"),
                            ("confirmation", "asks whether the address is the person's"),
                            ("password", "says that the password was changed"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "period",
                    models.CharField(
                        help_text="2026-03-29, 2026-W13, 2026-03-29T10:04Z", max_length=20
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "to be sent, or tried again"),
                            ("sending", "being handed to the mail server"),
                            ("sent", "the mail server took it"),
                            (
                                "doubtful",
                                "perhaps sent: the worker died or was cut off",
                            ),
                            ("failed", "given up; the mail server never took it"),
                        ],
                        default="waiting",
                        max_length=8,
                    ),
                ),
                (
                    "filled_at",
                    models.DateTimeField(
                        help_text="when it last took notifications; later ones need another",
                        null=True,
                    ),
                ),
                ("ended_at", models.DateTimeField(help_text="sent or given up", null=True)),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="digests",
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
                "indexes": [
                    models.Index(
                        condition=models.Q(("state", "waiting")),
                        fields=["next_attempt_at"],
                        name="digests_due",
                    ),
                    models.Index(
                        condition=models.Q(("state", "sending")),
                        fields=["leased_until"],
                        name="digests_under_way",
                    ),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("person", "occasion", "period"),
                        name="one_digest_per_person_and_period",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("state", "waiting"),
                                models.Q(("next_attempt_at", None), _negated=True),
                            ),
                            models.Q(
                                models.Q(("state", "waiting"), _negated=True),
                                ("next_attempt_at", None),
                            ),
                            _connector="OR",
                        ),
                        name="only_waiting_digests_are_due",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "sending"), _negated=True),
                            models.Q(("leased_until", None), _negated=True),
                            _connector="OR",
                        ),
                        name="digest_is_handed_over_under_a_lease",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state__in", ("waiting", "sending")), ("ended_at", None)),
                            models.Q(
                                models.Q(("state__in", ("waiting", "sending")), _negated=True),
                                models.Q(("ended_at", None), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="ended_digest_says_when",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Notification",
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
                    "kind",
                    models.CharField(
                        choices=[
                            ("waiting", "waiting for you"),
                            ("changed", "changed under you"),
                            ("disagreement", "disagreement to settle"),
                        ],
                        max_length=12,
                    ),
                ),
                ("type", models.CharField(help_text="of NOTIFICATION_TYPES", max_length=30)),
                (
                    "thing",
                    models.CharField(help_text="kind of record, e.g. candidate", max_length=40),
                ),
                ("thing_id", models.UUIDField()),
                (
                    "cause",
                    models.CharField(
                        help_text="distinguishes it from others of its type", max_length=100
                    ),
                ),
                ("facts", models.JSONField(default=dict)),
                (
                    "number",
                    models.PositiveBigIntegerField(
                        help_text="in the inbox; a later one contains its news"
                    ),
                ),
                ("added_at", models.DateTimeField(help_text="when something was last added")),
                (
                    "times",
                    models.PositiveIntegerField(default=1, help_text="changes folded into it"),
                ),
                (
                    "last_event",
                    models.PositiveBigIntegerField(
                        default=0, help_text="number of the group's event folded in last"
                    ),
                ),
                (
                    "weight",
                    models.PositiveSmallIntegerField(
                        default=0, help_text="2: structure, safety or flooding"
                    ),
                ),
                (
                    "value",
                    models.DecimalField(
                        decimal_places=2,
                        help_text="of a look that settles it",
                        max_digits=14,
                        null=True,
                    ),
                ),
                (
                    "in_inbox",
                    models.BooleanField(default=True, help_text="false: for digests alone"),
                ),
                ("read_at", models.DateTimeField(blank=True, null=True)),
                ("done_at", models.DateTimeField(blank=True, null=True)),
                (
                    "settled_at",
                    models.DateTimeField(blank=True, help_text="ceased to be so", null=True),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="boats.candidate",
                    ),
                ),
                (
                    "club",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="groups.club",
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="groups.group",
                    ),
                ),
                (
                    "digest",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="notifications",
                        to="notifications.digestemail",
                    ),
                ),
                (
                    "list",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="boats.candidatelist",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="notifications",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(fields=["group", "list", "kind"], name="notifications_of_a_list"),
                    models.Index(
                        condition=models.Q(
                            ("done_at", None),
                            ("read_at", None),
                            ("settled_at", None),
                            ("digest", None),
                        ),
                        fields=["person"],
                        name="notifications_unseen",
                    ),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("person", "type", "thing_id", "cause"),
                        name="one_notification_per_cause",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(
                            ("done_at", None),
                            ("read_at", None),
                            ("settled_at", None),
                            ("kind", "changed"),
                        ),
                        fields=("person", "type", "thing_id"),
                        name="one_unseen_change_per_thing",
                    ),
                    models.UniqueConstraint(
                        fields=("person", "number"), name="notification_numbers_unique"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("group", None), models.Q(("club", None), _negated=True)),
                            models.Q(models.Q(("group", None), _negated=True), ("club", None)),
                            _connector="OR",
                        ),
                        name="notification_of_one_group_or_one_club",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="GroupChoice",
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
                ("in_service", models.JSONField(blank=True, null=True)),
                ("by_mail", models.JSONField(blank=True, null=True)),
                (
                    "rhythm",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("at_once", "within minutes"),
                            ("daily", "once a day"),
                            ("weekly", "once a week"),
                            ("never", "no mail"),
                        ],
                        max_length=7,
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="groups.group",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="notification_choices",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("person", "group"), name="one_choice_per_person_and_group"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("rhythm", ""),
                            ("rhythm__in", ["at_once", "daily", "weekly", "never"]),
                            _connector="OR",
                        ),
                        name="choice_rhythm_is_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Inbox",
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
                    "last",
                    models.PositiveBigIntegerField(
                        default=0,
                        help_text="number of the last notification, in the order of commits",
                    ),
                ),
                (
                    "in_service",
                    models.JSONField(
                        default=apps.notifications.models.all_kinds,
                        help_text="kinds shown in the inbox",
                    ),
                ),
                (
                    "by_mail",
                    models.JSONField(
                        default=apps.notifications.models.all_kinds,
                        help_text="kinds that go into digests",
                    ),
                ),
                (
                    "rhythm",
                    models.CharField(
                        choices=[
                            ("at_once", "within minutes"),
                            ("daily", "once a day"),
                            ("weekly", "once a week"),
                            ("never", "no mail"),
                        ],
                        default="daily",
                        max_length=7,
                    ),
                ),
                (
                    "hour",
                    models.PositiveSmallIntegerField(
                        default=7, help_text="of the day, in the time zone"
                    ),
                ),
                (
                    "weekday",
                    models.PositiveSmallIntegerField(
                        default=1, help_text="1 Monday to 7 Sunday (ISO 8601)"
                    ),
                ),
                (
                    "time_zone",
                    models.CharField(
                        default="UTC", help_text="of the IANA database", max_length=60
                    ),
                ),
                ("confirmed_email", models.EmailField(blank=True, max_length=254)),
                (
                    "person",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="inbox",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "inboxes",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("hour__lte", 23)), name="inbox_hour_of_a_day"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("weekday__gte", 1), ("weekday__lte", 7)),
                        name="inbox_day_of_a_week",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("rhythm__in", ["at_once", "daily", "weekly", "never"])),
                        name="inbox_rhythm_is_known",
                    ),
                ],
            },
        ),
    ]
