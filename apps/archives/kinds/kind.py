"""The description of one kind of row in an archive."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.db.models import Model, Q, QuerySet

from apps.viewings.media.models import Media

CLIENT = ("client_kind", "client_name")
READY = Q(state=Media.State.READY)


@dataclass(frozen=True)
class ArchivedKind:
    """One kind of row: `fields` of `model`; each row belongs to a group and the people in `own`.

    shared: the rows that belong to the group; only their authors get the others. by_outsiders:
    whether a person's rows in a group that they never belonged to are theirs, because nothing in
    these is anybody else's. computed: fields written for readers, which an import computes again.
    file: the form of the file of each row, or the field that names it. borrowed: the path by which
    the group uses other rows, such as the club's; in an archive they are the group's own. later:
    whether older archives may lack a file of this kind. later_fields: fields that rows of older
    archives may lack.
    """

    name: str
    model: type[Model]
    group: str
    fields: tuple[str, ...]
    own: tuple[str, ...]
    shared: Q = field(default_factory=Q)
    kept: Q = field(default_factory=Q)
    by_outsiders: bool = False
    computed: tuple[str, ...] = ()
    file: str = ""
    borrowed: str = ""
    later: bool = False
    later_fields: tuple[str, ...] = ()

    def of_group(self, group_id: UUID) -> QuerySet[Any]:
        """The records that the group owns or uses."""
        records = self.model._base_manager
        theirs = Q(**{self.group: group_id})
        if self.borrowed:
            used = records.filter(self.kept, **{self.borrowed: group_id})
            theirs |= Q(pk__in=used.values("pk"))
        return records.filter(theirs)

    @property
    def file_name(self) -> str:
        return f"{self.name}.jsonl"

    def media_name(self, row: Mapping[str, Any]) -> str:
        """The path of a row's file in the archive."""
        return f"{self.name}/{row['id']}{self.media.FORMS.get(self.form_of(row), '')}"

    def form_of(self, row: Mapping[str, Any]) -> str:
        return str(row.get(self.file, self.file))

    @property
    def media(self) -> type[Media]:
        """Of a kind with files."""
        assert issubclass(self.model, Media)
        return self.model
