"""The tables of events. Every change from here on is a migration of its own.

What came before was squashed into this one before the first release.
"""

import uuid

import django.db.models.deletion
import uuid_utils.compat
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        # Those of libraries come first: each of their changes would read all of our tables' models.
        ("admin", "0003_logentry_add_action_flag_choices"),
        ("oauth2_provider", "0022_refreshtoken_token_family_index"),
        ("accounts", "__first__"),
    ]

    operations = [
        migrations.CreateModel(
            name="EventSequence",
            fields=[
                ("group", models.UUIDField(primary_key=True, serialize=False)),
                ("last", models.PositiveBigIntegerField(default=0)),
                (
                    "pruned",
                    models.PositiveBigIntegerField(
                        default=0, help_text="events up to this number are not kept any more"
                    ),
                ),
                ("void_after", models.PositiveBigIntegerField(default=0)),
                ("void_until", models.PositiveBigIntegerField(default=0)),
            ],
        ),
        migrations.CreateModel(
            name="Webhook",
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
                ("group", models.UUIDField(db_index=True)),
                ("url", models.CharField(max_length=500)),
                ("note", models.CharField(blank=True, help_text="what it is for", max_length=200)),
                (
                    "kinds",
                    models.JSONField(
                        default=list, help_text="of event; none named: all that there are"
                    ),
                ),
                ("enabled", models.BooleanField(default=True)),
                (
                    "stopped_because",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("by_hand", "by an organiser"),
                            ("gone", "the receiver answered that it wants no more (410)"),
                            ("no_answer", "nothing got through for as long as a message is tried"),
                        ],
                        max_length=10,
                    ),
                ),
                ("secret", models.TextField(help_text="encrypted")),
                (
                    "old_secret",
                    models.TextField(blank=True, help_text="encrypted; signs too for a while"),
                ),
                ("old_secret_until", models.DateTimeField(blank=True, null=True)),
                ("last_success_at", models.DateTimeField(blank=True, null=True)),
                ("leased_by", models.UUIDField(blank=True, null=True)),
                ("leased_until", models.DateTimeField(blank=True, null=True)),
                ("attempts", models.PositiveSmallIntegerField(default=0)),
                ("last_error", models.TextField(blank=True)),
                ("failing_since", models.DateTimeField(blank=True, null=True)),
                ("next_attempt_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("enabled", True), ("stopped_because", "")),
                            models.Q(
                                ("enabled", False), models.Q(("stopped_because", ""), _negated=True)
                            ),
                            _connector="OR",
                        ),
                        name="stopped_webhook_says_why",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("old_secret", ""), ("old_secret_until", None)),
                            models.Q(
                                models.Q(("old_secret", ""), _negated=True),
                                models.Q(("old_secret_until", None), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="old_secret_ends_some_time",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Delivery",
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
                ("kind", models.CharField(max_length=60)),
                ("body", models.TextField(help_text="JSON, sent as it is at every attempt")),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "to be sent, or sent again"),
                            ("delivered", "the receiver took it"),
                            ("failed", "given up; can be resent"),
                        ],
                        default="waiting",
                        max_length=10,
                    ),
                ),
                (
                    "tries",
                    models.PositiveSmallIntegerField(
                        default=0, help_text="of the schedule, all failed"
                    ),
                ),
                ("due_at", models.DateTimeField(null=True)),
                ("delivered_at", models.DateTimeField(null=True)),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                (
                    "webhook",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="deliveries",
                        to="events.webhook",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "deliveries",
                "indexes": [
                    models.Index(
                        condition=models.Q(("state", "waiting")),
                        fields=["webhook", "due_at"],
                        name="deliveries_due",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("state", "waiting"), models.Q(("due_at", None), _negated=True)
                            ),
                            models.Q(
                                models.Q(("state", "waiting"), _negated=True), ("due_at", None)
                            ),
                            _connector="OR",
                        ),
                        name="only_waiting_deliveries_are_due",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "delivered"), _negated=True),
                            models.Q(("delivered_at", None), _negated=True),
                            _connector="OR",
                        ),
                        name="delivered_says_when",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Attempt",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("at", models.DateTimeField(auto_now_add=True)),
                (
                    "status",
                    models.PositiveSmallIntegerField(
                        help_text="of the answer, if there is one", null=True
                    ),
                ),
                (
                    "error",
                    models.CharField(blank=True, help_text="why there was none", max_length=30),
                ),
                ("seconds", models.FloatField()),
                (
                    "delivery",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="attempts",
                        to="events.delivery",
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="Event",
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
                ("group", models.UUIDField()),
                ("number", models.PositiveBigIntegerField()),
                (
                    "kind",
                    models.CharField(
                        help_text="what happened, e.g. submission.submitted", max_length=60
                    ),
                ),
                (
                    "thing",
                    models.CharField(help_text="kind of record, e.g. submission", max_length=40),
                ),
                ("thing_id", models.UUIDField(default=uuid.uuid4)),
                ("thing_version", models.PositiveIntegerField(default=1)),
                ("deleted", models.BooleanField(default=False)),
                (
                    "only_for",
                    models.UUIDField(help_text="a person, if nobody else may see it", null=True),
                ),
                ("facts", models.JSONField(default=dict)),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["group", "number"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("group", "number"), name="event_numbers_unique_in_group"
                    )
                ],
            },
        ),
    ]
