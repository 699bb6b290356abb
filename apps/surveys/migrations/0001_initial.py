"""The tables of surveys."""

from decimal import Decimal

import django.db.models.deletion
import uuid_utils.compat
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("boats", "0001_initial"),
        ("catalogue", "0001_initial"),
        ("purchase", "0001_initial"),
        ("viewings", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Survey",
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
                            ("hull", "the whole boat, by a surveyor"),
                            ("rig", "the rig, by a rigger"),
                            ("engine", "the engine, by an engine mechanic"),
                            ("sails", "the sails, by a sailmaker"),
                            ("electrics", "the electrics, by an electrician"),
                            ("gas", "the gas, by a gas fitter"),
                        ],
                        max_length=9,
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[("commissioned", "commissioned"), ("called_off", "called off")],
                        default="commissioned",
                        max_length=12,
                    ),
                ),
                (
                    "surveyor",
                    models.CharField(
                        help_text="who makes it, as the group calls them", max_length=120
                    ),
                ),
                (
                    "scope",
                    models.CharField(
                        blank=True, help_text="what is agreed to be surveyed", max_length=1000
                    ),
                ),
                (
                    "lift_out",
                    models.BooleanField(default=False, help_text="she is lifted out for it"),
                ),
                ("planned_on", models.DateField(blank=True, null=True)),
                (
                    "fee_amount",
                    models.DecimalField(
                        blank=True,
                        decimal_places=2,
                        help_text="as agreed",
                        max_digits=14,
                        null=True,
                    ),
                ),
                ("fee_currency", models.CharField(blank=True, max_length=3)),
                ("note", models.CharField(blank=True, max_length=1000)),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="surveys",
                        to="boats.candidate",
                    ),
                ),
                (
                    "commissioned_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="surveys_commissioned",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "payer",
                    models.ForeignKey(
                        blank=True,
                        help_text="who of the group pays it first",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="surveys_to_pay",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("fee_amount__gte", 0), ("fee_amount", None), _connector="OR"
                        ),
                        name="survey_fee_at_least_0",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("fee_amount", None), ("fee_currency", "")),
                            models.Q(
                                ("fee_amount__isnull", False),
                                models.Q(("fee_currency", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="survey_fee_has_a_currency",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="SurveyReport",
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
                    "number",
                    models.PositiveSmallIntegerField(help_text="the last one of a survey counts"),
                ),
                (
                    "document",
                    models.CharField(
                        help_text="the report: its number, date, file", max_length=300
                    ),
                ),
                ("looked_at", models.DateTimeField(help_text="when the professional looked")),
                ("summary", models.TextField(blank=True, max_length=4000)),
                (
                    "entered_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="survey_reports",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "submission",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.RESTRICT,
                        related_name="survey_report",
                        to="viewings.submission",
                    ),
                ),
                (
                    "survey",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="reports",
                        to="surveys.survey",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("survey", "number"), name="survey_report_number_once"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SurveyFinding",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("place", models.PositiveSmallIntegerField(help_text="in the report, from 0")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("looked", "looked"),
                            ("could_not_look", "could not look"),
                            ("does_not_apply", "does not apply"),
                        ],
                        default="looked",
                        max_length=15,
                    ),
                ),
                (
                    "level",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        choices=[
                            (0, "sound"),
                            (1, "serviceable"),
                            (2, "tired"),
                            (3, "defective"),
                            (4, "failed"),
                        ],
                        null=True,
                    ),
                ),
                (
                    "reason",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("afloat", "the boat is afloat"),
                            ("ashore", "the boat is ashore"),
                            ("covered", "a tight cover is on"),
                            ("walk_under_cover", "she stands under a cover to walk under"),
                            ("mast_down", "the mast is not stepped"),
                            ("mast_elsewhere", "the mast is somewhere else"),
                            ("engine_winterised", "the engine is laid up"),
                            ("batteries_off", "the batteries are disconnected"),
                            ("wet", "it is wet"),
                            ("frost", "there is frost or snow"),
                            ("poor_light", "the light is poor"),
                            ("seller_absent", "the seller is not there"),
                            ("not_under_way", "she is not under way"),
                            ("light_wind", "the wind is light"),
                            ("no_sail", "no sail is set"),
                            (
                                "no_full_throttle",
                                "the engine does not run at full throttle",
                            ),
                            (
                                "short_run",
                                "the engine runs at full throttle only briefly",
                            ),
                            ("rough_sea", "the sea is rough"),
                            ("locked", "it is locked"),
                            ("fresh_paint", "fresh paint hides it"),
                            ("no_access", "it cannot be reached safely"),
                            ("no_leave", "the seller did not allow it"),
                            ("growth", "weed or shell covers it"),
                            ("aired", "the cabin was aired before"),
                            ("stowed_over", "gear is stowed over it"),
                            ("no_time", "there was no time for it"),
                            ("no_tool", "the tool for it was not there"),
                            ("other", "something else; the note says what"),
                        ],
                        max_length=30,
                    ),
                ),
                (
                    "measured_value",
                    models.FloatField(blank=True, help_text="as read off, in its unit", null=True),
                ),
                ("measured_unit", models.CharField(blank=True, max_length=20)),
                ("words", models.TextField(blank=True, max_length=4000)),
                (
                    "urgency",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("before_use", "before she is used"),
                            ("next_season", "before the next season"),
                            ("when_convenient", "when convenient"),
                        ],
                        max_length=15,
                    ),
                ),
                (
                    "low",
                    models.DecimalField(blank=True, decimal_places=2, max_digits=14, null=True),
                ),
                (
                    "high",
                    models.DecimalField(blank=True, decimal_places=2, max_digits=14, null=True),
                ),
                ("currency", models.CharField(blank=True, max_length=3)),
                (
                    "checkpoint",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.checkpoint",
                    ),
                ),
                (
                    "quote",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.RESTRICT,
                        related_name="survey_finding",
                        to="purchase.quote",
                    ),
                ),
                (
                    "remedy",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.remedy",
                    ),
                ),
                (
                    "report",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="findings",
                        to="surveys.surveyreport",
                    ),
                ),
            ],
            options={
                "ordering": ("place",),
                "constraints": [
                    models.UniqueConstraint(
                        fields=("report", "place"), name="survey_finding_place_once"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("measured_unit", ""), ("measured_value", None)),
                            models.Q(
                                models.Q(("checkpoint", None), _negated=True),
                                models.Q(("measured_value", None), _negated=True),
                                models.Q(("measured_unit", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="survey_finding_measured_at_a_checkpoint_with_a_unit",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("checkpoint", None), ("words", ""), _negated=True),
                        name="survey_finding_says_something",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("currency", ""), ("high", None), ("low", None)),
                            models.Q(
                                ("high__gte", models.F("low")),
                                ("low__gt", Decimal("0")),
                                models.Q(("currency", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="survey_finding_cost_is_a_range",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="SurveyVote",
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
                    "reason",
                    models.CharField(blank=True, help_text="why her, why now", max_length=1000),
                ),
                (
                    "counted_by",
                    models.CharField(
                        choices=[
                            ("shares", "by shares of the purchase"),
                            ("heads", "one vote each"),
                        ],
                        max_length=6,
                    ),
                ),
                (
                    "quorum",
                    models.DecimalField(
                        decimal_places=6,
                        help_text="the part of the shares or heads that must vote",
                        max_digits=7,
                    ),
                ),
                (
                    "closes_on",
                    models.DateField(
                        blank=True, help_text="votes are asked for until then", null=True
                    ),
                ),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                (
                    "outcome",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("accepted", "accepted"),
                            ("rejected", "rejected"),
                            ("no_quorum", "too few voted"),
                            ("called_off", "called off"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "in_favour",
                    models.DecimalField(blank=True, decimal_places=6, max_digits=7, null=True),
                ),
                (
                    "against",
                    models.DecimalField(blank=True, decimal_places=6, max_digits=7, null=True),
                ),
                (
                    "abstained",
                    models.DecimalField(blank=True, decimal_places=6, max_digits=7, null=True),
                ),
                (
                    "note",
                    models.CharField(blank=True, help_text="said at the closing", max_length=1000),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="survey_votes",
                        to="boats.candidate",
                    ),
                ),
                (
                    "closed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="survey_votes_closed",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "opened_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="survey_votes_opened",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("closed_at", None)),
                        fields=("candidate",),
                        name="one_open_survey_vote",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("quorum__gt", 0), ("quorum__lte", 1)),
                        name="survey_vote_quorum_is_a_part",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("closed_at", None), ("closed_by", None), ("outcome", "")),
                            models.Q(
                                ("closed_at__isnull", False),
                                ("closed_by__isnull", False),
                                models.Q(("outcome", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="closed_survey_vote_has_an_outcome",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="SurveyBallot",
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
                        choices=[("yes", "yes"), ("no", "no"), ("abstain", "abstains")],
                        max_length=7,
                    ),
                ),
                ("note", models.CharField(blank=True, max_length=1000)),
                (
                    "weight",
                    models.DecimalField(blank=True, decimal_places=6, max_digits=7, null=True),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="survey_ballots",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "vote",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="ballots",
                        to="surveys.surveyvote",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("vote", "person"), name="one_survey_ballot_each"
                    )
                ],
            },
        ),
        migrations.AddField(
            model_name="survey",
            name="vote",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.RESTRICT,
                related_name="surveys",
                to="surveys.surveyvote",
            ),
        ),
    ]
