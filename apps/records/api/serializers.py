from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.records.models import RecordEntry
from apps.records.selectors import EntryContent, RecordReader


class RecordContentSerializer(serializers.Serializer[Any]):
    """What happened. Ids in `facts` are those of the service where it was entered."""

    kind = serializers.CharField(help_text="of the event, as candidate.stage_changed")
    words = serializers.CharField(help_text="what happened, without names")
    thing = serializers.CharField(help_text="kind of what it happened to, as viewing")
    thing_id = serializers.UUIDField()
    facts = serializers.DictField(help_text="what happened, as data")


class RecordEntrySerializer(serializers.ModelSerializer[RecordEntry]):
    """One entry. `content`, `by`: null where they are withheld from the reader."""

    by = serializers.SerializerMethodField()
    content = serializers.SerializerMethodField()

    class Meta:
        model = RecordEntry
        fields = ("id", "number", "at", "of_list", "by", "content", "text_digest", "digest")

    def _content(self, entry: RecordEntry) -> EntryContent | None:
        reader: RecordReader = self.context["reader"]
        return reader.content_of(entry)

    @extend_schema_field(PersonRefSerializer(allow_null=True))
    def get_by(self, entry: RecordEntry) -> Any:
        visible = entry.by is not None and self._content(entry) is not None
        return PersonRefSerializer(entry.by).data if visible else None

    @extend_schema_field(RecordContentSerializer(allow_null=True))
    def get_content(self, entry: RecordEntry) -> Any:
        content = self._content(entry)
        return None if content is None else RecordContentSerializer(content).data


class NamedRefSerializer(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    name = serializers.CharField()


class RecordedTextSerializer(serializers.Serializer[Any]):
    number = serializers.IntegerField()
    text = serializers.CharField(
        allow_null=True, help_text="null: about another boat, or withheld from the reader"
    )
    text_digest = serializers.CharField()
    digest = serializers.CharField()


class RecordDocumentSerializer(serializers.Serializer[Any]):
    """The record of a boat as a file that can be checked without this service."""

    format = serializers.CharField()
    version = serializers.IntegerField()
    boat = NamedRefSerializer()
    list = NamedRefSerializer()
    caution = serializers.CharField()
    how_to_check = serializers.ListField(child=serializers.CharField())
    people = serializers.DictField(
        child=serializers.CharField(), help_text="names by the ids in the texts"
    )
    entries_made = serializers.IntegerField()
    digest = serializers.CharField(help_text="of the last entry; empty if there is none")
    entries = RecordedTextSerializer(many=True)
