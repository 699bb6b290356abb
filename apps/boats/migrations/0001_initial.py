"""The tables of boats. Every change from here on is a migration of its own.

What came before was squashed into this one before the first release.
"""

from decimal import Decimal

import django.db.models.deletion
import django.utils.timezone
import uuid_utils.compat
from django.conf import settings
from django.db import migrations, models

import apps.boats.models
import apps.boats.yards.models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("accounts", "__first__"),
        ("groups", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="CandidateList",
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
                ("currency", models.CharField(max_length=3)),
                (
                    "budget",
                    models.DecimalField(
                        decimal_places=2,
                        help_text="the most the group will spend to be sailing",
                        max_digits=14,
                    ),
                ),
                (
                    "required_confidence",
                    models.DecimalField(decimal_places=2, default=Decimal("0.80"), max_digits=3),
                ),
                (
                    "survey_fee_per_m",
                    models.DecimalField(
                        blank=True,
                        decimal_places=2,
                        help_text="per metre of LOA",
                        max_digits=14,
                        null=True,
                    ),
                ),
                (
                    "survey_fee_minimum",
                    models.DecimalField(blank=True, decimal_places=2, max_digits=14, null=True),
                ),
                (
                    "survey_lift_out",
                    models.DecimalField(blank=True, decimal_places=2, max_digits=14, null=True),
                ),
                (
                    "tax_rate",
                    models.DecimalField(decimal_places=4, default=Decimal("0"), max_digits=5),
                ),
                (
                    "transport",
                    models.DecimalField(decimal_places=2, default=Decimal("0"), max_digits=14),
                ),
                (
                    "registration",
                    models.DecimalField(blank=True, decimal_places=2, max_digits=14, null=True),
                ),
                (
                    "reserve_rate",
                    models.DecimalField(
                        decimal_places=3,
                        default=Decimal("0.100"),
                        help_text="part of the price",
                        max_digits=4,
                    ),
                ),
                (
                    "expected_price_share",
                    models.DecimalField(
                        decimal_places=3,
                        default=Decimal("0.950"),
                        help_text="of the asking price",
                        max_digits=4,
                    ),
                ),
                (
                    "expected_price_share_sd",
                    models.DecimalField(decimal_places=3, default=Decimal("0.050"), max_digits=4),
                ),
                (
                    "money_off_chance",
                    models.DecimalField(
                        decimal_places=2,
                        default=Decimal("0.50"),
                        help_text="that a seller takes off what a survey found",
                        max_digits=3,
                    ),
                ),
                (
                    "yard_hourly_rate",
                    models.DecimalField(blank=True, decimal_places=2, max_digits=14, null=True),
                ),
                (
                    "own_remedies",
                    models.JSONField(
                        blank=True, default=list, help_text="codes of remedies done by the group"
                    ),
                ),
                (
                    "own_hours",
                    models.PositiveIntegerField(
                        default=0, help_text="hours that the group has for its own work"
                    ),
                ),
                (
                    "own_hour_value",
                    models.DecimalField(decimal_places=2, default=Decimal("0"), max_digits=14),
                ),
                (
                    "exchange_rates",
                    models.JSONField(
                        blank=True,
                        default=dict,
                        help_text="value of one unit of another currency in this list's, as decimal text",
                    ),
                ),
                (
                    "price_year",
                    models.PositiveSmallIntegerField(default=2024, help_text="year of the prices"),
                ),
                ("travel_km", models.PositiveIntegerField(blank=True, null=True)),
                ("years_kept", models.PositiveSmallIntegerField(default=5)),
                (
                    "discount_rate",
                    models.DecimalField(decimal_places=4, default=Decimal("0.03"), max_digits=5),
                ),
                (
                    "vote_weights",
                    models.CharField(
                        choices=[
                            ("share", "by share of the purchase"),
                            ("head", "one person, one vote"),
                        ],
                        default="share",
                        max_length=5,
                    ),
                ),
                (
                    "opinions_open",
                    models.BooleanField(
                        default=False,
                        help_text="whether the organiser lets everybody see votes, valuations and ballots",
                    ),
                ),
                (
                    "inputs_revision",
                    models.PositiveBigIntegerField(
                        default=1,
                        editable=False,
                        help_text="raised by every change that results depend on",
                    ),
                ),
                (
                    "inputs_changed_at",
                    models.DateTimeField(
                        default=django.utils.timezone.now,
                        editable=False,
                        help_text="when the revision was last raised",
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="lists",
                        to="groups.group",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("budget__gte", 0), ("budget", None), _connector="OR"),
                            models.Q(
                                ("survey_fee_per_m__gte", 0),
                                ("survey_fee_per_m", None),
                                _connector="OR",
                            ),
                            models.Q(
                                ("survey_fee_minimum__gte", 0),
                                ("survey_fee_minimum", None),
                                _connector="OR",
                            ),
                            models.Q(
                                ("survey_lift_out__gte", 0),
                                ("survey_lift_out", None),
                                _connector="OR",
                            ),
                            models.Q(("transport__gte", 0), ("transport", None), _connector="OR"),
                            models.Q(
                                ("registration__gte", 0), ("registration", None), _connector="OR"
                            ),
                            models.Q(
                                ("yard_hourly_rate__gte", 0),
                                ("yard_hourly_rate", None),
                                _connector="OR",
                            ),
                            models.Q(
                                ("own_hour_value__gte", 0),
                                ("own_hour_value", None),
                                _connector="OR",
                            ),
                        ),
                        name="list_money_at_least_0",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("required_confidence__gte", Decimal("0.5")),
                            ("required_confidence__lte", Decimal("0.99")),
                        ),
                        name="list_confidence_between_half_and_99",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("tax_rate__gte", 0), ("tax_rate__lte", 1)),
                        name="list_tax_rate_0_to_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("reserve_rate__gte", 0), ("reserve_rate__lte", 1)),
                        name="list_reserve_rate_0_to_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("expected_price_share__gt", 0),
                            ("expected_price_share__lte", Decimal("1.5")),
                            ("expected_price_share_sd__gte", 0),
                            ("expected_price_share_sd__lte", Decimal("0.5")),
                        ),
                        name="list_expected_price_share_sensible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("money_off_chance__gte", 0), ("money_off_chance__lte", 1)
                        ),
                        name="list_money_off_chance_0_to_1",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Ballot",
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
                ("ranks", models.JSONField(help_text="a list of lists of candidate ids")),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="ballots",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "list",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="ballots",
                        to="boats.candidatelist",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("list", "person"), name="one_ballot_per_list_and_person"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Want",
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
                        choices=[("must", "must"), ("weight", "weight")], max_length=6
                    ),
                ),
                (
                    "weight",
                    models.PositiveSmallIntegerField(default=1, help_text="1 to 5, for weights"),
                ),
                (
                    "subject",
                    models.CharField(
                        choices=[
                            ("particular", "a particular"),
                            ("ratio", "a design ratio"),
                            ("checkpoint", "a checkpoint's expected level"),
                            ("free", "judged by the member for each candidate"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "key",
                    models.CharField(
                        blank=True,
                        help_text="name of the particular, ratio or checkpoint",
                        max_length=60,
                    ),
                ),
                (
                    "test",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("at_most", "at most"),
                            ("at_least", "at least"),
                            ("one_of", "one of"),
                        ],
                        max_length=8,
                    ),
                ),
                (
                    "value",
                    models.JSONField(
                        blank=True, help_text="a number, or a list of words", null=True
                    ),
                ),
                (
                    "text",
                    models.CharField(blank=True, help_text="the want in words", max_length=300),
                ),
                (
                    "list",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="wants",
                        to="boats.candidatelist",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="wants",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("weight__gte", 1), ("weight__lte", 5)),
                        name="want_weight_1_to_5",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("subject", "free"),
                                models.Q(("text", ""), _negated=True),
                                ("key", ""),
                            ),
                            models.Q(
                                models.Q(("subject", "free"), _negated=True),
                                models.Q(("key", ""), _negated=True),
                                models.Q(("test", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="want_says_what_is_wanted",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Yard",
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
                ("latitude", models.FloatField(help_text="degrees (WGS 84), north positive")),
                ("longitude", models.FloatField(help_text="degrees (WGS 84), east positive")),
                (
                    "time_zone",
                    models.CharField(help_text="time zone of the IANA database", max_length=60),
                ),
                (
                    "opening_hours",
                    models.JSONField(
                        blank=True,
                        help_text="by weekday, spans of local time; a day left out is closed",
                        null=True,
                    ),
                ),
                (
                    "closed_on",
                    models.JSONField(
                        blank=True,
                        default=apps.boats.yards.models.no_days,
                        help_text="days, as 2025-12-25",
                    ),
                ),
                ("note", models.TextField(blank=True, max_length=1000)),
                (
                    "club",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="yards",
                        to="groups.club",
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="yards",
                        to="groups.group",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("club", None), models.Q(("group", None), _negated=True)),
                            models.Q(models.Q(("club", None), _negated=True), ("group", None)),
                            _connector="OR",
                        ),
                        name="yard_of_one_club_or_one_group",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("latitude__gte", -90),
                            ("latitude__lte", 90),
                            ("longitude__gte", -180),
                            ("longitude__lte", 180),
                        ),
                        name="yard_place_on_earth",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("name", ""), _negated=True),
                            models.Q(("time_zone", ""), _negated=True),
                        ),
                        name="yard_has_a_name_and_a_time_zone",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Candidate",
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
                ("name", models.CharField(help_text="the group's name for her", max_length=120)),
                ("hull_number", models.CharField(blank=True, max_length=20)),
                ("loa_m", models.FloatField(blank=True, null=True)),
                ("lwl_m", models.FloatField(blank=True, null=True)),
                ("beam_m", models.FloatField(blank=True, null=True)),
                ("draught_m", models.FloatField(blank=True, null=True)),
                ("displacement_kg", models.FloatField(blank=True, null=True)),
                ("ballast_kg", models.FloatField(blank=True, null=True)),
                ("sail_area_m2", models.FloatField(blank=True, null=True)),
                (
                    "hull_material",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("grp", "solid glass fibre"),
                            ("cored_grp", "glass fibre on a core"),
                            ("steel", "steel"),
                            ("aluminium", "aluminium"),
                            ("wood", "wood"),
                            ("ferrocement", "ferrocement"),
                        ],
                        max_length=15,
                    ),
                ),
                (
                    "keel",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("full", "full length"),
                            ("encapsulated", "ballast inside the moulding"),
                            ("bolted_fin", "bolted fin"),
                            ("bolted_bulb", "bolted wing or bulb"),
                            ("lifting", "lifting"),
                            ("twin", "twin"),
                        ],
                        max_length=15,
                    ),
                ),
                (
                    "keel_ballast",
                    models.CharField(
                        blank=True, choices=[("lead", "lead"), ("iron", "iron")], max_length=15
                    ),
                ),
                (
                    "rudder",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("keel_hung", "hung on the keel"),
                            ("skeg", "behind a full skeg"),
                            ("partial_skeg", "behind a partial skeg"),
                            ("spade", "spade"),
                            ("transom", "hung on the transom"),
                        ],
                        max_length=15,
                    ),
                ),
                (
                    "drive",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("deadwood_shaft", "shaft in the deadwood"),
                            ("strut_shaft", "shaft and strut"),
                            ("saildrive", "saildrive"),
                            ("outboard", "outboard"),
                        ],
                        max_length=15,
                    ),
                ),
                (
                    "propeller",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("fixed", "fixed"),
                            ("folding", "folding"),
                            ("feathering", "feathering"),
                        ],
                        max_length=15,
                    ),
                ),
                (
                    "mast",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("keel_stepped", "stepped on the keel"),
                            ("deck_stepped", "stepped on deck"),
                        ],
                        max_length=15,
                    ),
                ),
                (
                    "standing_rigging",
                    models.CharField(
                        blank=True,
                        choices=[("wire", "wire"), ("rod", "rod"), ("fibre", "fibre")],
                        max_length=15,
                    ),
                ),
                (
                    "fuel",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("diesel", "diesel"),
                            ("petrol", "petrol"),
                            ("electric", "electric"),
                        ],
                        max_length=15,
                    ),
                ),
                (
                    "steering",
                    models.CharField(
                        blank=True,
                        choices=[("tiller", "tiller"), ("wheel", "wheel")],
                        max_length=15,
                    ),
                ),
                (
                    "windlass",
                    models.CharField(
                        blank=True,
                        choices=[("none", "none"), ("manual", "by hand"), ("electric", "electric")],
                        max_length=15,
                    ),
                ),
                (
                    "holding_tank",
                    models.CharField(
                        blank=True, choices=[("none", "none"), ("fitted", "fitted")], max_length=15
                    ),
                ),
                (
                    "teak_deck",
                    models.CharField(
                        blank=True, choices=[("none", "none"), ("laid", "laid")], max_length=15
                    ),
                ),
                (
                    "heater",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("none", "none"),
                            ("diesel", "diesel"),
                            ("gas", "gas"),
                            ("solid_fuel", "wood or coal"),
                            ("electric", "electric"),
                        ],
                        max_length=15,
                    ),
                ),
                ("build_year", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("engine_year", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("engine_hours", models.PositiveIntegerField(blank=True, null=True)),
                ("rigging_year", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("sails_year", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "sources",
                    models.JSONField(
                        blank=True,
                        default=dict,
                        help_text="claimed, documented or measured, by field",
                    ),
                ),
                (
                    "asking_amount",
                    models.DecimalField(blank=True, decimal_places=2, max_digits=14, null=True),
                ),
                ("asking_currency", models.CharField(blank=True, max_length=3)),
                (
                    "yard",
                    models.CharField(
                        blank=True, help_text="in the group's own words", max_length=120
                    ),
                ),
                ("latitude", models.FloatField(blank=True, null=True)),
                ("longitude", models.FloatField(blank=True, null=True)),
                (
                    "seller_kind",
                    models.CharField(
                        choices=[
                            ("private", "private owner"),
                            ("broker", "broker"),
                            ("yard", "yard"),
                            ("estate", "estate"),
                            ("unknown", "not known"),
                        ],
                        default="unknown",
                        max_length=10,
                    ),
                ),
                (
                    "links",
                    models.JSONField(
                        blank=True,
                        default=apps.boats.models.no_links,
                        help_text="addresses of listings and papers",
                    ),
                ),
                ("note", models.TextField(blank=True, max_length=4000)),
                (
                    "stage",
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
                        default="listed",
                        max_length=12,
                    ),
                ),
                ("stage_reason", models.TextField(blank=True, max_length=1000)),
                (
                    "added_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="candidates_added",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "list",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="candidates",
                        to="boats.candidatelist",
                    ),
                ),
                (
                    "at_yard",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.RESTRICT,
                        related_name="candidates",
                        to="boats.yard",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("loa_m__gt", 0), ("loa_m", None), _connector="OR"),
                            models.Q(("lwl_m__gt", 0), ("lwl_m", None), _connector="OR"),
                            models.Q(("beam_m__gt", 0), ("beam_m", None), _connector="OR"),
                            models.Q(("draught_m__gt", 0), ("draught_m", None), _connector="OR"),
                            models.Q(
                                ("displacement_kg__gt", 0),
                                ("displacement_kg", None),
                                _connector="OR",
                            ),
                            models.Q(
                                ("sail_area_m2__gt", 0), ("sail_area_m2", None), _connector="OR"
                            ),
                        ),
                        name="candidate_sizes_above_0",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("ballast_kg__gte", 0), ("ballast_kg", None), _connector="OR"),
                            models.Q(
                                ("asking_amount__gte", 0), ("asking_amount", None), _connector="OR"
                            ),
                        ),
                        name="candidate_ballast_and_price_at_least_0",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("lwl_m", None),
                            ("loa_m", None),
                            ("lwl_m__lte", models.F("loa_m")),
                            _connector="OR",
                        ),
                        name="candidate_lwl_at_most_loa",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("ballast_kg", None),
                            ("displacement_kg", None),
                            ("ballast_kg__lt", models.F("displacement_kg")),
                            _connector="OR",
                        ),
                        name="candidate_ballast_below_displacement",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("beam_m", None),
                            ("loa_m", None),
                            ("beam_m__lte", models.F("loa_m")),
                            _connector="OR",
                        ),
                        name="candidate_beam_at_most_loa",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("latitude", None), ("longitude", None)),
                            models.Q(
                                models.Q(("latitude", None), _negated=True),
                                models.Q(("longitude", None), _negated=True),
                                ("latitude__gte", -90),
                                ("latitude__lte", 90),
                                ("longitude__gte", -180),
                                ("longitude__lte", 180),
                            ),
                            _connector="OR",
                        ),
                        name="candidate_place_on_earth",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("asking_amount", None), ("asking_currency", "")),
                            models.Q(
                                models.Q(("asking_amount", None), _negated=True),
                                models.Q(("asking_currency", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="candidate_price_has_a_currency",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("stage", "struck_off"), _negated=True),
                            models.Q(("stage_reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="candidate_struck_off_with_a_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="PriceRecord",
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
                ("amount", models.DecimalField(decimal_places=2, max_digits=14)),
                ("currency", models.CharField(max_length=3)),
                ("asked_on", models.DateField()),
                ("note", models.CharField(blank=True, max_length=300)),
                ("advert_link", models.CharField(blank=True, max_length=500)),
                ("advert_text", models.TextField(blank=True, max_length=20000)),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="prices_noted",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="prices",
                        to="boats.candidate",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("amount__gte", 0), ("amount", None), _connector="OR"),
                        name="price_at_least_0",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="StageChange",
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
                    "from_stage",
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
                    "to_stage",
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
                ("reason", models.TextField(blank=True, max_length=1000)),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="stage_changes",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="stage_changes",
                        to="boats.candidate",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("from_stage", models.F("to_stage")), _negated=True),
                        name="stage_change_changes_the_stage",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("to_stage", "struck_off"), _negated=True),
                            models.Q(("reason", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="striking_off_gives_a_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Judgement",
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
                ("met", models.BooleanField()),
                ("note", models.CharField(blank=True, max_length=300)),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="judgements",
                        to="boats.candidate",
                    ),
                ),
                (
                    "want",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="judgements",
                        to="boats.want",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("want", "candidate"), name="one_judgement_per_want_and_candidate"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Valuation",
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
                    "amount",
                    models.DecimalField(
                        decimal_places=2, help_text="in the list's currency", max_digits=14
                    ),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="valuations",
                        to="boats.candidate",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="valuations",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("candidate", "person"),
                        name="one_valuation_per_candidate_and_person",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("amount__gte", 0), ("amount", None), _connector="OR"),
                        name="valuation_at_least_0",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Gate",
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
                ("code", models.SlugField(max_length=20)),
                ("needed", models.BooleanField(default=True)),
                ("settled", models.BooleanField(default=False)),
                (
                    "checked_by",
                    models.CharField(blank=True, help_text="who checks it", max_length=120),
                ),
                ("due_on", models.DateField(blank=True, null=True)),
                (
                    "document",
                    models.CharField(blank=True, help_text="what shows it", max_length=300),
                ),
                ("note", models.CharField(blank=True, max_length=1000)),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="gates",
                        to="boats.candidate",
                    ),
                ),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="gates_changed",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("candidate", "code"), name="gate_once_for_each_boat"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("settled", False),
                            models.Q(("checked_by", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="settled_gate_says_by_whom",
                    ),
                ],
            },
        ),
    ]
