"""Serializers of a candidate's checklist."""

import uuid
from collections.abc import Mapping, Sequence
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.catalogue import vocabulary
from apps.catalogue.api.serializers import (
    CautionSerializer,
    EditionsSerializer,
    LevelSerializer,
    MeasureSerializer,
)
from apps.catalogue.applicability import PossibleCheck, PreventedCheck
from apps.viewings.api.serializers import ConditionsSerializer, LyingSerializer
from apps.viewings.checklists import SCREENING, CandidateChecklist, PlaceChecklist
from apps.viewings.conditions import CONDITIONS
from apps.viewings.models import Viewing

LONGEST_LOOK = 480


class ConditionsQuery(LyingSerializer):
    """Conditions given here replace the viewing's own."""

    minutes = serializers.IntegerField(
        required=False,
        min_value=1,
        max_value=LONGEST_LOOK,
        help_text="a first look: only the most valuable checks that fit into so many minutes",
    )


class ChecklistQuery(ConditionsSerializer, ConditionsQuery):
    viewing = serializers.UUIDField(
        required=False, help_text="a viewing of this candidate, for its kind and its conditions"
    )
    kind = serializers.ChoiceField(
        Viewing.Kind.choices,
        required=False,
        help_text="of a viewing that is not planned yet; visit if left out",
    )
    open = serializers.BooleanField(
        required=False,
        allow_null=True,
        help_text="leave out what somebody looked at on another viewing when nothing made it a "
        "guess, unless it is worth another look; if this is left out, true for a sea trial",
    )


class HindranceSerializer(serializers.Serializer[Any]):
    code = serializers.ChoiceField(list(vocabulary.CONDITIONS))
    detail = serializers.CharField()


def hindrances_serialized(codes: Sequence[str]) -> list[dict[str, str]]:
    return [{"code": code, "detail": vocabulary.CONDITIONS[code]} for code in codes]


class CheckSerializer(serializers.Serializer[PossibleCheck]):
    """One checkpoint that can be looked at."""

    code = serializers.CharField(source="checkpoint.code")
    title = serializers.CharField(source="checkpoint.title")
    area = serializers.CharField(source="checkpoint.area", help_text="code of an area")
    priority = serializers.IntegerField(
        source="checkpoint.priority",
        help_text="1: in a first look of 15 minutes, 2: of an hour, 3: on a second visit",
    )
    minutes = serializers.IntegerField(source="checkpoint.minutes", help_text="that it takes")
    ask = serializers.CharField(
        source="checkpoint.ask",
        help_text="what to ask the seller; empty if no answer would help",
    )
    look = serializers.CharField(source="checkpoint.look", help_text="how, in under a minute")
    tools = serializers.ListField(source="checkpoint.tools", child=serializers.CharField())
    levels = serializers.SerializerMethodField()
    concerns = serializers.ListField(
        source="checkpoint.concerns", child=serializers.ChoiceField(vocabulary.CONCERNS)
    )
    guarded = serializers.BooleanField(
        source="checkpoint.guarded",
        help_text="members raise doubts here but cannot clear them; sound means nothing was seen",
    )
    cautions = CautionSerializer(many=True, help_text="read them before you look")
    professional = serializers.CharField(
        source="checkpoint.professional", help_text="who must judge it; empty if nobody must"
    )
    professional_from = serializers.IntegerField(
        source="checkpoint.professional_from", help_text="from this level on; 0: always"
    )
    professional_only = serializers.BooleanField(
        source="checkpoint.professional_only", help_text="a member can only raise doubts"
    )
    doubt_from = serializers.IntegerField(
        source="checkpoint.doubt_from", help_text="if guarded: a doubt from this level on"
    )
    receipt_clears = serializers.BooleanField(
        source="checkpoint.receipt_clears",
        help_text="a receipt for what was renewed or serviced closes a doubt",
    )
    measure = MeasureSerializer(
        source="checkpoint.measure", allow_null=True, help_text="what can be measured here"
    )
    tags = serializers.ListField(source="checkpoint.tags", child=serializers.CharField())
    hampered = serializers.SerializerMethodField(
        help_text="conditions that make a member's finding here a guess, whatever its sureness"
    )

    @extend_schema_field(HindranceSerializer(many=True))
    def get_hampered(self, check: PossibleCheck) -> list[dict[str, str]]:
        return hindrances_serialized(check.hampered)

    @extend_schema_field(LevelSerializer(many=True))
    def get_levels(self, check: PossibleCheck) -> list[dict[str, Any]]:
        return [
            {"level": level, "name": vocabulary.LEVELS[level], "description": description}
            for level, description in enumerate(check.checkpoint.levels)
        ]


