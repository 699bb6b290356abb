"""Serializers of the documents of gates."""

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.boats.gates.kinds import KINDS
from apps.http.pages import PageQuery
from apps.viewings.api.media_serializers import ADDRESS, OF_ALL, MediaBody, PictureSerializer
from apps.viewings.media.document_models import GateDocument
from apps.viewings.media.models import Media

GATES = [(kind.code, kind.title) for kind in KINDS]


class GateDocumentsQuery(PageQuery):
    gate = serializers.ChoiceField(GATES, required=False, help_text="only those of this gate")


class GateDocumentSerializer(PictureSerializer):
    """A picture of a paper as JPEG, or a PDF as it came: then `image` is null."""

    pdf = serializers.SerializerMethodField()

    class Meta:
        model = GateDocument
        fields = (*OF_ALL, "gate", "kept_as", "image", "thumbnail", "pdf")

    @extend_schema_field(ADDRESS)
    def get_pdf(self, document: Media) -> str | None:
        return self.address(document, "pdf")


class GateDocumentBody(MediaBody):
    """One document that shows what a gate asks."""

    gate = serializers.ChoiceField(GATES, help_text="the code of the gate")
    file = serializers.FileField(help_text="PDF, JPEG, PNG, WebP or HEIC")
