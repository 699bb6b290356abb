from typing import Any

from rest_framework import serializers

from apps.accounts.api.key_serializers import ClientField
from apps.accounts.api.serializers import PersonRefSerializer
from apps.http.bodies import StrictBody
from apps.http.views import ClientIdMixin
from apps.ownership.models import Consent, Wording


class ConsentSerializer(serializers.ModelSerializer[Consent]):
    """`created_at`: when the person agreed."""

    person = PersonRefSerializer()
    client = ClientField(help_text="the program that sent it")

    class Meta:
        model = Consent
        fields = ("id", "version", "person", "client", "created_at")


class WordingSerializer(serializers.ModelSerializer[Wording]):
    written_by = PersonRefSerializer()
    consents = ConsentSerializer(many=True)
    client = ClientField(help_text="the program that sent it")

    class Meta:
        model = Wording
        fields = ("id", "number", "text", "written_by", "consents", "client", "created_at")


class ClauseSerializer(serializers.Serializer[Any]):
    """A topic in the group's own words. `wording`: the one that holds; `missing`: buyers who have
    not agreed to it; `earlier`: the wordings before, the latest first."""

    id = serializers.UUIDField(source="clause.id")
    version = serializers.IntegerField(source="clause.version")
    group = serializers.UUIDField(source="clause.group_id")
    topic = serializers.CharField(source="clause.topic")
    agreed = serializers.BooleanField(help_text="whether everybody who buys agreed to the wording")
    wording = WordingSerializer()
    missing = PersonRefSerializer(many=True)
    earlier = WordingSerializer(many=True)


class SheetTopicSerializer(serializers.Serializer[Any]):
    """`question`: what to settle; `mind`: what is often forgotten; `clause`: null until worded."""

    topic = serializers.CharField(source="topic.code")
    title = serializers.CharField(source="topic.title")
    question = serializers.CharField(source="topic.question")
    mind = serializers.CharField(source="topic.mind")
    clause = ClauseSerializer(allow_null=True)


class SheetSerializer(serializers.Serializer[Any]):
    """`buyers`: those whose consent counts now. `agreed`: on how many topics all of them agreed."""

    caution = serializers.CharField()
    buyers = PersonRefSerializer(many=True)
    agreed = serializers.IntegerField()
    topics = SheetTopicSerializer(many=True)


class WordingBody(StrictBody):
    """The group's own words for one topic."""

    text = serializers.CharField(max_length=4000)


class ConsentBody(ClientIdMixin, StrictBody):
    """Names the wording that was read, so that nobody agrees to words that came after."""

    wording = serializers.IntegerField(min_value=1, max_value=32_767, help_text="its number")
