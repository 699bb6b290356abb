from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.appraisal.api.shapes import AmountSerializer, WaitQuery
from apps.boats.api.fields import FigureField, StrictBody
from apps.boats.api.yard_serializers import TimeZoneField
from apps.http.fields import CurrencyField, MoneyField
from apps.http.views import ClientIdMixin
from apps.planning.models import LEFT_OUT, Basis, StopState, Trip
from apps.planning.parties import PartyInput
from apps.planning.services import MOST_BOATS, BoatInput

MOST_PARTIES = 8
MOST_PEOPLE = 12


@extend_schema_field({"type": "string", "pattern": "^([01][0-9]|2[0-3]):[0-5][0-9]$"})
class LocalTimeField(serializers.TimeField):
    """Local time such as 08:30; not `time` of JSON Schema, which has seconds and an offset."""

    def __init__(self, **options: Any) -> None:
        super().__init__(format="%H:%M", input_formats=["%H:%M"], **options)


class StartBody(StrictBody):
    """The place from which a party starts and to which it returns."""

    label = serializers.CharField(  # type: ignore[assignment]  # the framework takes fields off the class
        source="start", max_length=120, required=False, allow_blank=True, help_text="in words"
    )
    latitude = FigureField(min_value=-90, max_value=90)
    longitude = FigureField(min_value=-180, max_value=180)


class PartyBody(StrictBody):
    """People who drive together in one car."""

    id = serializers.UUIDField(
        required=False,
        help_text="in a change: the id of an existing party; without it, a new party",
    )
    label = serializers.CharField(max_length=120, help_text="such as: Ada's car")  # type: ignore[assignment]  # the framework takes fields off the class
    people = serializers.ListField(
        child=serializers.UUIDField(),
        required=False,
        max_length=MOST_PEOPLE,
        help_text="members of the group or of the club; if no party has people, the person who "
        "adds the trip is in the first",
    )
    start = StartBody()
    leaves_at = LocalTimeField(help_text="earliest departure, in the trip's time zone")
    back_by = LocalTimeField(help_text="latest return, on the same day")
    most_km = serializers.IntegerField(
        min_value=0,
        max_value=2000,
        required=False,
        allow_null=True,
        help_text="longest drive of the day, including the way home",
    )

    def to_internal_value(self, data: Any) -> PartyInput:
        given = dict(super().to_internal_value(data))
        id, people = given.pop("id", None), given.pop("people", ())
        return PartyInput({"start": "", "most_km": None, **given.pop("start"), **given}, people, id)


class BoatBody(StrictBody):
    candidate = serializers.UUIDField()
    value = MoneyField(
        required=False,
        help_text="value of a look at her, in the trip's currency; by default, how far it is "
        "expected to move her expected cost",
    )
    minutes = serializers.IntegerField(
        min_value=1, max_value=480, required=False, help_text="minutes that a look takes"
    )

    def to_internal_value(self, data: Any) -> BoatInput:
        given = super().to_internal_value(data)
        value = given.get("value")
        amount = value and (value.amount, value.currency)
        return BoatInput(given["candidate"], amount, given.get("minutes"))


class TripChangeBody(StrictBody):
    """If parties or boats are sent, they replace all present ones."""

    name = serializers.CharField(max_length=120)
    note = serializers.CharField(max_length=4000, required=False, allow_blank=True)
    state = serializers.ChoiceField(Trip.State.choices, required=False)
    day = serializers.DateField()
    time_zone = TimeZoneField(help_text="time zone of the parties' hours, such as Europe/Lisbon")
    currency = CurrencyField(help_text="ISO 4217; currency of values")
    speed_kmh = FigureField(
        min_value=5, max_value=150, required=False, help_text="assumed driving speed"
    )
    road_factor = FigureField(
        min_value=1,
        max_value=5,
        required=False,
        help_text="road distance divided by the distance on the map",
    )
    minutes_per_boat = serializers.IntegerField(
        min_value=1,
        max_value=480,
        required=False,
        help_text="minutes for each boat in addition to the checks",
    )
    parties = serializers.ListField(
        child=PartyBody(),
        allow_empty=False,
        max_length=MOST_PARTIES,
        help_text="the cars and their people",
    )
    boats = serializers.ListField(
        child=BoatBody(),
        required=False,
        max_length=MOST_BOATS,
        help_text="boats of the trip; by default all that you may look at",
    )

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        """The fields of the trip itself, apart from its parties and boats."""
        given = dict(super().to_internal_value(data))
        apart = {name: given.pop(name) for name in ("id", "parties", "boats") if name in given}
        return {**apart, "facts": given}


class TripBody(ClientIdMixin, TripChangeBody):
    pass


class TripQuery(WaitQuery):
    pass


class CalendarQuery(serializers.Serializer[Any]):
    party = serializers.UUIDField(required=False, help_text="only this party's stops")


class StopsBody(StrictBody):
    boats = serializers.ListField(
        child=serializers.UUIDField(),
        required=False,
        allow_empty=False,
        max_length=MOST_BOATS,
        help_text="candidates in the plan; by default all of them",
    )


# --- Answers -------------------------------------------------------------------------------------


OF_THE_PLAN = ("outcome", "sequence", "fresh")


class TripRowSerializer(serializers.ModelSerializer[Trip]):
    """A trip in a list; its plan is read with the trip."""

    made_by = PersonRefSerializer()
    fresh = serializers.SerializerMethodField(
        help_text="whether nothing that the plan depends on has changed"
    )

    class Meta:
        model = Trip
        fields: tuple[str, ...] = (
            "id",
            "version",
            "group",
            "club",
            "made_by",
            "name",
            "note",
            "state",
            "day",
            "time_zone",
            "outcome",
            "sequence",
            "fresh",
            "created_at",
            "updated_at",
        )
        read_only_fields = fields

    def get_fresh(self, trip: Trip) -> bool:
        return not trip.stale


