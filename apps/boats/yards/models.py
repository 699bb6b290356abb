from django.db import models
from django.db.models import Q

from apps.common.models import Versioned
from apps.groups.models import Club, Group


def no_days() -> list[str]:
    return []


class Yard(Versioned):
    """A place with boats. `opening_hours` None: not known; see `hours`."""

    club = models.ForeignKey(
        Club, null=True, blank=True, on_delete=models.CASCADE, related_name="yards"
    )
    group = models.ForeignKey(
        Group, null=True, blank=True, on_delete=models.CASCADE, related_name="yards"
    )
    name = models.CharField(max_length=120)
    latitude = models.FloatField(help_text="degrees (WGS 84), north positive")
    longitude = models.FloatField(help_text="degrees (WGS 84), east positive")
    time_zone = models.CharField(max_length=60, help_text="time zone of the IANA database")
    opening_hours = models.JSONField(
        null=True, blank=True, help_text="by weekday, spans of local time; a day left out is closed"
    )
    closed_on = models.JSONField(default=no_days, blank=True, help_text="days, as 2025-12-25")
    note = models.TextField(blank=True, max_length=1000)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=(Q(club=None) & ~Q(group=None)) | (~Q(club=None) & Q(group=None)),
                name="yard_of_one_club_or_one_group",
            ),
            models.CheckConstraint(
                condition=Q(latitude__gte=-90)
                & Q(latitude__lte=90)
                & Q(longitude__gte=-180)
                & Q(longitude__lte=180),
                name="yard_place_on_earth",
            ),
            models.CheckConstraint(
                condition=~Q(name="") & ~Q(time_zone=""), name="yard_has_a_name_and_a_time_zone"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def place(self) -> tuple[float, float]:
        """Latitude and longitude."""
        return self.latitude, self.longitude
