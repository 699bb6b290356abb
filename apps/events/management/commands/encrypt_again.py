"""Encrypts stored secrets with the present SECRET_KEY, so that the former key can be dropped."""

from django.core.management.base import BaseCommand, CommandError

from apps.events.webhooks.reencrypting import secrets_reencrypt


class Command(BaseCommand):
    help = (
        "Encrypt stored secrets again with SECRET_KEY. Then no key in SECRET_KEY_FALLBACKS is "
        "needed for them."
    )

    def handle(self, **_: object) -> None:
        done = secrets_reencrypt()
        self.stdout.write(
            f"{done.changed} secrets encrypted again; {done.present} had the present key."
        )
        if done.unreadable:
            raise CommandError(
                f"{done.unreadable} secrets cannot be decrypted with any key in the settings. Add "
                "their key to SECRET_KEY_FALLBACKS and repeat, or let the groups' organisers renew "
                "the secrets of their webhooks."
            )