class StartSerializer(serializers.Serializer[Any]):
    label = serializers.CharField(source="start")  # type: ignore[assignment]  # the framework takes fields off the class
    latitude = serializers.FloatField()
    longitude = serializers.FloatField()


class PartySerializer(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    label = serializers.CharField()  # type: ignore[assignment]  # the framework takes fields off the class
    people = PersonRefSerializer(many=True)
    start = StartSerializer(source="*")
    leaves_at = LocalTimeField()
    back_by = LocalTimeField()
    most_km = serializers.IntegerField(allow_null=True)


class TripBoatSerializer(serializers.Serializer[Any]):
    """`value` and `minutes`: as given with the trip, if they were given."""

    candidate = serializers.UUIDField(source="candidate_id")
    name = serializers.CharField(source="candidate.name")
    wanted = serializers.BooleanField(help_text="false: she was in a plan and was then taken off")
    value = AmountSerializer(allow_null=True)
    minutes = serializers.IntegerField(source="stated_minutes", allow_null=True)


class StopPlaceSerializer(serializers.Serializer[Any]):
    yard = serializers.CharField()
    yard_id = serializers.UUIDField(allow_null=True)
    latitude = serializers.FloatField(allow_null=True)
    longitude = serializers.FloatField(allow_null=True)
    time_zone = serializers.CharField()
    hours_known = serializers.BooleanField()


class StopSerializer(serializers.Serializer[Any]):
    """A field is null if it is about a boat that you may not see, or about the way from one."""

    position = serializers.IntegerField()
    candidate = serializers.UUIDField(allow_null=True)
    name = serializers.CharField(allow_null=True)
    place = StopPlaceSerializer(allow_null=True)
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    km = serializers.FloatField(allow_null=True, help_text="distance from the stop before")
    drive_minutes = serializers.IntegerField(allow_null=True)
    value = AmountSerializer(allow_null=True, help_text="value of the look")
    rests_on = serializers.ChoiceField(
        Basis.choices, allow_null=True, help_text="source of the value"
    )
    checks = serializers.IntegerField(allow_null=True, help_text="how many checks can be made")
    minutes = serializers.IntegerField(allow_null=True)
    state = serializers.ChoiceField(StopState.choices)
    viewing = serializers.UUIDField(allow_null=True)


class RouteSerializer(serializers.Serializer[Any]):
    party = serializers.UUIDField()
    label = serializers.CharField()  # type: ignore[assignment]  # the framework takes fields off the class
    sets_off_at = serializers.DateTimeField(allow_null=True)
    back_at = serializers.DateTimeField(allow_null=True)
    km = serializers.FloatField(
        allow_null=True, help_text="null: you may not see all stops of that car"
    )
    stops = StopSerializer(many=True)


class TripLeftOutSerializer(serializers.Serializer[Any]):
    candidate = serializers.UUIDField()
    name = serializers.CharField()
    why = serializers.ChoiceField(list(LEFT_OUT.items()))
    sentence = serializers.CharField()


class PlanSerializer(serializers.Serializer[Any]):
    """The plan with the highest value found within hours and distance."""

    asked = serializers.BooleanField()
    fresh = serializers.BooleanField(help_text="whether nothing it depends on has changed since")
    failing = serializers.BooleanField(
        help_text="the last attempt failed on the service's side, and it is tried again for a "
        "while; or nobody works on it at the moment"
    )
    outcome = serializers.ChoiceField(Trip.Outcome.choices)
    sequence = serializers.IntegerField(help_text="goes up whenever the plan changes")
    computed_at = serializers.DateTimeField(allow_null=True)
    method = serializers.CharField()
    value = AmountSerializer(allow_null=True, help_text="value of all looks together")
    bound = AmountSerializer(allow_null=True, help_text="upper bound on the value of any plan")
    proven = serializers.BooleanField(help_text="whether no plan is worth more than this one")
    gap = serializers.FloatField(help_text="largest possible shortfall, as a part of the bound")
    routes = RouteSerializer(many=True)
    left_out = TripLeftOutSerializer(many=True)
    cannot_keep = serializers.ListField(
        child=serializers.UUIDField(), help_text="boats whose agreed visits fit in no plan"
    )
    sentences = serializers.ListField(child=serializers.CharField())
    cautions = serializers.ListField(child=serializers.CharField())
    caution = serializers.CharField()


class TripSerializer(TripRowSerializer):
    """A trip with its plan, as you may see it."""

    parties = PartySerializer(many=True)
    boats = TripBoatSerializer(many=True)
    hidden_boats = serializers.IntegerField(help_text="how many other boats you may not see")
    plan = PlanSerializer()

    fresh = None  # type: ignore[assignment]  # left out: it is a field of the plan

    class Meta(TripRowSerializer.Meta):
        fields = (
            *(name for name in TripRowSerializer.Meta.fields if name not in OF_THE_PLAN),
            "currency",
            "speed_kmh",
            "road_factor",
            "minutes_per_boat",
            "parties",
            "boats",
            "hidden_boats",
            "plan",
        )
        read_only_fields = fields


class PositionSerializer(serializers.Serializer[Any]):
    type = serializers.CharField()
    geometry = serializers.DictField()
    properties = serializers.DictField()


class MapSerializer(serializers.Serializer[Any]):
    """A FeatureCollection of RFC 7946; longitude first."""

    type = serializers.ChoiceField(["FeatureCollection"])
    features = PositionSerializer(many=True)
