"""The tables of groups. Every change from here on is a migration of its own.

What came before was squashed into this one before the first release.
"""

from decimal import Decimal

import django.db.models.deletion
import uuid_utils.compat
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        # Those of libraries come first: each of their changes would read all of our tables' models.
        ("admin", "0003_logentry_add_action_flag_choices"),
        ("oauth2_provider", "0022_refreshtoken_token_family_index"),
        ("accounts", "__first__"),
        ("accounts", "__first__"),
    ]

    operations = [
        migrations.CreateModel(
            name="Club",
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
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Group",
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
                (
                    "pools_with_club",
                    models.BooleanField(
                        default=False,
                        help_text="its findings help the other groups of the club that pool, and theirs help it",
                    ),
                ),
                (
                    "shares_surveys",
                    models.BooleanField(
                        default=False,
                        help_text="surveys of its boats, and bills, are summed up in the club's statistics",
                    ),
                ),
                (
                    "importing",
                    models.BooleanField(
                        default=False,
                        editable=False,
                        help_text="it is being brought in: nobody belongs to it yet, and nothing is worked out",
                    ),
                ),
                (
                    "club",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="groups",
                        to="groups.club",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("pools_with_club", False),
                            models.Q(("club", None), _negated=True),
                            _connector="OR",
                        ),
                        name="only_a_group_in_a_club_pools",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("shares_surveys", False),
                            models.Q(("club", None), _negated=True),
                            _connector="OR",
                        ),
                        name="only_a_group_in_a_club_shares_surveys",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="AdmissionRequest",
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
                    "note",
                    models.TextField(
                        blank=True, help_text="to the club's secretaries", max_length=1000
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "nobody of the club has decided"),
                            ("accepted", "the group was taken in"),
                            ("declined", "declined by the club"),
                            ("withdrawn", "withdrawn by the group"),
                        ],
                        default="waiting",
                        max_length=10,
                    ),
                ),
                (
                    "reason",
                    models.TextField(blank=True, help_text="why it was declined", max_length=1000),
                ),
                ("settled_at", models.DateTimeField(blank=True, null=True)),
                (
                    "asked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="admissions_asked",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "settled_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="admissions_settled",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "club",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="admission_requests",
                        to="groups.club",
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="admission_requests",
                        to="groups.group",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("state", "waiting")),
                        fields=("group",),
                        name="one_open_admission_request_per_group",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("state__in", ("waiting", "accepted", "declined", "withdrawn"))
                        ),
                        name="admission_request_in_a_known_state",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("settled_at", None), ("settled_by", None), ("state", "waiting")
                            ),
                            models.Q(
                                models.Q(("state", "waiting"), _negated=True),
                                models.Q(("settled_at", None), _negated=True),
                                models.Q(("settled_by", None), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="settled_admission_request_says_by_whom",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), ("state", "declined"), _connector="OR"),
                        name="only_a_declined_admission_has_a_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="GroupProgram",
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
                    "enabled",
                    models.BooleanField(default=True, help_text="false: shut out of this group"),
                ),
                (
                    "posted_at",
                    models.DateTimeField(blank=True, help_text="when it last did", null=True),
                ),
                (
                    "group",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="programs",
                        to="groups.group",
                    ),
                ),
                (
                    "program",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="in_groups",
                        to=settings.OAUTH2_PROVIDER_APPLICATION_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("group", "program"), name="program_once_in_a_group"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Invitation",
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
                ("role", models.CharField(max_length=10)),
                (
                    "note",
                    models.CharField(blank=True, help_text="for whom it is meant", max_length=200),
                ),
                ("digest", models.CharField(editable=False, max_length=64, unique=True)),
                ("expires_at", models.DateTimeField()),
                ("used_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                (
                    "club",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="invitations",
                        to="groups.club",
                    ),
                ),
                (
                    "created_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="invitations_made",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "group",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="invitations",
                        to="groups.group",
                    ),
                ),
                (
                    "used_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="invitations_used",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("group", None), models.Q(("club", None), _negated=True)),
                            models.Q(models.Q(("group", None), _negated=True), ("club", None)),
                            _connector="OR",
                        ),
                        name="invitation_into_one_group_or_one_club",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("used_at", None), ("used_by", None)),
                            models.Q(
                                models.Q(("used_at", None), _negated=True),
                                models.Q(("used_by", None), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="used_invitation_says_by_whom",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("expires_at__gt", models.F("created_at"))),
                        name="invitation_expires_after_it_is_made",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Membership",
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
                    "role",
                    models.CharField(
                        choices=[
                            ("organiser", "organiser"),
                            ("buyer", "buyer"),
                            ("helper", "helper"),
                            ("observer", "observer"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "buys",
                    models.BooleanField(
                        default=True, help_text="votes, and pays a share of the purchase"
                    ),
                ),
                (
                    "share",
                    models.DecimalField(blank=True, decimal_places=6, max_digits=7, null=True),
                ),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                (
                    "group",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="memberships",
                        to="groups.group",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="memberships",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ended_at", None)),
                        fields=("group", "person"),
                        name="one_live_membership_per_group_and_person",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("share", None),
                            models.Q(("share__gte", Decimal("0")), ("share__lte", Decimal("1"))),
                            _connector="OR",
                        ),
                        name="share_between_0_and_1",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("buys", False), ("role__in", ("organiser", "buyer")), _connector="OR"
                        ),
                        name="helpers_and_observers_do_not_buy",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("share", None), ("buys", True), _connector="OR"),
                        name="only_buyers_have_a_share",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ClubMembership",
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
                    "role",
                    models.CharField(
                        choices=[
                            ("secretary", "secretary"),
                            ("adviser", "adviser"),
                            ("member", "member"),
                        ],
                        max_length=10,
                    ),
                ),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                (
                    "club",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="memberships",
                        to="groups.club",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="club_memberships",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("ended_at", None)),
                        fields=("club", "person"),
                        name="one_live_membership_per_club_and_person",
                    )
                ],
            },
        ),
    ]
