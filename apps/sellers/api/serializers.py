from typing import Any

from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.particulars import FIRST_YEAR, HIGHEST_ENGINE_HOURS
from apps.http.bodies import StrictBody
from apps.http.pages import PageQuery
from apps.http.views import ClientIdMixin
from apps.sellers.models import SellerAnswer

LATEST_YEAR = 2200  # a later one than this year's is refused by the service


class AnswersQuery(PageQuery):
    live = serializers.BooleanField(default=False, help_text="leave out withdrawn ones")


class ClaimsBody(StrictBody):
    """What an answer says of the boat's particulars."""

    build_year = serializers.IntegerField(
        required=False, min_value=FIRST_YEAR, max_value=LATEST_YEAR
    )
    engine_year = serializers.IntegerField(
        required=False, min_value=FIRST_YEAR, max_value=LATEST_YEAR
    )
    engine_hours = serializers.IntegerField(
        required=False, min_value=0, max_value=HIGHEST_ENGINE_HOURS
    )
    rigging_year = serializers.IntegerField(
        required=False, min_value=FIRST_YEAR, max_value=LATEST_YEAR
    )
    sails_year = serializers.IntegerField(
        required=False, min_value=FIRST_YEAR, max_value=LATEST_YEAR
    )


class ClaimsSerializer(serializers.Serializer[Any]):
    build_year = serializers.IntegerField(required=False)
    engine_year = serializers.IntegerField(required=False)
    engine_hours = serializers.IntegerField(required=False)
    rigging_year = serializers.IntegerField(required=False)
    sails_year = serializers.IntegerField(required=False)


class SellerAnswerSerializer(serializers.ModelSerializer[SellerAnswer]):
    level = serializers.IntegerField(
        allow_null=True, help_text="the level whose words come nearest to the answer; no look"
    )
    question = serializers.CharField(allow_blank=True, help_text="code, if of no checkpoint")
    particulars = ClaimsSerializer(help_text="what it says of the particulars")
    added_by = PersonRefSerializer()

    class Meta:
        model = SellerAnswer
        fields = (
            "id",
            "version",
            "candidate",
            "checkpoint",
            "question",
            "asked",
            "answer",
            "level",
            "particulars",
            "said_by",
            "name",
            "said_on",
            "added_by",
            "created_at",
            "withdrawn_at",
        )


class SellerAnswerBody(ClientIdMixin, StrictBody):
    """What somebody on the seller's side answered to one question."""

    checkpoint = serializers.CharField(
        max_length=60, required=False, help_text="code, if a checkpoint's question was answered"
    )
    question = serializers.CharField(
        max_length=60, required=False, help_text="code, if one of the other questions was"
    )
    answer = serializers.CharField(max_length=4000, help_text="in the seller's own words")
    level = serializers.IntegerField(
        min_value=0,
        max_value=4,
        required=False,
        allow_null=True,
        help_text="the checkpoint's level whose words come nearest to the answer",
    )
    particulars = ClaimsBody(
        required=False, help_text="what it says of the particulars that the question asks for"
    )
    said_by = serializers.ChoiceField(SellerAnswer.SaidBy.choices)
    name = serializers.CharField(
        max_length=120, required=False, allow_blank=True, help_text="who answered"
    )
    said_on = serializers.DateField(required=False, help_text="today if left out")


class QuestionSerializer(serializers.Serializer[Any]):
    """One question. `fills`: the particulars that its answer gives."""

    code = serializers.CharField()
    checkpoint = serializers.CharField(allow_null=True)
    title = serializers.CharField(allow_blank=True)
    ask = serializers.CharField()
    why = serializers.CharField(allow_blank=True)
    fills = serializers.ListField(child=serializers.CharField())
    levels = serializers.ListField(
        child=serializers.CharField(),
        help_text="the words of the five levels; empty if it is no checkpoint's question",
    )
    answers = SellerAnswerSerializer(many=True, help_text="those that count, oldest first")


class SellerQuestionsSerializer(serializers.Serializer[Any]):
    caution = serializers.CharField(help_text="what a seller's word is worth")
    text = serializers.CharField(
        allow_blank=True, help_text="the open questions, to send or to read out on the telephone"
    )
    first = QuestionSerializer(many=True, help_text="those that save a journey")
    more = QuestionSerializer(many=True, help_text="what else can be asked of this boat")
