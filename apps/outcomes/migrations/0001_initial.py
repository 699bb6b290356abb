"""The tables of outcomes. Every change from here on is a migration of its own.

What came before was squashed into this one before the first release.
"""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("groups", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="ClubOutcomes",
            fields=[
                (
                    "club",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="club_outcomes",
                        serialize=False,
                        to="groups.club",
                    ),
                ),
                (
                    "digest",
                    models.CharField(
                        blank=True,
                        help_text="of the inputs of the last computation; empty: compute again",
                        max_length=64,
                    ),
                ),
                ("edition", models.PositiveIntegerField(help_text="of the catalogue's base")),
                (
                    "club_edition",
                    models.PositiveIntegerField(
                        default=0, help_text="of the club's own catalogue; 0: none"
                    ),
                ),
                ("method", models.CharField(max_length=40)),
                ("computed_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="GroupOutcomes",
            fields=[
                (
                    "group",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="club_outcomes",
                        serialize=False,
                        to="groups.group",
                    ),
                ),
                ("edition", models.PositiveIntegerField(help_text="of the catalogue's base")),
                (
                    "club_edition",
                    models.PositiveIntegerField(
                        default=0, help_text="of the club's own catalogue; 0: none"
                    ),
                ),
                ("method", models.CharField(max_length=40)),
                ("computed_at", models.DateTimeField()),
                (
                    "groups",
                    models.PositiveIntegerField(help_text="how many others are behind it, at most"),
                ),
                ("boats", models.PositiveIntegerField(help_text="how many of theirs, at most")),
                (
                    "shifts",
                    models.JSONField(help_text="of levels, by checkpoint and kind of boats"),
                ),
                ("factors", models.JSONField(help_text="on prices, by remedy: median and spread")),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("groups__gte", 3)),
                        name="group_outcomes_from_three_others_at_least",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="OutcomesTable",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("found", "how often surveys found it defective or worse"),
                            ("caught", "where it was, how often a quick look had reported it"),
                            (
                                "cleared",
                                "where it was not, how often no quick look had reported it",
                            ),
                            ("difference", "quick looks less the survey, in levels"),
                            ("cost", "what was paid over the estimate"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "subject",
                    models.SlugField(
                        help_text="code of the checkpoint, or the remedy", max_length=60
                    ),
                ),
                ("area", models.SlugField(help_text="of the boat", max_length=60)),
                ("basis", models.JSONField(default=dict)),
                ("disclosed_at", models.DateTimeField(help_text="when it was last published anew")),
                (
                    "club",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="outcomes_tables",
                        to="groups.club",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("club", "kind", "subject"), name="one_outcomes_table_of_a_kind"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="OutcomesFigure",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "by",
                    models.CharField(
                        blank=True, help_text="by what boats are divided", max_length=15
                    ),
                ),
                (
                    "value",
                    models.CharField(
                        blank=True, help_text="which of them these are", max_length=15
                    ),
                ),
                ("groups", models.PositiveIntegerField(help_text="how many are behind it")),
                ("boats", models.PositiveIntegerField(help_text="how many of theirs")),
                ("figure", models.FloatField()),
                ("low", models.FloatField(help_text="end of the 80% interval")),
                ("high", models.FloatField()),
                (
                    "expected",
                    models.FloatField(help_text="by the catalogue, if it expects any", null=True),
                ),
                (
                    "table",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="figures",
                        to="outcomes.outcomestable",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("table", "by", "value"),
                        name="one_outcomes_figure_of_a_kind_of_boats",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("groups__gte", 3), ("boats__gte", 3)),
                        name="outcomes_figure_from_three_groups_at_least",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("low__lte", models.F("figure")), ("figure__lte", models.F("high"))
                        ),
                        name="outcomes_figure_within_its_interval",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("by", ""), ("value", "")),
                            models.Q(
                                models.Q(("by", ""), _negated=True),
                                models.Q(("value", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="outcomes_figure_of_all_or_of_a_kind",
                    ),
                ],
            },
        ),
    ]
