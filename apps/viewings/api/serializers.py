"""Serializers of viewings, follow-ups and clearances."""

from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.api.fields import StrictBody
from apps.catalogue.vocabulary import BEAUFORT, SEA_STATES
from apps.http.pages import PageQuery
from apps.http.views import ClientIdMixin
from apps.viewings.api.fields import OptionalWord
from apps.viewings.conditions import Conditions
from apps.viewings.models import CLEARING_LEVELS, PROFESSIONS, Clearance, FollowUp, Viewing


class LyingSerializer(StrictBody):
    """How the boat lies and what works aboard; null if unknown."""

    where = OptionalWord(Conditions.Where.choices)
    covered = serializers.BooleanField(
        required=False,
        allow_null=True,
        help_text="a tight cover hides what is under it",
    )
    walk_under_cover = serializers.BooleanField(
        required=False,
        allow_null=True,
        help_text="she is under a cover that one can walk under: some parts are harder to see",
    )
    mast_state = OptionalWord(Conditions.MastState.choices)
    engine_winterised = serializers.BooleanField(
        required=False, allow_null=True, help_text="the engine is laid up"
    )
    batteries_connected = serializers.BooleanField(required=False, allow_null=True)
    seller_present = serializers.BooleanField(required=False, allow_null=True)
    weather = OptionalWord(Conditions.Weather.choices)
    light = OptionalWord(Conditions.Light.choices)


class ConditionsSerializer(LyingSerializer):
    """The same, and how a sea trial is sailed; null if unknown."""

    wind = serializers.IntegerField(
        required=False,
        allow_null=True,
        min_value=min(BEAUFORT),
        max_value=max(BEAUFORT),
        help_text="Beaufort force; only of a sea trial, like sea, sails, throttle and load",
    )
    sea_state = serializers.IntegerField(
        required=False,
        allow_null=True,
        min_value=min(SEA_STATES),
        max_value=max(SEA_STATES),
        help_text="code of the World Meteorological Organization: 0 glassy to 9 phenomenal",
    )
    sails_set = OptionalWord(Conditions.SailsSet.choices)
    full_throttle = OptionalWord(
        Conditions.FullThrottle.choices, help_text="how long the engine ran so; long: 5 minutes on"
    )
    load = OptionalWord(Conditions.Load.choices, help_text="what she carried")


class ViewingQuery(PageQuery):
    state = serializers.ChoiceField(Viewing.State.choices, required=False)
    kind = serializers.ChoiceField(Viewing.Kind.choices, required=False)


class ViewingSerializer(serializers.ModelSerializer[Viewing]):
    conditions = ConditionsSerializer(source="*")
    people = PersonRefSerializer(many=True, help_text="who goes")
    added_by = PersonRefSerializer()

    class Meta:
        model = Viewing
        fields = (
            "id",
            "version",
            "candidate",
            "kind",
            "starts_at",
            "state",
            "conditions",
            "people",
            "note",
            "added_by",
            "created_at",
            "updated_at",
        )


class ViewingChange(StrictBody):
    """The fields of a visit that can change."""

    starts_at = serializers.DateTimeField()
    state = serializers.ChoiceField(Viewing.State.choices, required=False)
    conditions = ConditionsSerializer(required=False, help_text="a change affects only those named")
    people = serializers.ListField(
        child=serializers.UUIDField(),
        required=False,
        max_length=100,
        help_text="who goes: ids of members",
    )
    note = serializers.CharField(max_length=4000, required=False, allow_blank=True)


class ViewingBody(ClientIdMixin, ViewingChange):
    """A visit or a sea trial, planned or made."""

    kind = serializers.ChoiceField(
        Viewing.Kind.choices, required=False, help_text="visit if left out; it never changes"
    )


class FollowUpQuery(PageQuery):
    state = serializers.ChoiceField(FollowUp.State.choices, required=False)
    assignee = serializers.UUIDField(required=False, help_text="only this person's")


class FollowUpSerializer(serializers.ModelSerializer[FollowUp]):
    assignee = PersonRefSerializer(allow_null=True)
    added_by = PersonRefSerializer()

    class Meta:
        model = FollowUp
        fields = (
            "id",
            "version",
            "candidate",
            "checkpoint",
            "question",
            "asked_of",
            "assignee",
            "due_on",
            "state",
            "answer",
            "changed",
            "added_by",
            "created_at",
            "updated_at",
        )


class FollowUpAsked(StrictBody):
    """A question, the people who ask and are asked, and its due date."""

    question = serializers.CharField(max_length=500)
    asked_of = serializers.ChoiceField(FollowUp.AskedOf.choices)
    assignee = serializers.UUIDField(
        required=False, allow_null=True, help_text="the member who asks"
    )
    due_on = serializers.DateField(required=False, allow_null=True)


class FollowUpBody(ClientIdMixin, FollowUpAsked):
    """A question to settle."""

    checkpoint = serializers.CharField(
        max_length=60, required=False, allow_null=True, help_text="code, if it is about one"
    )


class FollowUpChange(FollowUpAsked):
    """The fields of a question that can change."""

    state = serializers.ChoiceField(FollowUp.State.choices)
    answer = serializers.CharField(
        max_length=4000, allow_blank=True, help_text="required with state `answered`"
    )
    changed = serializers.CharField(
        max_length=1000, allow_blank=True, help_text="what the answer changed"
    )


class ClearanceQuery(PageQuery):
    live = serializers.BooleanField(default=False, help_text="leave out withdrawn ones")


class ClearanceSerializer(serializers.ModelSerializer[Clearance]):
    profession = OptionalWord(PROFESSIONS)
    level = serializers.IntegerField()
    added_by = PersonRefSerializer()

    class Meta:
        model = Clearance
        fields = (
            "id",
            "version",
            "candidate",
            "checkpoint",
            "basis",
            "level",
            "profession",
            "document",
            "dated_on",
            "note",
            "added_by",
            "created_at",
            "withdrawn_at",
        )


class ClearanceBody(ClientIdMixin, StrictBody):
    """A professional's finding, a documented repair, or a receipt if that is enough."""

    checkpoint = serializers.CharField(
        max_length=60, help_text="code of a checkpoint about structure, safety or flooding"
    )
    basis = serializers.ChoiceField(Clearance.Basis.choices)
    level = serializers.IntegerField(
        min_value=0,
        max_value=CLEARING_LEVELS[-1][0],
        help_text="its present level: 0 sound or 1 serviceable; anything worse is a finding",
    )
    profession = OptionalWord(PROFESSIONS, help_text="which professional found it")
    document = serializers.CharField(max_length=300, help_text="the report or bill that says so")
    dated_on = serializers.DateField(
        help_text="of the document; it closes doubts that were seen up to this day"
    )
    note = serializers.CharField(max_length=4000, required=False, allow_blank=True)
