"""The tables of what owners agree. Every change from here on is a migration of its own."""

import django.db.models.deletion
import uuid_utils.compat
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("groups", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Clause",
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
                ("topic", models.SlugField(max_length=30)),
                ("wordings_made", models.PositiveSmallIntegerField(default=1)),
                (
                    "group",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="clauses",
                        to="groups.group",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Wording",
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
                    "client_kind",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("session", "a sign-in"),
                            ("personal", "a person's own script"),
                            ("group_program", "a program of a group"),
                            ("member_program", "a program acting for a member"),
                        ],
                        max_length=14,
                    ),
                ),
                (
                    "client_id",
                    models.UUIDField(
                        blank=True, help_text="of the program, if it was one", null=True
                    ),
                ),
                ("client_name", models.CharField(blank=True, max_length=120)),
                ("number", models.PositiveSmallIntegerField()),
                ("text", models.TextField(max_length=4000)),
                (
                    "clause",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="wordings",
                        to="ownership.clause",
                    ),
                ),
                (
                    "written_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="wordings_written",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("number",),
            },
        ),
        migrations.CreateModel(
            name="Consent",
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
                    "client_kind",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("session", "a sign-in"),
                            ("personal", "a person's own script"),
                            ("group_program", "a program of a group"),
                            ("member_program", "a program acting for a member"),
                        ],
                        max_length=14,
                    ),
                ),
                (
                    "client_id",
                    models.UUIDField(
                        blank=True, help_text="of the program, if it was one", null=True
                    ),
                ),
                ("client_name", models.CharField(blank=True, max_length=120)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="consents_given",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "wording",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="consents",
                        to="ownership.wording",
                    ),
                ),
            ],
            options={
                "ordering": ("created_at", "pk"),
            },
        ),
        migrations.AddConstraint(
            model_name="clause",
            constraint=models.UniqueConstraint(
                fields=("group", "topic"), name="clause_once_for_each_topic"
            ),
        ),
        migrations.AddConstraint(
            model_name="wording",
            constraint=models.UniqueConstraint(
                fields=("clause", "number"), name="wording_number_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="wording",
            constraint=models.CheckConstraint(
                condition=models.Q(("text", ""), _negated=True), name="wording_has_words"
            ),
        ),
        migrations.AddConstraint(
            model_name="consent",
            constraint=models.UniqueConstraint(
                fields=("wording", "person"), name="consent_once_for_each"
            ),
        ),
    ]
