"""The shipped catalogue, read and checked once for all test modules."""

from django.conf import settings

from apps.catalogue.reading import read_catalogue

REAL = read_catalogue(settings.BASE_DIR / "fixtures" / "catalogue")
