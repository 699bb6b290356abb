"""The conditions of a viewing: how the boat lies, what works aboard, and how she is sailed."""

from typing import Any

from django.db import models

from apps.catalogue import vocabulary


class Conditions(models.Model):
    """How the boat lies and what works aboard. None or empty: unknown."""

    class Where(models.TextChoices):
        ASHORE = "ashore", "ashore"
        AFLOAT = "afloat", "afloat"

    class MastState(models.TextChoices):
        STEPPED = "stepped", "stepped"
        ON_DECK = "on_deck", "down, on deck"
        ELSEWHERE = "elsewhere", "down, elsewhere"

    class Weather(models.TextChoices):
        DRY = "dry", "dry"
        WET = "wet", "wet"
        FROST = "frost", "frost or snow"

    class Light(models.TextChoices):
        GOOD = "good", "good"
        POOR = "poor", "poor"

    class SailsSet(models.TextChoices):
        NONE = "none", "none"
        REDUCED = "reduced", "reefed or furled in part"
        FULL = "full", "all of them, full"

    class FullThrottle(models.TextChoices):
        NONE = "none", "not at all"
        BRIEF = "brief", "less than five minutes"
        LONG = "long", "five minutes or more"

    class Load(models.TextChoices):
        LIGHT = "light", "nearly empty"
        LADEN = "laden", "tanks and lockers full"

    where = models.CharField(max_length=10, blank=True, choices=Where.choices)
    covered = models.BooleanField(null=True, blank=True, help_text="a tight cover is on")
    walk_under_cover = models.BooleanField(null=True, blank=True)
    mast_state = models.CharField(max_length=10, blank=True, choices=MastState.choices)
    engine_winterised = models.BooleanField(null=True, blank=True)
    batteries_connected = models.BooleanField(null=True, blank=True)
    seller_present = models.BooleanField(null=True, blank=True)
    weather = models.CharField(max_length=10, blank=True, choices=Weather.choices)
    light = models.CharField(max_length=10, blank=True, choices=Light.choices)
    # Of a sea trial only.
    wind = models.PositiveSmallIntegerField(
        null=True, blank=True, choices=vocabulary.BEAUFORT.items(), help_text="Beaufort force"
    )
    sea_state = models.PositiveSmallIntegerField(
        null=True, blank=True, choices=vocabulary.SEA_STATES.items(), help_text="code of the WMO"
    )
    sails_set = models.CharField(max_length=10, blank=True, choices=SailsSet.choices)
    full_throttle = models.CharField(max_length=10, blank=True, choices=FullThrottle.choices)
    load = models.CharField(max_length=10, blank=True, choices=Load.choices)

    class Meta:
        abstract = True

    @property
    def conditions(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in CONDITIONS}


CONDITIONS = tuple(field.name for field in Conditions._meta.local_fields)
UNDER_WAY = ("wind", "sea_state", "sails_set", "full_throttle", "load")
