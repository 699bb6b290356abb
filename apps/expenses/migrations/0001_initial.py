"""The tables of expenses. Every change from here on is a migration of its own."""

from decimal import Decimal

import django.db.models.deletion
import uuid_utils.compat
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("boats", "0001_initial"),
        ("groups", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Ledger",
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
                ("currency", models.CharField(max_length=3)),
                ("entries_made", models.PositiveIntegerField(default=0)),
                (
                    "digest",
                    models.CharField(blank=True, help_text="of the last entry", max_length=64),
                ),
                (
                    "group",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="ledger",
                        to="groups.group",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="LedgerEntry",
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
                ("number", models.PositiveIntegerField()),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("expense", "somebody paid for several"),
                            ("payment", "somebody paid somebody"),
                            ("reversal", "takes another entry back"),
                        ],
                        max_length=8,
                    ),
                ),
                (
                    "purpose",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("journey", "journeys"),
                            ("lift_out", "lift-out"),
                            ("survey", "survey"),
                            ("deposit", "deposit"),
                            ("price", "the price of the boat"),
                            ("work", "work and material"),
                            ("berth", "berth and storage"),
                            ("insurance", "insurance"),
                            ("other", "something else"),
                        ],
                        max_length=9,
                    ),
                ),
                (
                    "rule",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("equal", "in equal parts"),
                            ("shares", "by shares of the purchase"),
                            ("use", "by use"),
                        ],
                        max_length=6,
                    ),
                ),
                ("what", models.CharField(max_length=200)),
                ("note", models.CharField(blank=True, max_length=500)),
                ("paid_on", models.DateField()),
                ("amount", models.DecimalField(decimal_places=2, max_digits=14)),
                ("paid_amount", models.DecimalField(decimal_places=2, max_digits=14)),
                ("paid_currency", models.CharField(max_length=3)),
                (
                    "rate",
                    models.DecimalField(
                        decimal_places=8,
                        default=Decimal("1"),
                        help_text="the value of one unit of the currency paid in the ledger's",
                        max_digits=18,
                    ),
                ),
                ("rate_known_from", models.CharField(blank=True, max_length=120)),
                ("rate_on", models.DateField(blank=True, null=True)),
                ("record", models.TextField()),
                ("digest", models.CharField(max_length=64)),
                (
                    "added_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="entries_added",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.RESTRICT,
                        related_name="entries",
                        to="boats.candidate",
                    ),
                ),
                (
                    "ledger",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="entries",
                        to="expenses.ledger",
                    ),
                ),
                (
                    "paid_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="entries_paid",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "reverses",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.RESTRICT,
                        related_name="reversed_by",
                        to="expenses.ledgerentry",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("ledger", "number"), name="entry_number_once"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("amount__lte", 0),
                                ("kind", "reversal"),
                                ("reverses__isnull", False),
                            ),
                            models.Q(
                                ("amount__gte", 0),
                                ("kind__in", ("expense", "payment")),
                                ("reverses", None),
                            ),
                            _connector="OR",
                        ),
                        name="entry_reversal_names_its_entry",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("rate__gt", 0)), name="entry_rate_above_0"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="EntryPart",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "place",
                    models.PositiveSmallIntegerField(help_text="in the entry's record, from 0"),
                ),
                (
                    "weight",
                    models.DecimalField(decimal_places=6, default=Decimal("1"), max_digits=12),
                ),
                ("amount", models.DecimalField(decimal_places=2, max_digits=14)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="entry_parts",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "entry",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="parts",
                        to="expenses.ledgerentry",
                    ),
                ),
            ],
            options={
                "ordering": ("place",),
                "constraints": [
                    models.UniqueConstraint(
                        fields=("entry", "place"), name="part_in_each_place_once"
                    ),
                    models.UniqueConstraint(
                        fields=("entry", "person"), name="part_of_each_person_once"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("weight__gte", 0)), name="part_weight_at_least_0"
                    ),
                ],
            },
        ),
    ]
