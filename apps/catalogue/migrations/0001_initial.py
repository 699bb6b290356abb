"""The tables of catalogue. Every change from here on is a migration of its own.

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
            name="Area",
            fields=[
                ("code", models.SlugField(max_length=60, primary_key=True, serialize=False)),
                ("title", models.CharField(max_length=200)),
                ("retired", models.BooleanField(default=False)),
                ("position", models.PositiveSmallIntegerField()),
            ],
            options={
                "ordering": ("position",),
            },
        ),
        migrations.CreateModel(
            name="Caution",
            fields=[
                ("code", models.SlugField(max_length=60, primary_key=True, serialize=False)),
                ("title", models.CharField(max_length=200)),
                ("retired", models.BooleanField(default=False)),
                ("position", models.PositiveSmallIntegerField()),
                ("text", models.TextField()),
                ("defer_to", models.CharField(max_length=300)),
            ],
            options={
                "ordering": ("position",),
            },
        ),
        migrations.CreateModel(
            name="Edition",
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
                ("number", models.PositiveIntegerField(unique=True)),
                ("digest", models.CharField(max_length=64)),
                ("loaded_at", models.DateTimeField(auto_now_add=True)),
                ("base_year", models.PositiveSmallIntegerField()),
                ("currency", models.CharField(max_length=3)),
                ("reference_loa_m", models.FloatField()),
                ("yard_rate_low", models.FloatField()),
                ("yard_rate_likely", models.FloatField()),
                ("yard_rate_high", models.FloatField()),
                ("price_index", models.JSONField(help_text="year to index of prices")),
                (
                    "questions",
                    models.JSONField(
                        default=list,
                        help_text="what to ask a seller besides the checkpoints' questions",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("number__gte", 1), ("reference_loa_m__gt", 0)),
                        name="edition_counts_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("yard_rate_low__gte", 0),
                            ("yard_rate_low__lte", models.F("yard_rate_likely")),
                            ("yard_rate_likely__lte", models.F("yard_rate_high")),
                        ),
                        name="edition_yard_rate_in_order",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Enabling",
            fields=[
                ("code", models.SlugField(max_length=60, primary_key=True, serialize=False)),
                ("title", models.CharField(max_length=200)),
                ("retired", models.BooleanField(default=False)),
                ("hours_low", models.FloatField()),
                ("hours_likely", models.FloatField()),
                ("hours_high", models.FloatField()),
                ("parts_low", models.FloatField()),
                ("parts_likely", models.FloatField()),
                ("parts_high", models.FloatField()),
                (
                    "loa_exponent",
                    models.FloatField(
                        default=0,
                    ),
                ),
                (
                    "confidence",
                    models.CharField(
                        max_length=5,
                    ),
                ),
                ("source", models.CharField(max_length=400)),
            ],
            options={
                "verbose_name_plural": "enabling work",
                "ordering": ("code",),
                "abstract": False,
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("hours_low__gte", 0),
                            ("hours_low__lte", models.F("hours_likely")),
                            ("hours_likely__lte", models.F("hours_high")),
                            ("parts_low__gte", 0),
                            ("parts_low__lte", models.F("parts_likely")),
                            ("parts_likely__lte", models.F("parts_high")),
                        ),
                        name="enabling_points_in_order",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("loa_exponent__gte", 0), ("loa_exponent__lte", 3)),
                        name="enabling_loa_exponent_0_to_3",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("confidence__in", ("firm", "fair", "rough"))),
                        name="enabling_confidence_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Fee",
            fields=[
                ("code", models.SlugField(max_length=60, primary_key=True, serialize=False)),
                ("title", models.CharField(max_length=200)),
                ("retired", models.BooleanField(default=False)),
                ("low", models.FloatField()),
                ("likely", models.FloatField()),
                ("high", models.FloatField()),
                ("per", models.CharField(max_length=5)),
                ("source", models.CharField(max_length=400)),
            ],
            options={
                "ordering": ("code",),
                "abstract": False,
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("low__gte", 0),
                            ("low__lte", models.F("likely")),
                            ("likely__lte", models.F("high")),
                        ),
                        name="fee_points_in_order",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("per__in", ("m", "boat"))), name="fee_basis_known"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="RunningCost",
            fields=[
                ("code", models.SlugField(max_length=60, primary_key=True, serialize=False)),
                ("title", models.CharField(max_length=200)),
                ("retired", models.BooleanField(default=False)),
                ("low", models.FloatField()),
                ("likely", models.FloatField()),
                ("high", models.FloatField()),
                ("per", models.CharField(max_length=5)),
                ("source", models.CharField(max_length=400)),
            ],
            options={
                "ordering": ("code",),
                "abstract": False,
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("low__gte", 0),
                            ("low__lte", models.F("likely")),
                            ("likely__lte", models.F("high")),
                        ),
                        name="runningcost_points_in_order",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("per__in", ("m", "boat", "value"))),
                        name="running_cost_basis_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Scale",
            fields=[
                ("code", models.SlugField(max_length=60, primary_key=True, serialize=False)),
                ("title", models.CharField(max_length=200)),
                ("retired", models.BooleanField(default=False)),
                ("unit", models.CharField(max_length=20)),
                ("rising", models.BooleanField(default=True)),
                ("lowest", models.FloatField()),
                ("highest", models.FloatField()),
                ("breaks", models.JSONField()),
                (
                    "grades",
                    models.JSONField(
                        default=list,
                    ),
                ),
                ("source", models.CharField(max_length=400)),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("lowest__lt", models.F("highest"))),
                        name="scale_range_in_order",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Checkpoint",
            fields=[
                ("code", models.SlugField(max_length=60, primary_key=True, serialize=False)),
            ],
        ),
        migrations.CreateModel(
            name="CheckpointVersion",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveIntegerField()),
                ("digest", models.CharField(max_length=64)),
                ("title", models.CharField(max_length=200)),
                (
                    "own",
                    models.JSONField(
                        blank=True,
                        help_text="the whole entry as its owner wrote it; null for the base",
                        null=True,
                    ),
                ),
                (
                    "position",
                    models.PositiveSmallIntegerField(),
                ),
                ("look", models.TextField()),
                ("tools", models.JSONField(default=list)),
                ("levels", models.JSONField()),
                ("concerns", models.JSONField()),
                ("weight", models.FloatField()),
                ("walk_away_level", models.PositiveSmallIntegerField(null=True)),
                ("prevented_by", models.JSONField(default=list)),
                (
                    "hampered_by",
                    models.JSONField(
                        default=list,
                    ),
                ),
                (
                    "place",
                    models.CharField(
                        default="below",
                        max_length=12,
                    ),
                ),
                (
                    "priority",
                    models.PositiveSmallIntegerField(
                        default=2,
                    ),
                ),
                (
                    "minutes",
                    models.PositiveSmallIntegerField(
                        default=2,
                    ),
                ),
                (
                    "ask",
                    models.CharField(blank=True, max_length=300),
                ),
                (
                    "professional",
                    models.CharField(
                        blank=True,
                        max_length=20,
                    ),
                ),
                (
                    "professional_from",
                    models.PositiveSmallIntegerField(),
                ),
                ("professional_only", models.BooleanField(default=False)),
                (
                    "receipt_clears",
                    models.BooleanField(
                        default=False,
                    ),
                ),
                ("mu", models.FloatField()),
                ("age", models.FloatField()),
                ("care", models.FloatField()),
                ("sd", models.FloatField()),
                (
                    "ages_with",
                    models.CharField(
                        max_length=20,
                    ),
                ),
                ("breakage", models.FloatField(default=0.02)),
                (
                    "applies",
                    models.JSONField(
                        default=dict,
                    ),
                ),
                ("measure_name", models.CharField(blank=True, max_length=60)),
                ("measure_unit", models.CharField(blank=True, max_length=20)),
                ("tags", models.JSONField(default=list)),
                ("source", models.CharField(max_length=400)),
                (
                    "area",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.area",
                    ),
                ),
                ("cautions", models.ManyToManyField(related_name="+", to="catalogue.caution")),
                (
                    "checkpoint",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="versions",
                        to="catalogue.checkpoint",
                    ),
                ),
                (
                    "club",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="groups.club",
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="groups.group",
                    ),
                ),
                (
                    "edition",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.edition",
                    ),
                ),
                (
                    "measure_scale",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.scale",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("club", None), ("group", None)),
                        fields=("checkpoint", "number"),
                        name="checkpoint_version_once",
                    ),
                    models.UniqueConstraint(
                        fields=("club", "checkpoint", "number"),
                        name="clubs_checkpoint_version_once",
                    ),
                    models.UniqueConstraint(
                        fields=("group", "checkpoint", "number"),
                        name="groups_checkpoint_version_once",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("club", None), ("group", None), ("own", None)),
                            models.Q(
                                ("group", None),
                                ("own__isnull", False),
                                models.Q(("club", None), _negated=True),
                            ),
                            models.Q(
                                ("club", None),
                                ("own__isnull", False),
                                models.Q(("group", None), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="checkpoint_version_of_the_base_or_of_one_owner",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("number__gte", 1), ("weight__gte", 0.5), ("weight__lte", 5)
                        ),
                        name="checkpoint_version_weight_half_to_5",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("professional_from__lte", 4),
                            models.Q(
                                ("walk_away_level", None),
                                models.Q(("walk_away_level__gte", 1), ("walk_away_level__lte", 4)),
                                _connector="OR",
                            ),
                        ),
                        name="checkpoint_version_levels_0_to_4",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "place__in",
                                {
                                    "ask": "By telephone, before you go",
                                    "below": "Below",
                                    "deck": "On deck",
                                    "engine": "At the engine",
                                    "ground": "From the ground or the dock",
                                    "hatch": "At the open hatch, before anybody goes below",
                                    "under_way": "Under way",
                                },
                            ),
                            ("priority__in", (1, 2, 3)),
                            ("minutes__gte", 1),
                        ),
                        name="checkpoint_version_where_and_when_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("professional_only", False),
                            models.Q(("professional", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="checkpoint_version_says_which_professional",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("breakage__gte", 0),
                            ("breakage__lte", 0.5),
                            ("mu__gte", -2),
                            ("mu__lte", 4),
                            ("sd__gt", 0),
                        ),
                        name="checkpoint_version_belief_sensible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("ages_with__in", ("boat", "engine", "standing_rigging", "sails"))
                        ),
                        name="checkpoint_version_ages_with_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("measure_scale", None), ("measure_name", ""), ("measure_unit", "")
                            ),
                            models.Q(
                                models.Q(("measure_scale", None), _negated=True),
                                models.Q(("measure_name", ""), _negated=True),
                                models.Q(("measure_unit", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="checkpoint_version_measure_whole",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CatalogueChange",
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
                    "number",
                    models.PositiveIntegerField(
                        help_text="number of the owner's edition that it begins"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("checkpoints", "checkpoints"),
                            ("remedies", "remedies"),
                            ("enabling-work", "enabling work"),
                            ("cautions", "cautions"),
                            ("fees", "fees"),
                            ("running-costs", "running costs"),
                            ("rates", "rates"),
                        ],
                        max_length=15,
                    ),
                ),
                ("code", models.SlugField(max_length=60)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("own", "changed, or added"),
                            ("left_out", "left out"),
                            ("taken_back", "as the underlying layer has it"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "own",
                    models.JSONField(
                        blank=True, help_text="the entry; null for a checkpoint", null=True
                    ),
                ),
                ("base_year", models.PositiveSmallIntegerField()),
                ("currency", models.CharField(max_length=3)),
                ("reference_loa_m", models.FloatField()),
                (
                    "note",
                    models.CharField(
                        blank=True, help_text="the reason and the source", max_length=1000
                    ),
                ),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "club",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="groups.club",
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="groups.group",
                    ),
                ),
                (
                    "checkpoint_version",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.checkpointversion",
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("club", None), models.Q(("group", None), _negated=True)),
                            models.Q(models.Q(("club", None), _negated=True), ("group", None)),
                            _connector="OR",
                        ),
                        name="catalogue_change_of_one_owner",
                    ),
                    models.UniqueConstraint(fields=("club", "number"), name="clubs_edition_once"),
                    models.UniqueConstraint(fields=("group", "number"), name="groups_edition_once"),
                    models.CheckConstraint(
                        condition=models.Q(("number__gte", 1), ("reference_loa_m__gt", 0)),
                        name="catalogue_change_counts_from_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "kind__in",
                                (
                                    "checkpoints",
                                    "remedies",
                                    "enabling-work",
                                    "cautions",
                                    "fees",
                                    "running-costs",
                                    "rates",
                                ),
                            )
                        ),
                        name="catalogue_change_of_a_known_kind",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("kind", "checkpoints"),
                                ("own", None),
                                ("state", "own"),
                                models.Q(("checkpoint_version", None), _negated=True),
                            ),
                            models.Q(
                                ("checkpoint_version", None),
                                ("own__isnull", False),
                                ("state", "own"),
                                models.Q(("kind", "checkpoints"), _negated=True),
                            ),
                            models.Q(
                                ("checkpoint_version", None),
                                ("own", None),
                                ("state__in", ("left_out", "taken_back")),
                            ),
                            _connector="OR",
                        ),
                        name="catalogue_change_says_something_if_own",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Remedy",
            fields=[
                ("code", models.SlugField(max_length=60, primary_key=True, serialize=False)),
            ],
            options={
                "verbose_name_plural": "remedies",
            },
        ),
        migrations.CreateModel(
            name="RemedyVersion",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("hours_low", models.FloatField()),
                ("hours_likely", models.FloatField()),
                ("hours_high", models.FloatField()),
                ("parts_low", models.FloatField()),
                ("parts_likely", models.FloatField()),
                ("parts_high", models.FloatField()),
                (
                    "loa_exponent",
                    models.FloatField(
                        default=0,
                    ),
                ),
                (
                    "confidence",
                    models.CharField(
                        max_length=5,
                    ),
                ),
                ("source", models.CharField(max_length=400)),
                ("number", models.PositiveIntegerField()),
                ("digest", models.CharField(max_length=64)),
                ("title", models.CharField(max_length=200)),
                (
                    "count",
                    models.CharField(blank=True, max_length=60),
                ),
                ("own_work", models.BooleanField()),
                ("own_hours_factor", models.FloatField(default=2.0)),
                (
                    "urgency",
                    models.CharField(max_length=5),
                ),
                (
                    "by_price",
                    models.BooleanField(
                        default=False,
                    ),
                ),
                (
                    "variants",
                    models.JSONField(
                        default=list,
                    ),
                ),
                (
                    "area",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.area",
                    ),
                ),
                (
                    "edition",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.edition",
                    ),
                ),
                ("enabling", models.ManyToManyField(related_name="+", to="catalogue.enabling")),
                (
                    "remedy",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="versions",
                        to="catalogue.remedy",
                    ),
                ),
            ],
            options={
                "abstract": False,
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("hours_low__gte", 0),
                            ("hours_low__lte", models.F("hours_likely")),
                            ("hours_likely__lte", models.F("hours_high")),
                            ("parts_low__gte", 0),
                            ("parts_low__lte", models.F("parts_likely")),
                            ("parts_likely__lte", models.F("parts_high")),
                        ),
                        name="remedyversion_points_in_order",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("loa_exponent__gte", 0), ("loa_exponent__lte", 3)),
                        name="remedyversion_loa_exponent_0_to_3",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("confidence__in", ("firm", "fair", "rough"))),
                        name="remedyversion_confidence_known",
                    ),
                    models.UniqueConstraint(
                        fields=("remedy", "number"), name="remedy_version_once"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("number__gte", 1), ("own_hours_factor__gte", 1)),
                        name="remedy_version_numbers_sensible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("urgency__in", ("now", "later"))),
                        name="remedy_version_urgency_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CheckpointRemedy",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("probability", models.JSONField()),
                ("extent", models.JSONField()),
                (
                    "version",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="remedy_triggers",
                        to="catalogue.checkpointversion",
                    ),
                ),
                (
                    "remedy",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.remedy",
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
                "constraints": [
                    models.UniqueConstraint(
                        fields=("version", "remedy"), name="remedy_triggered_once_per_version"
                    )
                ],
            },
        ),
        migrations.AddField(
            model_name="checkpoint",
            name="current",
            field=models.OneToOneField(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="current_of",
                to="catalogue.checkpointversion",
            ),
        ),
        migrations.AddField(
            model_name="remedy",
            name="current",
            field=models.OneToOneField(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="current_of",
                to="catalogue.remedyversion",
            ),
        ),
    ]
