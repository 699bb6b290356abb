"""A list's beginning and its settings: money, people, invitations."""

import uuid
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import pycountry
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from apps.boats.exchange_rates import brief_warnings, catalogue_currency
from apps.boats.list_models import CandidateList
from apps.boats.selectors import list_for
from apps.groups.models import Group, Invitation, Membership
from apps.groups.rules import ALLOWED, Action
from apps.groups.selectors import groups_for, invitations_of, members_of, shares_of
from apps.http.fields import is_currency
from apps.pages.base import PageView
from apps.pages.codes import address_for_others, is_this_machine

# What of a brief is a part of something, and shown in per cent.
PARTS = ("expected_price_share", "money_off_chance", "tax_rate", "reserve_rate")
# ISO 4217 has more codes than money that a boat is paid in: metals, funds, units of account, tests.
UNIONS = {"XAF", "XCD", "XCG", "XOF", "XPF"}
FUNDS = {"BOV", "CHE", "CHW", "CLF", "COU", "MXV", "USN", "UYI", "UYW"}
CURRENCIES = sorted(
    (one.alpha_3, one.name)
    for one in pycountry.currencies
    if one.alpha_3 in UNIONS or not (one.alpha_3 in FUNDS or one.alpha_3.startswith("X"))
)


class NewListView(PageView):
    """`?group=ID` names the group where the reader organises several."""

    def get(self, request: HttpRequest) -> HttpResponse:
        groups = [g for g in groups_for(self.person).order_by("name") if may_manage(g)]
        asked = request.GET.get("group")
        group = next((g for g in groups if str(g.pk) == asked), None)
        if group is None and len(groups) == 1:
            group = groups[0]
        return self.page(
            "pages/new_list.html",
            groups=groups,
            group=group,
            currencies=CURRENCIES,
            catalogue=catalogue_currency(),
        )


def may_manage(group: Group) -> bool:
    """Whether the reader, whose membership the selector brought along, organises the group."""
    own: list[Membership] = group.own_membership  # type: ignore[attr-defined]  # prefetched
    return own[0].role in ALLOWED[Action.MANAGE]


@dataclass(frozen=True)
class StatedRate:
    """What one unit of a currency is in the list's; None if nobody said."""

    currency: str
    value: str | None


class ListSettingsView(PageView):
    """`?rate=CODE` shows a field for the exchange rate of another currency."""

    def get(self, request: HttpRequest, list_id: uuid.UUID) -> HttpResponse:
        candidate_list = list_for(self.person, list_id)
        catalogue = catalogue_currency()
        members = list(members_of(self.person, candidate_list.group_id).order_by("pk"))
        own = next(one for one in members if one.person_id == self.person.pk)
        manages = own.role in ALLOWED[Action.MANAGE]
        return self.page(
            "pages/list_settings.html",
            list=candidate_list,
            rates=rates_of(candidate_list, catalogue, request.GET.get("rate", "")),
            catalogue=catalogue,
            percents={name: in_percent(getattr(candidate_list, name)) for name in PARTS},
            warnings=brief_warnings(candidate_list, catalogue),
            members=members,
            shares=shares_in_percent(members),
            own=own,
            manages=manages,
            keeps_money=own.role in ALLOWED[Action.ACCOUNT],
            roles=Membership.Role.choices,
            currencies=CURRENCIES,
            **(self.invitations(candidate_list) if manages else {}),
        )

    def invitations(self, candidate_list: CandidateList) -> dict[str, Any]:
        begins = address_for_others(self.request)
        return {
            "invitations": open_ones(invitations_of(self.person, candidate_list.group_id)),
            "begins": begins,
            "for_nobody_else": is_this_machine(begins),
        }


def open_ones(invitations: Any) -> list[Invitation]:
    still_good = {"used_at": None, "withdrawn_at": None, "expires_at__gt": timezone.now()}
    return list(invitations.filter(**still_good).order_by("-created_at"))


def rates_of(candidate_list: CandidateList, catalogue: str | None, asked: str) -> list[StatedRate]:
    """Those the list has, that of the catalogue's money, and one that is asked for."""
    known = candidate_list.exchange_rates
    wanted = {*known, catalogue or ""} | ({asked} if is_currency(asked) else set())
    return [
        StatedRate(currency, known.get(currency))
        for currency in sorted(wanted - {"", candidate_list.currency})
    ]


def shares_in_percent(members: list[Membership]) -> list[tuple[Membership, str]]:
    """Each buyer with the part they pay."""
    buyers = [one for one in members if one.buys]
    shares = shares_of(buyers)
    return [(one, in_percent(shares[one.person_id])) for one in buyers]


def in_percent(part: Decimal) -> str:
    """33.3333 for a third."""
    return f"{part * 100:.4f}".rstrip("0").rstrip(".")
