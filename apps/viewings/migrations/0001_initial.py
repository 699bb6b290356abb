"""The tables of viewings. Every change from here on is a migration of its own.

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
        ("groups", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="OrphanFile",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.CharField(max_length=200, unique=True)),
                ("found_at", models.DateTimeField(auto_now_add=True)),
            ],
        ),
        migrations.CreateModel(
            name="Viewing",
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
                    "where",
                    models.CharField(
                        blank=True,
                        choices=[("ashore", "ashore"), ("afloat", "afloat")],
                        max_length=10,
                    ),
                ),
                (
                    "covered",
                    models.BooleanField(blank=True, help_text="a tight cover is on", null=True),
                ),
                ("walk_under_cover", models.BooleanField(blank=True, null=True)),
                (
                    "mast_state",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("stepped", "stepped"),
                            ("on_deck", "down, on deck"),
                            ("elsewhere", "down, elsewhere"),
                        ],
                        max_length=10,
                    ),
                ),
                ("engine_winterised", models.BooleanField(blank=True, null=True)),
                ("batteries_connected", models.BooleanField(blank=True, null=True)),
                ("seller_present", models.BooleanField(blank=True, null=True)),
                (
                    "weather",
                    models.CharField(
                        blank=True,
                        choices=[("dry", "dry"), ("wet", "wet"), ("frost", "frost or snow")],
                        max_length=10,
                    ),
                ),
                (
                    "light",
                    models.CharField(
                        blank=True, choices=[("good", "good"), ("poor", "poor")], max_length=10
                    ),
                ),
                (
                    "wind",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        choices=[
                            (0, "calm"),
                            (1, "light air"),
                            (2, "light breeze"),
                            (3, "gentle breeze"),
                            (4, "moderate breeze"),
                            (5, "fresh breeze"),
                            (6, "strong breeze"),
                            (7, "near gale"),
                            (8, "gale"),
                            (9, "strong gale"),
                            (10, "storm"),
                            (11, "violent storm"),
                            (12, "hurricane"),
                        ],
                        help_text="Beaufort force",
                        null=True,
                    ),
                ),
                (
                    "sea_state",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        choices=[
                            (0, "calm, glassy"),
                            (1, "calm, rippled"),
                            (2, "smooth"),
                            (3, "slight"),
                            (4, "moderate"),
                            (5, "rough"),
                            (6, "very rough"),
                            (7, "high"),
                            (8, "very high"),
                            (9, "phenomenal"),
                        ],
                        help_text="code of the WMO",
                        null=True,
                    ),
                ),
                (
                    "sails_set",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("none", "none"),
                            ("reduced", "reefed or furled in part"),
                            ("full", "all of them, full"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "full_throttle",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("none", "not at all"),
                            ("brief", "less than five minutes"),
                            ("long", "five minutes or more"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "load",
                    models.CharField(
                        blank=True,
                        choices=[("light", "nearly empty"), ("laden", "tanks and lockers full")],
                        max_length=10,
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[("visit", "visit"), ("sea_trial", "sea trial")],
                        default="visit",
                        max_length=10,
                    ),
                ),
                ("starts_at", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("planned", "planned"),
                            ("made", "made"),
                            ("called_off", "called off"),
                        ],
                        default="planned",
                        max_length=10,
                    ),
                ),
                ("note", models.TextField(blank=True, max_length=4000)),
                (
                    "added_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="viewings_added",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="viewings",
                        to="boats.candidate",
                    ),
                ),
                (
                    "people",
                    models.ManyToManyField(
                        blank=True,
                        help_text="who goes",
                        related_name="viewings",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("kind", "visit"),
                            models.Q(("kind", "sea_trial"), ("where", "afloat")),
                            _connector="OR",
                        ),
                        name="sea_trial_is_afloat",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("kind", "sea_trial"),
                            models.Q(
                                ("full_throttle", ""),
                                ("load", ""),
                                ("sails_set", ""),
                                ("sea_state", None),
                                ("wind", None),
                            ),
                            _connector="OR",
                        ),
                        name="only_a_sea_trial_is_under_way",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Submission",
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
                    "state",
                    models.CharField(
                        choices=[("draft", "draft"), ("submitted", "submitted")],
                        default="draft",
                        max_length=10,
                    ),
                ),
                ("submitted_at", models.DateTimeField(blank=True, null=True)),
                (
                    "capacity",
                    models.CharField(
                        choices=[
                            ("member", "a member's own look"),
                            ("professional", "entered from a professional's report"),
                        ],
                        default="member",
                        max_length=12,
                    ),
                ),
                (
                    "profession",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("surveyor", "surveyor"),
                            ("rigger", "rigger"),
                            ("engine mechanic", "engine mechanic"),
                            ("electrician", "electrician"),
                            ("gas fitter", "gas fitter"),
                            ("sailmaker", "sailmaker"),
                            ("yard", "yard"),
                            ("lawyer", "lawyer"),
                        ],
                        max_length=20,
                    ),
                ),
                (
                    "vote",
                    models.CharField(
                        blank=True,
                        choices=[("keep", "keep"), ("query", "query"), ("strike", "strike off")],
                        max_length=6,
                    ),
                ),
                (
                    "minutes",
                    models.PositiveSmallIntegerField(blank=True, help_text="time spent", null=True),
                ),
                ("note", models.TextField(blank=True, max_length=4000)),
                (
                    "observed_at",
                    models.DateTimeField(
                        blank=True,
                        help_text="by the sender's clock, as far as that can be right",
                        null=True,
                    ),
                ),
                (
                    "observed_stated",
                    models.DateTimeField(
                        blank=True,
                        help_text="what the sender's clock said, where that cannot be right",
                        null=True,
                    ),
                ),
                (
                    "made_from",
                    models.CharField(
                        editable=False,
                        help_text="digest of the request that made it, to recognise a repeat",
                        max_length=64,
                    ),
                ),
                (
                    "author",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="submissions",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "supersedes",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="superseded_by",
                        to="viewings.submission",
                    ),
                ),
                (
                    "viewing",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="submissions",
                        to="viewings.viewing",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "draft"), ("submitted_at", None)),
                            models.Q(
                                ("state", "submitted"),
                                models.Q(("submitted_at", None), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="submission_submitted_says_when",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("capacity", "member"), ("profession", "")),
                            models.Q(
                                ("capacity", "professional"),
                                models.Q(("profession", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="professional_submission_says_which",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("supersedes", None),
                            models.Q(("supersedes", models.F("id")), _negated=True),
                            _connector="OR",
                        ),
                        name="submission_supersedes_another_one",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("observed_stated", None),
                            models.Q(("observed_at", None), _negated=True),
                            _connector="OR",
                        ),
                        name="wrong_clock_beside_a_better_time",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Sound",
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
                ("note", models.CharField(blank=True, max_length=300)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("processing", "being read"),
                            ("ready", "ready"),
                            ("rejected", "rejected"),
                        ],
                        default="processing",
                        max_length=10,
                    ),
                ),
                (
                    "fault",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("damaged", "The file is damaged."),
                            ("too_many_pixels", "The picture has too many pixels."),
                            ("too_long", "The recording is too long."),
                            ("too_short", "The recording is too short."),
                            (
                                "wrong_rate",
                                "The recording has a sample rate that cannot be measured.",
                            ),
                            ("wrong_channels", "The recording has more than two channels."),
                            ("gave_up", "The file could not be read after several tries."),
                        ],
                        max_length=20,
                    ),
                ),
                (
                    "made_from",
                    models.CharField(
                        editable=False,
                        help_text="digest of the request that made it, to recognise a repeat",
                        max_length=64,
                    ),
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
                    "purpose",
                    models.CharField(
                        choices=[
                            ("check", "of the place in question"),
                            ("reference", "of a place on the same boat that is known to be sound"),
                        ],
                        default="check",
                        max_length=10,
                    ),
                ),
                ("duration_s", models.FloatField(null=True)),
                ("rate_hz", models.PositiveIntegerField(null=True)),
                ("taps", models.JSONField(default=list)),
                (
                    "added_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "checkpoint",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.checkpoint",
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="groups.group",
                    ),
                ),
                (
                    "submission",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="sounds",
                        to="viewings.submission",
                    ),
                ),
                (
                    "viewing",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="%(class)ss",
                        to="viewings.viewing",
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
                        condition=models.Q(("state", "processing")),
                        fields=["leased_until"],
                        name="sound_processing",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "rejected"), models.Q(("fault", ""), _negated=True)),
                            models.Q(models.Q(("state", "rejected"), _negated=True), ("fault", "")),
                            _connector="OR",
                        ),
                        name="sound_says_why_it_was_rejected",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "ready"), _negated=True),
                            models.Q(("duration_s__gt", 0), ("rate_hz__gt", 0)),
                            _connector="OR",
                        ),
                        name="sound_ready_has_a_length",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Photo",
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
                ("note", models.CharField(blank=True, max_length=300)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("processing", "being read"),
                            ("ready", "ready"),
                            ("rejected", "rejected"),
                        ],
                        default="processing",
                        max_length=10,
                    ),
                ),
                (
                    "fault",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("damaged", "The file is damaged."),
                            ("too_many_pixels", "The picture has too many pixels."),
                            ("too_long", "The recording is too long."),
                            ("too_short", "The recording is too short."),
                            (
                                "wrong_rate",
                                "The recording has a sample rate that cannot be measured.",
                            ),
                            ("wrong_channels", "The recording has more than two channels."),
                            ("gave_up", "The file could not be read after several tries."),
                        ],
                        max_length=20,
                    ),
                ),
                (
                    "made_from",
                    models.CharField(
                        editable=False,
                        help_text="digest of the request that made it, to recognise a repeat",
                        max_length=64,
                    ),
                ),
                (
                    "storage_failing_since",
                    models.DateTimeField(
                        editable=False,
                        help_text="the storage cannot be reached or is full since then; it is tried again",
                        null=True,
                    ),
                ),
                ("width", models.PositiveIntegerField(help_text="pixels", null=True)),
                ("height", models.PositiveIntegerField(help_text="pixels", null=True)),
                (
                    "taken_at",
                    models.DateTimeField(
                        help_text="by the camera's clock, if it says where", null=True
                    ),
                ),
                (
                    "added_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
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
                    "group",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="groups.group",
                    ),
                ),
                (
                    "submission",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="photos",
                        to="viewings.submission",
                    ),
                ),
                (
                    "viewing",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="%(class)ss",
                        to="viewings.viewing",
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
                        condition=models.Q(("state", "processing")),
                        fields=["leased_until"],
                        name="photo_processing",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "rejected"), models.Q(("fault", ""), _negated=True)),
                            models.Q(models.Q(("state", "rejected"), _negated=True), ("fault", "")),
                            _connector="OR",
                        ),
                        name="photo_says_why_it_was_rejected",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("submission", None), _negated=True),
                            ("checkpoint", None),
                            _connector="OR",
                        ),
                        name="photo_of_a_finding_is_in_a_submission",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "ready"), _negated=True),
                            models.Q(("width__gt", 0), ("height__gt", 0)),
                            _connector="OR",
                        ),
                        name="photo_ready_has_a_size",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Clearance",
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
                    "basis",
                    models.CharField(
                        choices=[
                            ("professional", "a professional's finding"),
                            ("repair", "a documented repair"),
                            ("receipt", "a receipt for what was renewed or serviced"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "level",
                    models.PositiveSmallIntegerField(
                        choices=[(0, "sound"), (1, "serviceable")],
                        help_text="in which state it is now: sound or serviceable",
                    ),
                ),
                (
                    "profession",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("surveyor", "surveyor"),
                            ("rigger", "rigger"),
                            ("engine mechanic", "engine mechanic"),
                            ("electrician", "electrician"),
                            ("gas fitter", "gas fitter"),
                            ("sailmaker", "sailmaker"),
                            ("yard", "yard"),
                            ("lawyer", "lawyer"),
                        ],
                        max_length=20,
                    ),
                ),
                (
                    "document",
                    models.CharField(help_text="the report or bill that says so", max_length=300),
                ),
                ("dated_on", models.DateField()),
                ("note", models.TextField(blank=True, max_length=4000)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                (
                    "added_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="clearances_added",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="clearances",
                        to="boats.candidate",
                    ),
                ),
                (
                    "checkpoint",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.checkpoint",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("level__gte", 0), ("level__lte", 1)),
                        name="clearance_says_it_is_in_order",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("basis", "professional"),
                                models.Q(("profession", ""), _negated=True),
                            ),
                            models.Q(("basis__in", ["repair", "receipt"]), ("profession", "")),
                            _connector="OR",
                        ),
                        name="professional_clearance_says_which",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="FollowUp",
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
                ("question", models.CharField(max_length=500)),
                (
                    "asked_of",
                    models.CharField(
                        choices=[
                            ("seller", "the seller"),
                            ("yard", "a yard"),
                            ("broker", "the broker"),
                            ("surveyor", "a surveyor"),
                            ("rigger", "a rigger"),
                            ("sailmaker", "a sailmaker"),
                            ("engine_mechanic", "an engine mechanic"),
                            ("electrician", "an electrician"),
                            ("gas_fitter", "a gas fitter"),
                            ("insurer", "an insurer"),
                            ("lawyer", "a lawyer"),
                            ("co_buyer", "a co-buyer"),
                            ("other", "somebody else"),
                        ],
                        max_length=20,
                    ),
                ),
                ("due_on", models.DateField(blank=True, null=True)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("open", "open"),
                            ("answered", "answered"),
                            ("dropped", "dropped"),
                        ],
                        default="open",
                        max_length=10,
                    ),
                ),
                ("answer", models.TextField(blank=True, max_length=4000)),
                (
                    "changed",
                    models.TextField(
                        blank=True, help_text="what the answer changed", max_length=1000
                    ),
                ),
                (
                    "added_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="follow_ups_added",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "assignee",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="follow_ups",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="follow_ups",
                        to="boats.candidate",
                    ),
                ),
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
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "answered"), _negated=True),
                            models.Q(("answer", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="answered_follow_up_has_an_answer",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Finding",
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
                            ("looked", "looked"),
                            ("could_not_look", "could not look"),
                            ("does_not_apply", "does not apply"),
                        ],
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
                        help_text="why it could not be looked at",
                        max_length=30,
                    ),
                ),
                (
                    "sureness",
                    models.CharField(
                        choices=[("sure", "sure"), ("fairly", "fairly sure"), ("guess", "a guess")],
                        default="fairly",
                        max_length=6,
                    ),
                ),
                (
                    "measured_value",
                    models.FloatField(blank=True, help_text="as read off, in its unit", null=True),
                ),
                ("measured_unit", models.CharField(blank=True, max_length=20)),
                ("note", models.TextField(blank=True, max_length=4000)),
                ("tags", models.JSONField(default=list)),
                (
                    "checkpoint",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="catalogue.checkpoint",
                    ),
                ),
                (
                    "checkpoint_version",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="findings",
                        to="catalogue.checkpointversion",
                    ),
                ),
                (
                    "submission",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="findings",
                        to="viewings.submission",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("submission", "checkpoint"), name="one_finding_per_checkpoint"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("kind", "looked"),
                                ("level__isnull", False),
                                ("level__gte", 0),
                                ("level__lte", 4),
                            ),
                            models.Q(models.Q(("kind", "looked"), _negated=True), ("level", None)),
                            _connector="OR",
                        ),
                        name="finding_has_a_level_only_if_looked",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("kind", "could_not_look"), models.Q(("reason", ""), _negated=True)
                            ),
                            models.Q(
                                models.Q(("kind", "could_not_look"), _negated=True), ("reason", "")
                            ),
                            _connector="OR",
                        ),
                        name="finding_has_a_reason_only_if_could_not_look",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("measured_value", None), ("measured_unit", "")),
                            models.Q(
                                ("kind", "looked"),
                                models.Q(("measured_value", None), _negated=True),
                                models.Q(("measured_unit", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="finding_measured_with_a_unit_and_only_if_looked",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="GateDocument",
            fields=[
                ("leased_by", models.UUIDField(blank=True, null=True)),
                ("leased_until", models.DateTimeField(blank=True, null=True)),
                ("attempts", models.PositiveSmallIntegerField(default=0)),
                ("last_error", models.TextField(blank=True)),
                ("failing_since", models.DateTimeField(blank=True, null=True)),
                ("next_attempt_at", models.DateTimeField(blank=True, null=True)),
                (
                    "storage_failing_since",
                    models.DateTimeField(
                        editable=False,
                        help_text="the storage cannot be reached or is full since then; it is tried again",
                        null=True,
                    ),
                ),
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
                ("note", models.CharField(blank=True, max_length=300)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("processing", "being read"),
                            ("ready", "ready"),
                            ("rejected", "rejected"),
                        ],
                        default="processing",
                        max_length=10,
                    ),
                ),
                (
                    "fault",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("damaged", "The file is damaged."),
                            ("too_many_pixels", "The picture has too many pixels."),
                            ("too_long", "The recording is too long."),
                            ("too_short", "The recording is too short."),
                            (
                                "wrong_rate",
                                "The recording has a sample rate that cannot be measured.",
                            ),
                            ("wrong_channels", "The recording has more than two channels."),
                            ("gave_up", "The file could not be read after several tries."),
                        ],
                        max_length=20,
                    ),
                ),
                (
                    "made_from",
                    models.CharField(
                        editable=False,
                        help_text="digest of the request that made it, to recognise a repeat",
                        max_length=64,
                    ),
                ),
                ("gate", models.SlugField(help_text="the code of what it shows", max_length=20)),
                (
                    "kept_as",
                    models.CharField(choices=[("image", "picture"), ("pdf", "PDF")], max_length=5),
                ),
                (
                    "added_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="gate_documents",
                        to="boats.candidate",
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="groups.group",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        condition=models.Q(("state", "processing")),
                        fields=["leased_until"],
                        name="gatedocument_processing",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "rejected"), models.Q(("fault", ""), _negated=True)),
                            models.Q(models.Q(("state", "rejected"), _negated=True), ("fault", "")),
                            _connector="OR",
                        ),
                        name="gatedocument_says_why_it_was_rejected",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("kept_as__in", ("image", "pdf"))),
                        name="gate_document_is_a_picture_or_pdf",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="SellerPhoto",
            fields=[
                ("leased_by", models.UUIDField(blank=True, null=True)),
                ("leased_until", models.DateTimeField(blank=True, null=True)),
                ("attempts", models.PositiveSmallIntegerField(default=0)),
                ("last_error", models.TextField(blank=True)),
                ("failing_since", models.DateTimeField(blank=True, null=True)),
                ("next_attempt_at", models.DateTimeField(blank=True, null=True)),
                (
                    "storage_failing_since",
                    models.DateTimeField(
                        editable=False,
                        help_text="the storage cannot be reached or is full since then; it is tried again",
                        null=True,
                    ),
                ),
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
                ("note", models.CharField(blank=True, max_length=300)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("processing", "being read"),
                            ("ready", "ready"),
                            ("rejected", "rejected"),
                        ],
                        default="processing",
                        max_length=10,
                    ),
                ),
                (
                    "fault",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("damaged", "The file is damaged."),
                            ("too_many_pixels", "The picture has too many pixels."),
                            ("too_long", "The recording is too long."),
                            ("too_short", "The recording is too short."),
                            (
                                "wrong_rate",
                                "The recording has a sample rate that cannot be measured.",
                            ),
                            ("wrong_channels", "The recording has more than two channels."),
                            ("gave_up", "The file could not be read after several tries."),
                        ],
                        max_length=20,
                    ),
                ),
                (
                    "made_from",
                    models.CharField(
                        editable=False,
                        help_text="digest of the request that made it, to recognise a repeat",
                        max_length=64,
                    ),
                ),
                ("width", models.PositiveIntegerField(help_text="pixels", null=True)),
                ("height", models.PositiveIntegerField(help_text="pixels", null=True)),
                (
                    "taken_at",
                    models.DateTimeField(
                        help_text="by the camera's clock, if it says where", null=True
                    ),
                ),
                (
                    "source",
                    models.CharField(
                        choices=[
                            ("advert", "an advert"),
                            ("seller", "the seller"),
                            ("broker", "a broker"),
                        ],
                        max_length=6,
                    ),
                ),
                ("dated_on", models.DateField(help_text="when the seller showed or sent it")),
                (
                    "added_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "candidate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="seller_photos",
                        to="boats.candidate",
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="groups.group",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(
                        condition=models.Q(("state", "processing")),
                        fields=["leased_until"],
                        name="sellerphoto_processing",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "rejected"), models.Q(("fault", ""), _negated=True)),
                            models.Q(models.Q(("state", "rejected"), _negated=True), ("fault", "")),
                            _connector="OR",
                        ),
                        name="sellerphoto_says_why_it_was_rejected",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "ready"), _negated=True),
                            models.Q(("width__gt", 0), ("height__gt", 0)),
                            _connector="OR",
                        ),
                        name="sellerphoto_ready_has_a_size",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("source__in", ("advert", "seller", "broker"))),
                        name="seller_photo_says_where_it_is_from",
                    ),
                ],
            },
        ),
    ]
