"""Registers a program that may act for members."""

from argparse import ArgumentParser

from django.core.management.base import BaseCommand, CommandError

from apps.accounts.program_services import program_register
from apps.accounts.scopes import SCOPES
from apps.common.errors import Invalid


class Command(BaseCommand):
    help = (
        "Register a program that acts for members who allow it (authorization code with PKCE). "
        "A program of one group is made by its organiser instead: POST /groups/{id}/programs."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="the name that members see when they are asked")
        parser.add_argument("redirect_uris", nargs="+", help="addresses to which members return")
        parser.add_argument(
            "--scope",
            action="append",
            dest="scopes",
            default=[],
            help=f"the most it may ask for, once for each: {', '.join(SCOPES)}",
        )
        parser.add_argument(
            "--public", action="store_true", help="it runs on people's devices: no secret"
        )
        parser.add_argument("--requests-per-minute", type=int)

    def handle(
        self,
        *,
        name: str,
        redirect_uris: list[str],
        scopes: list[str],
        public: bool,
        requests_per_minute: int | None,
        **_: object,
    ) -> None:
        try:
            made = program_register(
                name=name,
                redirect_uris=redirect_uris,
                scopes=scopes,
                keeps_secret=not public,
                requests_per_minute=requests_per_minute,
            )
        except Invalid as refused:
            raise CommandError(" ".join(fault.detail for fault in refused.faults)) from refused
        self.stdout.write(f"client_id: {made.program.client_id}")
        if made.secret:
            self.stdout.write(f"client_secret: {made.secret} (shown only now)")
