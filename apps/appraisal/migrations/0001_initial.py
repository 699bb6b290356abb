"""The tables of appraisal. Every change from here on is a migration of its own.

What came before was squashed into this one before the first release.
"""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("boats", "0001_initial"),
        ("groups", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="ListAppraisal",
            fields=[
                (
                    "list",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="appraisal",
                        serialize=False,
                        to="boats.candidatelist",
                    ),
                ),
                (
                    "revision",
                    models.PositiveBigIntegerField(
                        default=0,
                        help_text="revision of the inputs of these results; 0: none yet",
                    ),
                ),
                (
                    "edition",
                    models.PositiveIntegerField(
                        default=0,
                        help_text="edition of the catalogue's base in these results",
                    ),
                ),
                (
                    "club_edition",
                    models.PositiveIntegerField(
                        default=0, help_text="edition of the club's overlay; 0: none"
                    ),
                ),
                (
                    "group_edition",
                    models.PositiveIntegerField(
                        default=0, help_text="edition of the group's overlay; 0: none"
                    ),
                ),
                (
                    "method",
                    models.CharField(blank=True, help_text="the model's version", max_length=40),
                ),
                ("computed_at", models.DateTimeField(null=True)),
                ("seconds", models.FloatField(help_text="how long the work took", null=True)),
                ("standing", models.JSONField(default=dict)),
                ("looks_revision", models.PositiveBigIntegerField(default=0)),
                ("looks_edition", models.PositiveIntegerField(default=0, help_text="as `edition`")),
                (
                    "looks_method",
                    models.CharField(blank=True, help_text="as `method`", max_length=40),
                ),
                ("looks_computed_at", models.DateTimeField(null=True)),
                ("next_looks", models.JSONField(default=dict)),
                ("raters", models.JSONField(default=dict)),
                (
                    "cost_looks",
                    models.JSONField(
                        default=dict,
                        help_text="by how much looks would move costs, from no opinions",
                    ),
                ),
                ("failed_revision", models.PositiveBigIntegerField(default=0)),
                ("leased_by", models.UUIDField(blank=True, null=True)),
                ("leased_until", models.DateTimeField(blank=True, null=True)),
                ("attempts", models.PositiveSmallIntegerField(default=0)),
                ("last_error", models.TextField(blank=True)),
                ("failing_since", models.DateTimeField(blank=True, null=True)),
                ("next_attempt_at", models.DateTimeField(blank=True, null=True)),
            ],
        ),
        migrations.CreateModel(
            name="GroupPool",
            fields=[
                (
                    "group",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="pool",
                        serialize=False,
                        to="groups.group",
                    ),
                ),
                (
                    "digest",
                    models.CharField(help_text="digest of the inputs", max_length=64),
                ),
                (
                    "sources",
                    models.CharField(help_text="digest of the contributing groups", max_length=64),
                ),
                (
                    "edition",
                    models.PositiveIntegerField(help_text="edition of the catalogue's base"),
                ),
                (
                    "club_edition",
                    models.PositiveIntegerField(
                        default=0, help_text="edition of the club's overlay; 0: none"
                    ),
                ),
                ("method", models.CharField(max_length=40)),
                ("computed_at", models.DateTimeField()),
                (
                    "groups",
                    models.PositiveIntegerField(help_text="how many other groups contributed"),
                ),
                (
                    "boats",
                    models.PositiveIntegerField(help_text="how many of their boats contributed"),
                ),
                ("converged", models.BooleanField()),
                ("care_prior", models.JSONField(help_text="prior of the three care classes")),
                (
                    "mu",
                    models.JSONField(
                        help_text="mean by checkpoint, where it differs from the catalogue's"
                    ),
                ),
                (
                    "graders",
                    models.JSONField(
                        help_text="lean and spread by person, for this group's people only"
                    ),
                ),
                (
                    "sellers",
                    models.JSONField(
                        null=True,
                        blank=True,
                        help_text="what is known of sellers' lean and spread, if anything is",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("groups__gte", 3)),
                        name="pool_from_three_groups_at_least",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="CandidateAppraisal",
            fields=[
                (
                    "candidate",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="appraisal",
                        serialize=False,
                        to="boats.candidate",
                    ),
                ),
                ("revision", models.PositiveBigIntegerField()),
                ("rollup", models.JSONField(default=dict)),
                ("consensus", models.JSONField(default=dict)),
                ("reasons", models.JSONField(default=dict)),
                ("explained_revision", models.PositiveBigIntegerField(default=0)),
                ("explanation", models.JSONField(default=dict)),
                (
                    "list_appraisal",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="candidates",
                        to="appraisal.listappraisal",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="NarrowerResults",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "of",
                    models.CharField(
                        choices=[
                            ("board", "standing, and reasons"),
                            ("looks", "next looks, and explanations"),
                        ],
                        max_length=5,
                    ),
                ),
                (
                    "rests_on",
                    models.JSONField(help_text="boats whose valuations it uses; ballots or not"),
                ),
                ("results", models.JSONField()),
                ("boats", models.JSONField()),
                (
                    "list_appraisal",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="narrower",
                        to="appraisal.listappraisal",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ReadyAnswer",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "of",
                    models.CharField(
                        choices=[
                            ("board", "standing, and reasons"),
                            ("looks", "next looks, and explanations"),
                        ],
                        max_length=5,
                    ),
                ),
                (
                    "rests_on",
                    models.JSONField(help_text="boats whose valuations it uses; ballots or not"),
                ),
                ("computed_at", models.DateTimeField(help_text="as of the list's results")),
                (
                    "sources",
                    models.CharField(
                        help_text="digest of the code that composed it", max_length=64
                    ),
                ),
                (
                    "facts",
                    models.JSONField(
                        default=dict, help_text="what the rest of the answer needs of it"
                    ),
                ),
                ("body", models.TextField()),
                (
                    "list_appraisal",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="answers",
                        to="appraisal.listappraisal",
                    ),
                ),
            ],
        ),
    ]
