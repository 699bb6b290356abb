"""The owner of a catalogue, and who may read and change it."""

import uuid
from dataclasses import dataclass

from django.db.models import QuerySet

from apps.accounts.models import Person
from apps.catalogue.own.layers import (
    Layer,
    changes_in_force,
    changes_of,
    layers_of_club,
    layers_of_group,
)
from apps.catalogue.own.models import CatalogueChange
from apps.catalogue.selectors import current_edition, snapshot_with
from apps.catalogue.snapshot import Snapshot
from apps.catalogue.vocabulary import OWN_PREFIX
from apps.groups.models import Club, Group
from apps.groups.rules import Action, ClubAction, require, require_in_club


@dataclass(frozen=True)
class Owner:
    """A club, or a group: `kind` is "club" or "group"."""

    kind: str
    id: uuid.UUID

    @property
    def prefix(self) -> str:
        """The prefix of the codes that the owner adds."""
        return OWN_PREFIX[self.kind]

    def require_reader(self, person: Person) -> None:
        """Require a member. Raises `NotVisible`. One query."""
        if self.kind == "club":
            require_in_club(person, ClubAction.READ, self.id)
        else:
            require(person, Action.READ, self.id)

    def require_curator(self, person: Person) -> None:
        """Require a club's secretary or adviser, or a group's organiser. Also `NotAllowed`."""
        if self.kind == "club":
            require_in_club(person, ClubAction.CURATE, self.id)
        else:
            require(person, Action.MANAGE, self.id)

    def lock(self) -> None:
        """Keep others from changing this catalogue until the transaction ends."""
        model = Club if self.kind == "club" else Group
        model.objects.select_for_update(no_key=True).get(pk=self.id)

    def groups(self) -> list[uuid.UUID]:
        """The groups whose catalogue depends on it, in a fixed order."""
        if self.kind == "group":
            return [self.id]
        groups = Group.objects.filter(club=self.id).order_by("pk")
        return list(groups.values_list("pk", flat=True))

    def layers(self) -> tuple[Layer, ...]:
        return layers_of_club(self.id) if self.kind == "club" else layers_of_group(self.id)

    def snapshots(self) -> tuple[Snapshot, Snapshot]:
        """The catalogue that holds, and the one without the owner's entries. Two queries."""
        edition, layers = current_edition().id, self.layers()
        underlying = tuple(layer for layer in layers if layer.owner != self.kind)
        return snapshot_with(edition, layers), snapshot_with(edition, underlying)

    def edition_of(self, snapshot: Snapshot) -> int:
        """The owner's edition in the snapshot; 0: none."""
        return snapshot.editions[self.kind]

    def changes(self) -> QuerySet[CatalogueChange]:
        return changes_of(self.kind, self.id)

    def changes_in_force(self) -> QuerySet[CatalogueChange]:
        """The changes in force, whether set aside or not."""
        return changes_in_force(self.kind, self.id)