class PreventedSerializer(serializers.Serializer[PreventedCheck]):
    """One checkpoint that these conditions rule out. It is unknown, not fine."""

    code = serializers.CharField(source="checkpoint.code")
    title = serializers.CharField(source="checkpoint.title")
    area = serializers.CharField(source="checkpoint.area", help_text="code of an area")
    ask = serializers.CharField(source="checkpoint.ask", help_text="what to ask the seller")
    reasons = serializers.SerializerMethodField()

    @extend_schema_field(HindranceSerializer(many=True))
    def get_reasons(self, check: PreventedCheck) -> list[dict[str, str]]:
        return hindrances_serialized(check.reasons)


class PlaceChecklistSerializer(serializers.Serializer[PlaceChecklist]):
    place = serializers.ChoiceField([place for place in vocabulary.PLACES if place != "ask"])
    title = serializers.SerializerMethodField()
    cautions = CautionSerializer(
        many=True, help_text="of all its checks; read them on the way there, before the first check"
    )
    possible = CheckSerializer(many=True)
    not_possible = PreventedSerializer(many=True)

    def get_title(self, part: PlaceChecklist) -> str:
        return vocabulary.PLACES[part.place]


class LaterSerializer(serializers.Serializer[Any]):
    """One checkpoint that this list leaves out."""

    code = serializers.CharField(source="checkpoint.code")
    title = serializers.CharField(source="checkpoint.title")
    area = serializers.CharField(source="checkpoint.area", help_text="code of an area")
    priority = serializers.IntegerField(source="checkpoint.priority")
    minutes = serializers.IntegerField(source="checkpoint.minutes")


class ChecklistSerializer(serializers.Serializer[Any]):
    candidate = serializers.UUIDField()
    viewing = serializers.UUIDField(allow_null=True)
    kind = serializers.ChoiceField(Viewing.Kind.choices)
    conditions = ConditionsSerializer()
    edition = serializers.IntegerField(help_text="of the catalogue's base")
    editions = EditionsSerializer()
    caution = serializers.CharField()
    cautions = CautionSerializer(
        many=True, help_text="of a sea trial: read them before anything else, on land"
    )
    minutes = serializers.IntegerField(help_text="for all checks of `places`, without phone calls")
    to_ask = CheckSerializer(many=True, help_text="what a phone call settles in advance")
    places = PlaceChecklistSerializer(many=True, help_text="in walking order")
    later = LaterSerializer(
        many=True, help_text="what `minutes` or `open` leaves out; otherwise empty"
    )


def checklist_serialized(
    found: CandidateChecklist,
    candidate_id: uuid.UUID,
    viewing_id: uuid.UUID | None,
    conditions: Mapping[str, Any],
) -> Mapping[str, Any]:
    payload = {
        "candidate": candidate_id,
        "viewing": viewing_id,
        "kind": conditions.get("kind", Viewing.Kind.VISIT),
        "conditions": {name: conditions.get(name) for name in CONDITIONS},
        "edition": found.editions["base"],
        "editions": found.editions,
        "caution": SCREENING,
        "cautions": found.cautions,
        "minutes": found.minutes,
        "to_ask": found.to_ask,
        "places": found.places,
        "later": found.later,
    }
    serialized: Mapping[str, Any] = ChecklistSerializer(payload).data
    return serialized
