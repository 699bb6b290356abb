"""The catalogue as it is shipped, read and checked once for all modules that ask what is in it."""

from django.conf import settings

from apps.catalogue.reading import read_catalogue

REAL = read_catalogue(settings.BASE_DIR / "fixtures" / "catalogue")
