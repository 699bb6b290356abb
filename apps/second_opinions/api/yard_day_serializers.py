"""Serializers of yard days, for the group that goes and for others of the club."""

from datetime import date
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.api.fields import StrictBody
from apps.http.pages import LARGEST_PAGE, PageQuery
from apps.http.views import ClientIdMixin
from apps.second_opinions import yard_days
from apps.second_opinions.api.queue_serializers import ClubYardSerializer
from apps.second_opinions.api.request_serializers import RequestQuestion
from apps.second_opinions.models import GroupOpinionSettings, YardDay


class OwnYardDaySerializer(serializers.ModelSerializer[YardDay]):
    """What the group announces to its club about one visit."""

    opened_by = PersonRefSerializer(allow_null=True, help_text="null: the group opens all")

    class Meta:
        model = YardDay
        fields = (
            "id",
            "version",
            "viewing",
            "room",
            "says_who",
            "by_setting",
            "opened_by",
            "created_at",
            "updated_at",
        )


class YardDayBody(StrictBody):
    room = serializers.IntegerField(
        min_value=1, max_value=20, default=1, help_text="number of other groups' boats"
    )
    says_who = serializers.BooleanField(
        default=False, help_text="show which group it is and who goes"
    )


class DayPlaceSerializer(serializers.Serializer[Any]):
    """To a hundredth of a degree."""

    latitude = serializers.FloatField()
    longitude = serializers.FloatField()


class YardDaySerializer(serializers.ModelSerializer[YardDay]):
    """Somebody of another group goes there. It does not show which boat they visit."""

    on = serializers.SerializerMethodField(help_text="by the yard's clock, if known")
    yard = serializers.SerializerMethodField(help_text="if it is the club's yard")
    place = serializers.SerializerMethodField()
    where = serializers.SerializerMethodField(
        help_text="the yard's name, or else the group's own words for the place"
    )
    room = serializers.SerializerMethodField(help_text="number of further boats")
    group = serializers.SerializerMethodField(help_text="its name, if it shows who goes")
    people = serializers.SerializerMethodField(help_text="who goes, if the group shows it")

    class Meta:
        model = YardDay
        fields = ("id", "on", "yard", "place", "where", "room", "group", "people")

    def get_on(self, day: YardDay) -> date:
        return yard_days.day_on(day.viewing)

    @extend_schema_field(ClubYardSerializer(allow_null=True))
    def get_yard(self, day: YardDay) -> Any:
        yard = day.viewing.candidate.at_yard
        return ClubYardSerializer(yard).data if yard and yard.club_id else None

    @extend_schema_field(DayPlaceSerializer(allow_null=True))
    def get_place(self, day: YardDay) -> Any:
        position = day.viewing.candidate.position
        if position is None:
            return None
        return dict(zip(("latitude", "longitude"), (round(x, 2) for x in position), strict=True))

    def get_where(self, day: YardDay) -> str:
        return day.viewing.candidate.place_in_words

    def get_room(self, day: Any) -> int:
        left: int = max(0, day.room - day.taken)
        return left

    def get_group(self, day: YardDay) -> str | None:
        return day.viewing.candidate.list.group.name if day.says_who else None

    @extend_schema_field(PersonRefSerializer(many=True))
    def get_people(self, day: YardDay) -> Any:
        going = yard_days.who_goes(day.viewing) if day.says_who else []
        return PersonRefSerializer(going, many=True).data


class DayQueueQuery(serializers.Serializer[Any]):
    cursor = serializers.CharField(required=False, help_text="from `next` of the page before")
    limit = serializers.IntegerField(
        default=50, min_value=1, max_value=LARGEST_PAGE, help_text="rows on a page"
    )


class YardDaysQuery(PageQuery):
    since = serializers.DateField(required=False, help_text="not before this day (UTC)")
    until = serializers.DateField(required=False, help_text="not after this day (UTC)")


class DayRequestBody(ClientIdMixin, RequestQuestion):
    """Another boat to look at on that day."""

    candidate = serializers.UUIDField(help_text="a boat of your group's that lies there")


class GroupOpinionSettingsSerializer(serializers.ModelSerializer[GroupOpinionSettings]):
    class Meta:
        model = GroupOpinionSettings
        fields = ("version", "group", "opens_yard_days")


class GroupOpinionSettingsBody(StrictBody):
    opens_yard_days = serializers.BooleanField(
        help_text="for every planned visit, the club's other groups see where and when somebody of "
        "yours goes; not which boat, which group, or who"
    )
