"""The tables of archives. Every change from here on is a migration of its own.

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
        ("groups", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="Export",
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
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "to be made"),
                            ("ready", "ready to be fetched"),
                            ("failed", "could not be made"),
                            ("expired", "not kept any more"),
                        ],
                        default="waiting",
                        max_length=7,
                    ),
                ),
                ("counts", models.JSONField(default=dict, help_text="rows of each kind")),
                (
                    "left_out",
                    models.JSONField(default=dict, help_text="what the asker may not see, counted"),
                ),
                ("size_bytes", models.PositiveBigIntegerField(null=True)),
                (
                    "digest",
                    models.CharField(blank=True, help_text="SHA-256 of the file", max_length=64),
                ),
                (
                    "expires_at",
                    models.DateTimeField(help_text="when the file is removed", null=True),
                ),
                (
                    "storage_failing_since",
                    models.DateTimeField(
                        editable=False,
                        help_text="the storage cannot be reached or is full since then; it is tried again",
                        null=True,
                    ),
                ),
                (
                    "asked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="exports",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="exports",
                        to="groups.group",
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
                        fields=["leased_until"],
                        name="exports_waiting",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "ready"), _negated=True),
                            models.Q(
                                models.Q(("expires_at", None), _negated=True),
                                models.Q(("digest", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="export_ready_says_of_what_and_until_when",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Import",
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
                    "name",
                    models.CharField(
                        blank=True, help_text="of the group, if another one", max_length=120
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("upload", "the file is to be sent"),
                            ("waiting", "the file is there, to be read"),
                            ("done", "the group is there"),
                            ("refused", "the file cannot be accepted; nothing was stored"),
                            ("failed", "it could not be read after several tries"),
                            ("expired", "no file came"),
                        ],
                        default="upload",
                        max_length=7,
                    ),
                ),
                ("begun_at", models.DateTimeField(editable=False, null=True)),
                (
                    "recognised",
                    models.JSONField(editable=False, help_text="ids here by theirs", null=True),
                ),
                (
                    "newcomers",
                    models.JSONField(
                        default=list, editable=False, help_text="ids of who is only a name"
                    ),
                ),
                (
                    "wordings",
                    models.JSONField(default=list, editable=False, help_text="ids of those stored"),
                ),
                (
                    "stored",
                    models.PositiveIntegerField(default=0, editable=False, help_text="rows so far"),
                ),
                (
                    "faults",
                    models.JSONField(default=list, help_text="file, line, field, code, detail"),
                ),
                (
                    "notes",
                    models.JSONField(default=list, help_text="what is not as it was, in words"),
                ),
                ("counts", models.JSONField(default=dict, help_text="rows of each kind")),
                (
                    "storage_failing_since",
                    models.DateTimeField(
                        editable=False,
                        help_text="the storage cannot be reached or is full since then; it is tried again",
                        null=True,
                    ),
                ),
                (
                    "asked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="imports",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="groups.group",
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
                        fields=["leased_until"],
                        name="imports_waiting",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "refused"), _negated=True),
                            models.Q(("faults", []), _negated=True),
                            _connector="OR",
                        ),
                        name="refused_import_says_why",
                    )
                ],
            },
        ),
    ]
