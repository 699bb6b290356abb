"""Load the catalogue, or check its files without loading."""

from argparse import ArgumentParser
from pathlib import Path

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from apps.catalogue.reading import CatalogueInvalid, read_catalogue
from apps.catalogue.services import catalogue_load


class Command(BaseCommand):
    help = "Load the catalogue from its TOML files; unchanged files change nothing."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "folder", nargs="?", type=Path, default=settings.BASE_DIR / "fixtures" / "catalogue"
        )
        parser.add_argument("--check", action="store_true", help="only report faults")

    def handle(self, *, folder: Path, check: bool, **_: object) -> None:
        try:
            digested = self.check_files(folder) if check else self.load(folder)
        except CatalogueInvalid as refused:
            raise CommandError("\n".join(refused.faults)) from refused
        self.stdout.write(digested)

    def check_files(self, folder: Path) -> str:
        catalogue = read_catalogue(folder)
        return (
            f"Sound: {len(catalogue.checkpoints)} checkpoints in {len(catalogue.areas)} areas, "
            f"{len(catalogue.remedies)} remedies."
        )

    def load(self, folder: Path) -> str:
        loaded = catalogue_load(folder=folder)
        if not loaded.is_new:
            return f"Unchanged: still edition {loaded.edition.number}."
        return (
            f"Loaded edition {loaded.edition.number}: {len(loaded.renewed)} new or changed, "
            f"{len(loaded.retired)} retired."
        )
