"""A club's or a group's own catalogue in the API."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.catalogue.api.serializers import ContentSerializer, EditionsSerializer
from apps.catalogue.own.differences import DIFFERENCES
from apps.catalogue.own.kinds import KINDS
from apps.catalogue.own.layers import entry_of
from apps.catalogue.own.models import CatalogueChange
from apps.catalogue.own.selectors import AGAINST, AS_UNDERLYING, UNDERLYING
from apps.catalogue.snapshot import CostBasis
from apps.catalogue.vocabulary import OWNERS
from apps.http.bodies import StrictBody
from apps.http.pages import PageQuery

Kind, State = CatalogueChange.Kind, CatalogueChange.State
STATES = [(AS_UNDERLYING, "as the underlying layer has it"), *State.choices[:2]]

ENTRY = {
    "type": "object",
    "additionalProperties": True,
    "description": "an entry of its kind: figures are numbers in the catalogue's `money`",
}


@extend_schema_field({**ENTRY, "type": ["object", "null"]})
class MaybeEntryField(serializers.JSONField):
    """An entry, or null."""


class OwnField(serializers.DictField):
    """The owner's entry; its shape depends on the kind, whose checks apply."""


SHAPES = {
    f"{name}{'' if shape is kind.whole else ', as an overlay'}": shape
    for name, kind in KINDS.items()
    for shape in (kind.whole, kind.over)
}


@extend_schema_field(
    {
        "description": "the entry in the shape of its kind. For a thing in the underlying layer "
        "already: all of a "
        "checkpoint, the changed fields of anything priced, the text added to a caution",
        "anyOf": [{"title": title, **shape} for title, shape in SHAPES.items()],
    }
)
class DescribedOwnField(OwnField):
    """The same with a description."""


class EntryBody(StrictBody):
    """Either `own`, or `left_out`."""

    own = DescribedOwnField(required=False)
    left_out = serializers.BooleanField(
        required=False, help_text="true: leave out the entry of the underlying layer"
    )
    note = serializers.CharField(
        required=False,
        allow_blank=True,
        default="",
        max_length=1000,
        help_text="the reason and the source",
    )

    def validate(self, payload: dict[str, Any]) -> dict[str, Any]:
        if ("own" in payload) == bool(payload.get("left_out")):
            raise serializers.ValidationError(
                {
                    "own": serializers.ErrorDetail(
                        "Give either `own`, or `left_out` true.", code="either_or"
                    )
                }
            )
        return payload


class MoneyBasisSerializer(ContentSerializer):
    """The currency, year and boat length of all entries' figures."""

    of = CostBasis


class CatalogueEntrySerializer(serializers.Serializer[Any]):
    """One thing as it holds here."""

    kind = serializers.ChoiceField(Kind.choices)
    code = serializers.CharField()
    title = serializers.CharField()
    whose = serializers.ChoiceField(OWNERS, help_text="whose entry holds")
    state = serializers.ChoiceField(STATES)
    effective = MaybeEntryField(help_text="the whole entry that holds; null if left out")
    own = MaybeEntryField(help_text="the owner's entry as it was sent; null if none")
    underlying = MaybeEntryField(help_text="the underlying entry; null if there is none")
    set_aside = serializers.CharField(
        allow_null=True, help_text="why the owner's entry does not hold at present"
    )
    edition = serializers.IntegerField(
        source="change.number",
        default=None,
        allow_null=True,
        help_text="edition it began",
    )
    note = serializers.CharField(source="change.note", default="", allow_blank=True)
    by = PersonRefSerializer(source="change.by", default=None, allow_null=True)
    at = serializers.DateTimeField(source="change.created_at", default=None, allow_null=True)


class CatalogueEntryListSerializer(serializers.Serializer[Any]):
    """All entries of a kind, on a single page."""

    editions = EditionsSerializer()
    money = MoneyBasisSerializer()
    results = CatalogueEntrySerializer(many=True)
    next = serializers.CharField(allow_null=True, default=None, help_text="always null")


class KindCountSerializer(serializers.Serializer[Any]):
    kind = serializers.ChoiceField(Kind.choices)
    things = serializers.IntegerField(help_text="how many entries hold")
    own = serializers.IntegerField(help_text="how many have an entry of the owner")
    left_out = serializers.IntegerField()


class SetAsideSerializer(serializers.Serializer[Any]):
    owner = serializers.ChoiceField(OWNERS[1:])
    kind = serializers.ChoiceField(Kind.choices)
    code = serializers.CharField()
    why = serializers.CharField()


class OwnCatalogueSerializer(serializers.Serializer[Any]):
    """What holds, in numbers."""

    editions = EditionsSerializer()
    money = MoneyBasisSerializer()
    kinds = KindCountSerializer(many=True)
    set_aside = SetAsideSerializer(many=True, help_text="entries that no longer fit, and why")
    caution = serializers.CharField()


class CatalogueChangeSerializer(serializers.ModelSerializer[CatalogueChange]):
    """A change, kept for good; it begins an edition."""

    edition = serializers.IntegerField(source="number")
    state = serializers.ChoiceField(State.choices)
    own = serializers.SerializerMethodField()
    by = PersonRefSerializer()
    at = serializers.DateTimeField(source="created_at")

    class Meta:
        model = CatalogueChange
        fields = ("id", "edition", "kind", "code", "state", "own", "note", "by", "at")

    @extend_schema_field({**ENTRY, "type": ["object", "null"]})
    def get_own(self, change: CatalogueChange) -> Any:
        return entry_of(change).payload


class EditionsQuery(PageQuery):
    kind = serializers.ChoiceField(Kind.choices, required=False, help_text="only of this kind")
    code = serializers.SlugField(required=False, help_text="only of this code")


class DifferencesQuery(serializers.Serializer[Any]):
    against = serializers.ChoiceField(
        AGAINST,
        default=UNDERLYING,
        help_text="base: compare with the base; then no `from_edition`",
    )
    from_edition = serializers.IntegerField(
        default=0, min_value=0, max_value=2**31 - 1, help_text="0: the underlying layer"
    )
    to_edition = serializers.IntegerField(
        required=False, min_value=0, max_value=2**31 - 1, help_text="the latest if left out"
    )


@extend_schema_field({"description": "the value, or null if the entry does not have it"})
class ValueField(serializers.JSONField):
    """Any part of an entry."""


class FieldDifferenceSerializer(serializers.Serializer[Any]):
    field = serializers.CharField()
    before = ValueField()
    after = ValueField()


class DifferenceSerializer(serializers.Serializer[Any]):
    kind = serializers.ChoiceField(Kind.choices)
    code = serializers.CharField()
    title = serializers.CharField()
    difference = serializers.ChoiceField(DIFFERENCES)
    fields = FieldDifferenceSerializer(many=True)  # type: ignore[assignment]  # the framework takes fields off the class


class DifferencesSerializer(serializers.Serializer[Any]):
    editions = EditionsSerializer(help_text="editions of the later catalogue")
    results = DifferenceSerializer(many=True)
    next = serializers.CharField(allow_null=True, default=None, help_text="always null")
