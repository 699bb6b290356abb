"""The tables of owning a boat together. Every change from here on is a migration of its own."""

import django.core.validators
import django.db.models.deletion
import uuid_utils.compat
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("boats", "0001_initial"),
        ("catalogue", "0001_initial"),
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
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("group", "topic"), name="clause_once_for_each_topic"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Handover",
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
                    "sold_on",
                    models.DateField(
                        blank=True, help_text="the date of the bill of sale", null=True
                    ),
                ),
                (
                    "seller",
                    models.CharField(
                        blank=True, help_text="all who signed as owners", max_length=300
                    ),
                ),
                (
                    "buyers",
                    models.CharField(
                        blank=True, help_text="in whose names she is bought", max_length=300
                    ),
                ),
                (
                    "price_amount",
                    models.DecimalField(blank=True, decimal_places=2, max_digits=14, null=True),
                ),
                ("price_currency", models.CharField(blank=True, max_length=3)),
                (
                    "hull_number",
                    models.CharField(
                        blank=True,
                        help_text="as it stands on the hull and in the papers",
                        max_length=40,
                    ),
                ),
                (
                    "document",
                    models.CharField(
                        blank=True, help_text="where the signed bill is", max_length=300
                    ),
                ),
                ("handed_over_on", models.DateField(blank=True, null=True)),
                ("place", models.CharField(blank=True, max_length=200)),
                ("engine_hours", models.PositiveIntegerField(blank=True, null=True)),
                ("note", models.CharField(blank=True, max_length=1000)),
                (
                    "candidate",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="handover",
                        to="boats.candidate",
                    ),
                ),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="handovers_changed",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("price_amount__gte", 0), ("price_amount", None), _connector="OR"
                        ),
                        name="handover_price_at_least_0",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("price_amount", None), ("price_currency", "")),
                            models.Q(
                                ("price_amount__isnull", False),
                                models.Q(("price_currency", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="handover_price_has_currency",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="HandoverItem",
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
                        choices=[("key", "keys"), ("inventory", "inventory"), ("papers", "papers")],
                        max_length=9,
                    ),
                ),
                ("what", models.CharField(max_length=200)),
                (
                    "promised",
                    models.PositiveSmallIntegerField(default=1, help_text="how many go with her"),
                ),
                ("found", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "where",
                    models.CharField(
                        blank=True, help_text="where it is kept, who has it", max_length=200
                    ),
                ),
                ("note", models.CharField(blank=True, help_text="its state", max_length=500)),
                ("checked_at", models.DateTimeField(blank=True, null=True)),
                (
                    "added_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="handover_items_added",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="handover_items",
                        to="boats.candidate",
                    ),
                ),
                (
                    "checked_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="handover_items_checked",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("created_at", "pk"),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("checked_at", None), ("checked_by", None), ("found", None)),
                            models.Q(
                                ("checked_at__isnull", False),
                                ("checked_by__isnull", False),
                                ("found__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="handover_item_found_by_somebody",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SeasonSettings",
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
                ("first_month", models.DateField(help_text="the first day of the first month")),
                (
                    "months",
                    models.PositiveSmallIntegerField(
                        default=12,
                        validators=[
                            django.core.validators.MinValueValidator(1),
                            django.core.validators.MaxValueValidator(24),
                        ],
                    ),
                ),
                (
                    "own_hours",
                    models.PositiveSmallIntegerField(
                        default=0,
                        help_text="that the group has in a month for work on her",
                        validators=[django.core.validators.MaxValueValidator(1000)],
                    ),
                ),
                (
                    "ashore",
                    models.BooleanField(
                        default=False, help_text="whether she stands ashore at the start"
                    ),
                ),
                (
                    "lift_months",
                    models.JSONField(
                        default=list, help_text="in which the yard lifts and launches"
                    ),
                ),
                (
                    "sailing_months",
                    models.JSONField(default=list, help_text="in which she is to be afloat"),
                ),
                (
                    "most_a_month",
                    models.DecimalField(blank=True, decimal_places=2, max_digits=14, null=True),
                ),
                (
                    "resale",
                    models.DecimalField(
                        blank=True,
                        decimal_places=2,
                        help_text="expected when the years are over",
                        max_digits=14,
                        null=True,
                    ),
                ),
                ("estimates", models.JSONField(default=dict)),
                (
                    "candidate",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="season_settings",
                        to="boats.candidate",
                    ),
                ),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="seasons_changed",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("most_a_month__gte", 0), ("most_a_month", None), _connector="OR"
                            ),
                            models.Q(("resale__gte", 0), ("resale", None), _connector="OR"),
                        ),
                        name="season_money_at_least_0",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("months__gte", 1), ("months__lte", 24)),
                        name="season_has_months",
                    ),
                ],
            },
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
                "constraints": [
                    models.UniqueConstraint(
                        fields=("clause", "number"), name="wording_number_once"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("text", ""), _negated=True), name="wording_has_words"
                    ),
                ],
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
                "constraints": [
                    models.UniqueConstraint(
                        fields=("wording", "person"), name="consent_once_for_each"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="WorkDecision",
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
                    "choice",
                    models.CharField(
                        choices=[
                            ("plan", "do it this season"),
                            ("leave", "leave it"),
                            ("done", "it is done"),
                        ],
                        max_length=5,
                    ),
                ),
                ("note", models.CharField(blank=True, max_length=500)),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="work_decisions",
                        to="boats.candidate",
                    ),
                ),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="work_decided",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "remedy",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="work_decisions",
                        to="catalogue.remedy",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("candidate", "remedy"), name="work_decided_once_for_each_remedy"
                    )
                ],
            },
        ),
    ]
