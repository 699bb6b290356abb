"""Who shares an expense, and how much each owes of it."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from apps.common.errors import FieldFault
from apps.expenses.models import EntryPart, LedgerEntry
from apps.expenses.records import CENT
from apps.groups.models import Group, Membership
from apps.groups.selectors import shares_of
from apps.reckoning.settling import apportion


@dataclass(frozen=True)
class Sharing:
    """Who shares an expense, and by which rule.

    people: for the rule equal; nobody named: everybody who buys. weights: for the rule use.
    """

    rule: LedgerEntry.Rule
    people: Sequence[uuid.UUID] = ()
    weights: Mapping[uuid.UUID, Decimal] = field(default_factory=dict)


def members_of(group: Group) -> dict[uuid.UUID, Membership]:
    """Everybody who is or was in the group; of several memberships the last one."""
    found = Membership.objects.filter(group=group).order_by("created_at")
    return {membership.person_id: membership for membership in found}


def people_faults(
    named: Mapping[str, uuid.UUID], members: Mapping[uuid.UUID, Membership]
) -> list[FieldFault]:
    return [
        FieldFault(pointer, "not_a_member", f"{person} is not and was not in the group.")
        for pointer, person in named.items()
        if person not in members
    ]


def weights_of(
    sharing: Sharing, members: Mapping[uuid.UUID, Membership]
) -> tuple[dict[uuid.UUID, Decimal], list[FieldFault]]:
    """The weight of each person, and what is wrong with the rule."""
    buyers = {id: one for id, one in members.items() if one.buys and one.ended_at is None}
    if not buyers and not sharing.people and sharing.rule != LedgerEntry.Rule.USE:
        return {}, [FieldFault("/rule", "no_weight", "Nobody buys here: say who shares it.")]
    if sharing.rule == LedgerEntry.Rule.SHARES:
        return shares_of(buyers.values()), []
    if sharing.rule == LedgerEntry.Rule.EQUAL:
        people = list(sharing.people or buyers)
        pointers = {f"/people/{place}": id for place, id in enumerate(people)}
        return dict.fromkeys(people, Decimal(1)), people_faults(pointers, members)
    pointers = {f"/weights/{place}/person": id for place, id in enumerate(sharing.weights)}
    faults = people_faults(pointers, members)
    if not any(sharing.weights.values()):
        faults.append(FieldFault("/weights", "no_weight", "Say who used how much."))
    return dict(sharing.weights), faults


def parts_of(amount: Decimal, weights: Mapping[uuid.UUID, Decimal], turn: int) -> list[EntryPart]:
    """The amount shared out by the weights; no cent is lost.

    turn: the number of the entry. Whoever comes first gets a cent that is left over, and each entry
    begins with another person.
    """
    people = sorted(weights)
    first = turn % len(people)
    people = [*people[first:], *people[:first]]
    cents = apportion(int(amount / CENT), [Fraction(weights[person]) for person in people])
    return [
        EntryPart(person_id=person, weight=weights[person], amount=part * CENT)
        for person, part in zip(people, cents, strict=True)
    ]
