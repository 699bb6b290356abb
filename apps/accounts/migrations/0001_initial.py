"""The tables of accounts. Every change from here on is a migration of its own.

What came before was squashed into this one before the first release.
"""

import django.db.models.deletion
import django.db.models.functions.text
import oauth2_provider.generators
import oauth2_provider.models
import uuid_utils.compat
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("auth", "0012_alter_user_first_name_max_length"),
    ]

    operations = [
        migrations.CreateModel(
            name="Person",
            fields=[
                ("password", models.CharField(max_length=128, verbose_name="password")),
                (
                    "last_login",
                    models.DateTimeField(blank=True, null=True, verbose_name="last login"),
                ),
                (
                    "is_superuser",
                    models.BooleanField(
                        default=False,
                        help_text="Designates that this user has all permissions without explicitly assigning them.",
                        verbose_name="superuser status",
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
                ("email", models.EmailField(max_length=254, unique=True)),
                ("name", models.CharField(max_length=120)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("person", "a person"),
                            ("program", "a program acting for a group"),
                        ],
                        default="person",
                        max_length=10,
                    ),
                ),
                (
                    "units",
                    models.CharField(
                        choices=[
                            ("si", "metric: metres, kilograms and kilometres"),
                            ("imperial", "imperial: feet, pounds and miles"),
                        ],
                        default="si",
                        help_text="in which sizes are shown",
                        max_length=8,
                    ),
                ),
                (
                    "currency",
                    models.CharField(
                        blank=True,
                        help_text="in which amounts are shown too, approximately",
                        max_length=3,
                    ),
                ),
                ("is_active", models.BooleanField(default=True)),
                (
                    "is_staff",
                    models.BooleanField(default=False, help_text="may use the operator's admin"),
                ),
                (
                    "groups",
                    models.ManyToManyField(
                        blank=True,
                        help_text="The groups this user belongs to. A user will get all permissions granted to each of their groups.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.group",
                        verbose_name="groups",
                    ),
                ),
                (
                    "user_permissions",
                    models.ManyToManyField(
                        blank=True,
                        help_text="Specific permissions for this user.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.permission",
                        verbose_name="user permissions",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "people",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("email", django.db.models.functions.text.Lower("email"))
                        ),
                        name="email_in_lower_case",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("units__in", ["si", "imperial"])),
                        name="person_units_are_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Program",
            fields=[
                (
                    "client_id",
                    models.CharField(
                        db_index=True,
                        default=oauth2_provider.generators.generate_client_id,
                        max_length=255,
                        unique=True,
                        verbose_name="client ID",
                    ),
                ),
                (
                    "redirect_uris",
                    models.TextField(
                        blank=True,
                        help_text="Allowed URIs list, space separated",
                        verbose_name="redirect URIs",
                    ),
                ),
                (
                    "post_logout_redirect_uris",
                    models.TextField(
                        blank=True,
                        default="",
                        help_text="Allowed Post Logout URIs list, space separated",
                        verbose_name="post logout redirect URIs",
                    ),
                ),
                (
                    "client_type",
                    models.CharField(
                        choices=[("confidential", "Confidential"), ("public", "Public")],
                        max_length=32,
                        verbose_name="client type",
                    ),
                ),
                (
                    "authorization_grant_type",
                    models.CharField(
                        choices=[
                            ("authorization-code", "Authorization code"),
                            ("urn:ietf:params:oauth:grant-type:device_code", "Device Code"),
                            ("implicit", "Implicit"),
                            ("password", "Resource owner password-based"),
                            ("client-credentials", "Client credentials"),
                            ("openid-hybrid", "OpenID connect hybrid"),
                        ],
                        max_length=44,
                        verbose_name="authorization grant type",
                    ),
                ),
                (
                    "client_secret",
                    oauth2_provider.models.ClientSecretField(
                        blank=True,
                        db_index=True,
                        default=oauth2_provider.generators.generate_client_secret,
                        help_text="Client secret for authentication",
                        max_length=255,
                        verbose_name="client secret",
                    ),
                ),
                (
                    "hash_client_secret",
                    models.BooleanField(default=True, verbose_name="hash client secret"),
                ),
                ("name", models.CharField(blank=True, max_length=255, verbose_name="name")),
                (
                    "skip_authorization",
                    models.BooleanField(default=False, verbose_name="skip authorization"),
                ),
                ("created", models.DateTimeField(auto_now_add=True, verbose_name="created")),
                ("updated", models.DateTimeField(auto_now=True, verbose_name="updated")),
                (
                    "algorithm",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "No OIDC support"),
                            ("RS256", "RSA with SHA-2 256"),
                            ("HS256", "HMAC with SHA-2 256"),
                        ],
                        default="",
                        max_length=5,
                        verbose_name="algorithm",
                    ),
                ),
                (
                    "allowed_origins",
                    models.TextField(
                        blank=True,
                        default="",
                        help_text="Allowed origins list to enable CORS, space separated",
                        verbose_name="allowed origins",
                    ),
                ),
                (
                    "registration_source",
                    models.CharField(
                        choices=[
                            ("manual", "Manual"),
                            ("dcr", "Dynamic Client Registration"),
                            ("cimd", "Client ID Metadata Document"),
                        ],
                        default="manual",
                        help_text="How this application was registered (manual, DCR per RFC 7591, or CIMD)",
                        max_length=32,
                        verbose_name="registration source",
                    ),
                ),
                (
                    "cimd_expires_at",
                    models.DateTimeField(
                        blank=True,
                        default=None,
                        help_text="When the cached Client ID Metadata Document should be re-fetched",
                        null=True,
                        verbose_name="CIMD expires at",
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
                    "allowed_scopes",
                    models.JSONField(default=list, help_text="the most that it may ask for"),
                ),
                ("enabled", models.BooleanField(default=True)),
                (
                    "requests_per_minute",
                    models.PositiveIntegerField(
                        blank=True, help_text="instead of what the service allows to all", null=True
                    ),
                ),
                (
                    "account",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="program",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="%(app_label)s_%(class)s",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="user",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("account", None),
                                ("authorization_grant_type", "authorization-code"),
                            ),
                            models.Q(
                                ("account__isnull", False),
                                ("authorization_grant_type", "client-credentials"),
                                ("client_type", "confidential"),
                            ),
                            _connector="OR",
                        ),
                        name="program_acts_for_members_or_has_an_account",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="SpentCode",
            fields=[
                (
                    "code",
                    models.CharField(
                        help_text="its digest", max_length=64, primary_key=True, serialize=False
                    ),
                ),
                ("token_family", models.UUIDField(db_index=True)),
                (
                    "program",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="spent_codes",
                        to=settings.OAUTH2_PROVIDER_APPLICATION_MODEL,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Token",
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
                    "kind",
                    models.CharField(
                        choices=[
                            ("session", "a sign-in"),
                            ("personal", "made by a person for a script"),
                        ],
                        default="session",
                        max_length=10,
                    ),
                ),
                (
                    "name",
                    models.CharField(
                        blank=True, help_text="where it is used, in words", max_length=120
                    ),
                ),
                (
                    "scopes",
                    models.JSONField(
                        blank=True,
                        help_text="what it is limited to; null: all that the person may do",
                        null=True,
                    ),
                ),
                ("digest", models.CharField(editable=False, max_length=64, unique=True)),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                ("expires_at", models.DateTimeField()),
                ("revoked_at", models.DateTimeField(blank=True, null=True)),
                (
                    "last_used_at",
                    models.DateTimeField(blank=True, help_text="to the hour", null=True),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="tokens",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("expires_at__gt", models.F("created_at"))),
                        name="token_expires_after_it_is_made",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="OneTimeLink",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("sets_password", models.BooleanField(default=False)),
                ("digest", models.CharField(editable=False, max_length=64, unique=True)),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                ("expires_at", models.DateTimeField()),
                ("used_at", models.DateTimeField(blank=True, null=True)),
                (
                    "person",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="one_time_links",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("expires_at__gt", models.F("created_at"))),
                        name="one_time_link_expires_after_it_is_made",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("sets_password", False), ("person__isnull", False), _connector="OR"
                        ),
                        name="password_is_set_for_a_person",
                    ),
                ],
            },
        ),
    ]
