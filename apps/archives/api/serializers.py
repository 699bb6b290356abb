from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request

from apps.accounts.api.serializers import PersonRefSerializer
from apps.archives import links
from apps.archives.models import Export, Import
from apps.boats.api.fields import StrictBody
from apps.http.views import person_of


class LinkSerializer(serializers.Serializer[Any]):
    url = serializers.CharField(help_text="works without a token: keep it as secret as one")
    expires_at = serializers.DateTimeField()


def link(found: tuple[str, Any]) -> dict[str, Any]:
    url, expires_at = found
    return LinkSerializer({"url": url, "expires_at": expires_at}).data


class CountsField(serializers.DictField):
    """Rows by kind."""

    child = serializers.IntegerField()


def failing() -> serializers.BooleanField:
    return serializers.BooleanField(
        read_only=True,
        help_text="the last attempt failed in the service; it is tried again",
    )


class ExportSerializer(serializers.ModelSerializer[Export]):
    """An export. FORMAT.md in apps/archives describes its content."""

    asked_by = PersonRefSerializer()
    failing = failing()
    counts = CountsField(help_text="rows of each kind, once it is ready")
    left_out = CountsField(
        help_text="others' drafts and hidden opinions, and files that are not ready, counted"
    )
    sha256 = serializers.CharField(source="digest", help_text="of the file, in hex")
    download = serializers.SerializerMethodField(
        help_text="only for the person who asked, while it is ready; read this again for a new link"
    )

    class Meta:
        model = Export
        fields = (
            "id",
            "version",
            "group",
            "asked_by",
            "state",
            "failing",
            "storage_failing_since",
            "counts",
            "left_out",
            "size_bytes",
            "sha256",
            "download",
            "expires_at",
            "created_at",
        )
        read_only_fields = fields

    @extend_schema_field(LinkSerializer(allow_null=True))
    def get_download(self, export: Export) -> dict[str, Any] | None:
        request: Request = self.context["request"]
        if export.state != Export.State.READY or export.asked_by_id != person_of(request).pk:
            return None
        return link(links.download_link(request, export))


class ImportBody(StrictBody):
    name = serializers.CharField(
        max_length=120, required=False, help_text="of the new group; as archived if left out"
    )


class ImportFaultSerializer(serializers.Serializer[Any]):
    file = serializers.CharField()
    line = serializers.IntegerField(help_text="0: the file as a whole")
    field = serializers.CharField()
    code = serializers.CharField()
    detail = serializers.CharField()


class ImportSerializer(serializers.ModelSerializer[Import]):
    """An import."""

    failing = failing()
    counts = CountsField(help_text="rows of each kind, once it is done")
    faults = ImportFaultSerializer(many=True, help_text="why it was refused")
    notes = serializers.ListField(
        child=serializers.CharField(), help_text="what differs from the original, in sentences"
    )
    group = serializers.SerializerMethodField(help_text="the new group, once it is done")
    upload = serializers.SerializerMethodField(help_text="where to PUT the file (application/zip)")

    class Meta:
        model = Import
        fields = (
            "id",
            "version",
            "name",
            "state",
            "failing",
            "storage_failing_since",
            "group",
            "counts",
            "faults",
            "notes",
            "upload",
            "created_at",
        )
        read_only_fields = fields

    @extend_schema_field(serializers.UUIDField(allow_null=True))
    def get_group(self, opened: Import) -> Any:
        return opened.group_id if opened.state == Import.State.DONE else None

    @extend_schema_field(LinkSerializer(allow_null=True))
    def get_upload(self, opened: Import) -> dict[str, Any] | None:
        if opened.state != Import.State.UPLOAD:
            return None
        return link(links.upload_link(self.context["request"], opened))


class DeletionBody(StrictBody):
    password = serializers.CharField(
        max_length=256, trim_whitespace=False, help_text="confirms that it is you"
    )
