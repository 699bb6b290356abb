from collections.abc import Sequence
from datetime import date
from typing import Any

from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail

from apps.boats.api.fields import FigureField, StrictBody
from apps.boats.yards import hours
from apps.boats.yards.models import Yard
from apps.http.fields import AnyField
from apps.http.views import ClientIdMixin


class ClockField(serializers.RegexField):
    def __init__(self, **options: Any) -> None:
        super().__init__(rf"^({hours.CLOCK.pattern})\Z", **options)


class SpanBody(StrictBody):
    opens = ClockField(help_text="local time, as 08:30")
    closes = ClockField(help_text="local time of the same day; 24:00 is its end")


class SpansField(serializers.ListField):
    """Opening hours of one day: spans in order that do not overlap."""

    child = SpanBody()

    def __init__(self, **options: Any) -> None:
        super().__init__(max_length=hours.MOST_SPANS, **options)

    def to_internal_value(self, data: Any) -> list[dict[str, str]]:
        spans = [dict(span) for span in super().to_internal_value(data)]
        faults = {
            str(fault.index): [ErrorDetail(fault.detail, fault.code)]
            for fault in hours.span_faults(spans)
        }
        if faults:
            raise serializers.ValidationError(faults)
        return spans


class OpeningHoursBody(StrictBody):
    """Spans of local time by weekday; a day that is left out is closed."""

    def get_fields(self) -> dict[str, AnyField]:
        return {day: SpansField(required=False) for day in hours.WEEKDAYS}

    def to_internal_value(self, data: Any) -> dict[str, list[dict[str, str]]]:
        return dict(super().to_internal_value(data))


class ClosedDaysField(serializers.ListField):
    """Days; in Python as text, sorted, without duplicates."""

    child = serializers.DateField()

    def __init__(self, **options: Any) -> None:
        super().__init__(max_length=hours.MOST_CLOSED_DAYS, **options)

    def to_internal_value(self, data: Any) -> list[str]:
        days: Sequence[date] = super().to_internal_value(data)
        return sorted({day.isoformat() for day in days})


class TimeZoneField(serializers.CharField):
    """A name of the IANA database, such as Europe/Lisbon."""

    def __init__(self, **options: Any) -> None:
        super().__init__(max_length=60, **options)

    def to_internal_value(self, data: Any) -> str:
        name = super().to_internal_value(data)
        if name not in hours.time_zones():
            raise serializers.ValidationError(
                f"The IANA database has no time zone {name!r}.", code="unknown_time_zone"
            )
        return name


class YardChangeBody(StrictBody):
    """A place with boats. `opening_hours` null: not known."""

    name = serializers.CharField(max_length=120)
    latitude = FigureField(min_value=-90, max_value=90, help_text="degrees (WGS 84)")
    longitude = FigureField(min_value=-180, max_value=180, help_text="degrees (WGS 84)")
    time_zone = TimeZoneField(help_text="time zone of the IANA database, such as Europe/Lisbon")
    opening_hours = OpeningHoursBody(required=False, allow_null=True)
    closed_on = ClosedDaysField(required=False, help_text="days on which it is closed all day")
    note = serializers.CharField(
        max_length=1000,
        required=False,
        allow_blank=True,
        help_text="for example the gate, and whom to tell",
    )


class YardBody(ClientIdMixin, YardChangeBody):
    pass


class YardSerializer(serializers.ModelSerializer[Yard]):
    """`club` or `group`: the owner."""

    opening_hours = OpeningHoursBody(allow_null=True)
    closed_on = serializers.ListField(child=serializers.DateField())

    class Meta:
        model = Yard
        fields = (
            "id",
            "version",
            "club",
            "group",
            "name",
            "latitude",
            "longitude",
            "time_zone",
            "opening_hours",
            "closed_on",
            "note",
            "created_at",
            "updated_at",
        )
        read_only_fields = fields
