"""The tables of http. Every change from here on is a migration of its own.

What came before was squashed into this one before the first release.
"""

import uuid_utils.compat
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        # Those of libraries come first: each of their changes would read all of our tables' models.
        ("admin", "0003_logentry_add_action_flag_choices"),
        ("oauth2_provider", "0022_refreshtoken_token_family_index"),
        ("accounts", "__first__"),
    ]

    operations = [
        migrations.CreateModel(
            name="IdempotencyRecord",
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
                    "principal",
                    models.UUIDField(help_text="who sent it: keys of two principals never meet"),
                ),
                ("key", models.CharField(max_length=255)),
                ("method", models.CharField(max_length=10)),
                ("path", models.CharField(max_length=500)),
                ("body_digest", models.CharField(max_length=64)),
                ("status", models.PositiveSmallIntegerField(null=True)),
                ("headers", models.JSONField(default=dict)),
                ("body", models.TextField(default="")),
                ("created_at", models.DateTimeField(auto_now_add=True, db_index=True)),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("principal", "key"), name="one_answer_per_key")
                ],
            },
        ),
    ]
