"""The tables of purchase. Every change from here on is a migration of its own.

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
        ("catalogue", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="Bill",
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
                    "amount",
                    models.DecimalField(
                        decimal_places=2,
                        help_text="the amount paid for the remedy",
                        max_digits=14,
                    ),
                ),
                ("currency", models.CharField(max_length=3)),
                (
                    "done_by",
                    models.CharField(
                        choices=[
                            ("professional", "a yard or a trade"),
                            (
                                "own",
                                "the group itself, without its own hours",
                            ),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "includes_enabling",
                    models.BooleanField(
                        default=False,
                        help_text="the amount includes lift-out, unstepping the mast and the like",
                    ),
                ),
                (
                    "document",
                    models.CharField(help_text="the invoice or receipt", max_length=300),
                ),
                ("dated_on", models.DateField()),
                ("note", models.CharField(blank=True, max_length=500)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                (
                    "added_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="%(class)ss_added",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="%(class)ss",
                        to="boats.candidate",
                    ),
                ),
                (
                    "remedy",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="%(class)ss",
                        to="catalogue.remedy",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("amount__gte", 0), ("amount", None), _connector="OR"),
                        name="bill_at_least_0",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("done_by__in", ("professional", "own"))),
                        name="bill_says_who_did_it",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Quote",
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
                ("amount", models.DecimalField(decimal_places=2, max_digits=14)),
                ("currency", models.CharField(max_length=3)),
                (
                    "firmness",
                    models.CharField(
                        choices=[("fixed", "a fixed price"), ("estimate", "an estimate")],
                        max_length=8,
                    ),
                ),
                (
                    "includes_enabling",
                    models.BooleanField(
                        default=False,
                        help_text="the price includes lift-out, unstepping the mast and the like",
                    ),
                ),
                (
                    "from_whom",
                    models.CharField(
                        help_text="the group's name for the yard or trade", max_length=120
                    ),
                ),
                ("scope", models.CharField(blank=True, max_length=500)),
                ("dated_on", models.DateField()),
                ("valid_until", models.DateField(blank=True, null=True)),
                (
                    "low",
                    models.DecimalField(blank=True, decimal_places=2, max_digits=14, null=True),
                ),
                (
                    "high",
                    models.DecimalField(blank=True, decimal_places=2, max_digits=14, null=True),
                ),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                (
                    "added_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="%(class)ss_added",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="%(class)ss",
                        to="boats.candidate",
                    ),
                ),
                (
                    "remedy",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="%(class)ss",
                        to="catalogue.remedy",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("amount__gte", 0), ("amount", None), _connector="OR"),
                        name="quote_at_least_0",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("high", None), ("low", None)),
                            models.Q(
                                ("firmness", "estimate"),
                                ("high__gte", models.F("low")),
                                ("low__gt", 0),
                            ),
                            _connector="OR",
                        ),
                        name="quote_range_is_of_an_estimate",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("valid_until", None),
                            ("valid_until__gte", models.F("dated_on")),
                            _connector="OR",
                        ),
                        name="quote_valid_from_its_date",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Offer",
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
                    "side",
                    models.CharField(
                        choices=[("buyers", "we offered"), ("seller", "the seller asked")],
                        default="buyers",
                        max_length=6,
                    ),
                ),
                ("amount", models.DecimalField(decimal_places=2, max_digits=14)),
                ("currency", models.CharField(max_length=3)),
                ("offered_on", models.DateField()),
                (
                    "answer_by",
                    models.DateField(blank=True, help_text="it lapses after this day", null=True),
                ),
                (
                    "conditions",
                    models.JSONField(blank=True, default=list, help_text="what it is subject to"),
                ),
                ("note", models.CharField(blank=True, max_length=1000)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("made", "made, and not answered yet"),
                            ("countered", "answered by another price"),
                            ("accepted", "accepted"),
                            ("refused", "refused"),
                            ("withdrawn", "withdrawn"),
                            ("lapsed", "not answered in time"),
                        ],
                        default="made",
                        max_length=9,
                    ),
                ),
                (
                    "settled_on",
                    models.DateField(blank=True, help_text="the day of the answer", null=True),
                ),
                ("reason", models.CharField(blank=True, max_length=1000)),
                (
                    "stage_before",
                    models.CharField(
                        choices=[
                            ("listed", "listed"),
                            ("viewing", "viewing"),
                            ("shortlisted", "shortlisted"),
                            ("survey", "survey"),
                            ("offer", "offer"),
                            ("bought", "bought"),
                            ("struck_off", "struck off"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "added_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="offers_added",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="offers",
                        to="boats.candidate",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("amount__gte", 0), ("amount", None), _connector="OR"),
                        name="offer_at_least_0",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("state__in", ("made", "accepted"))),
                        fields=("candidate",),
                        name="one_offer_on_the_table_of_a_boat",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("answer_by", None),
                            ("answer_by__gte", models.F("offered_on")),
                            _connector="OR",
                        ),
                        name="offer_open_from_its_day",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("settled_on", None), ("state", "made")),
                            models.Q(
                                models.Q(("state", "made"), _negated=True),
                                models.Q(("settled_on", None), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="offer_settled_on_a_day",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "state__in",
                                ("made", "countered", "accepted", "refused", "withdrawn", "lapsed"),
                            )
                        ),
                        name="offer_in_a_known_state",
                    ),
                ],
            },
        ),
    ]
