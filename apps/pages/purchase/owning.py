"""What owners settle and do together: their agreement, the handover, the first season."""

import calendar
import uuid
from collections.abc import Iterable
from decimal import Decimal
from itertools import groupby

from django.http import HttpRequest, HttpResponse
from django.utils.text import capfirst

from apps.accounts.models import Person
from apps.catalogue.selectors import catalogue_snapshot
from apps.groups.rules import Action, actions_of
from apps.ownership.agreement.selectors import sheet_of
from apps.ownership.agreement.topics import NO_LEGAL_ADVICE
from apps.ownership.handover.selectors import handover_of
from apps.ownership.handover.usual import HANDOVER_CAUTION
from apps.ownership.models import Handover, HandoverItem, WorkDecision
from apps.ownership.season.answer import ItemRead, MonthRead, season_answer
from apps.ownership.season.selectors import season_of_boat
from apps.ownership.season.work import State
from apps.pages.base import PageView
from apps.pages.lists.boards import may
from apps.purchase.models import Offer
from apps.purchase.selectors import of_candidate

STARTS = {
    "price": "Price",
    "tax": "Tax",
    "purchase_costs": "Survey, transport and fees",
    "paid": "Paid by bills so far",
    "planned": "Work that is planned",
    "perhaps": "Work that is perhaps needed, by its chance",
}
MONTH_NAMES = [(number, calendar.month_name[number]) for number in range(1, 13)]


class AgreementPageView(PageView):
    def get(self, request: HttpRequest, group_id: uuid.UUID) -> HttpResponse:
        sheet = sheet_of(self.person, group_id)
        return self.page(
            "pages/agreement.html",
            sheet=sheet,
            no_legal_advice=NO_LEGAL_ADVICE,
            may_agree=Action.OPINE in actions_of(self.person, group_id),
        )


class HandoverPageView(PageView):
    def get(self, request: HttpRequest, candidate_id: uuid.UUID) -> HttpResponse:
        read = handover_of(self.person, candidate_id)
        boat, sale = read.candidate, read.handover
        agreed = None if sale else agreed_price(self.person, boat.pk)
        return self.page(
            "pages/handover.html",
            read=read,
            boat=boat,
            kinds=list(by_kind(read.items)),
            kind_choices=HandoverItem.Kind.choices,
            handover_caution=HANDOVER_CAUTION,
            price_currency=(sale and sale.price_currency)
            or (agreed and agreed.currency)
            or boat.list.currency,
            price_amount=plain(price_of(sale, agreed)),
            engine_hours=sale.engine_hours if sale else None,
            may=may(self.person, boat.list.group_id),
        )


class ShownItem(ItemRead):
    enabling_titles: list[str]
    caution_titles: list[str]


class ShownMonth(MonthRead):
    enabling_titles: list[str]


class SeasonPageView(PageView):
    def get(self, request: HttpRequest, candidate_id: uuid.UUID) -> HttpResponse:
        read = season_of_boat(self.person, candidate_id)
        boat, answer = read.candidate, season_answer(read)
        catalogue = catalogue_snapshot(boat.list.group_id).catalogue
        enabling = {code: one.title for code, one in catalogue.enabling.items()}
        cautions = {code: one.title for code, one in catalogue.cautions.items()}
        season, keeping = answer["season"], answer["keeping"]
        work: list[ShownItem] = [
            {
                **one,
                "enabling_titles": [enabling.get(code, code) for code in one["enabling"]],
                "caution_titles": [cautions[code] for code in one["cautions"] if code in cautions],
            }
            for one in (season["work"] if season else ())
        ]
        return self.page(
            "pages/season.html",
            boat=boat,
            answer=answer,
            season=season,
            works=by_state(work) if season else (),
            months=list(busy_months(season["months"], enabling)) if season else (),
            buyers=[one.name for one in read.buyers.values()],
            keeping=keeping,
            start=[(STARTS[one["code"]], one["amount"]) for one in keeping["start"]]
            if keeping
            else (),
            settings=read.settings,
            most_a_month=plain(read.settings.most_a_month),
            resale=plain(read.settings.resale),
            month_names=MONTH_NAMES,
            choices=WorkDecision.Choice.choices,
            may=may(self.person, boat.list.group_id),
        )


def agreed_price(person: Person, boat: uuid.UUID) -> Offer | None:
    """The offer that was accepted."""
    return of_candidate(Offer, person, boat).filter(state=Offer.State.ACCEPTED).first()


def price_of(sale: Handover | None, agreed: Offer | None) -> Decimal | None:
    """As the bill of sale has it, or before there is one as it was agreed."""
    price: Decimal | None = agreed.amount if agreed else None
    if sale is not None:
        price = sale.price_amount
    return price


def plain(amount: Decimal | None) -> str | None:
    """For a field: with a point in every language."""
    return None if amount is None else f"{amount:.2f}"


def by_kind(items: Iterable[HandoverItem]) -> Iterable[tuple[str, list[HandoverItem]]]:
    order = list(HandoverItem.Kind)
    ordered = sorted(items, key=lambda one: order.index(HandoverItem.Kind(one.kind)))
    for kind, of_it in groupby(ordered, key=lambda one: HandoverItem.Kind(one.kind)):
        yield capfirst(str(kind.label)), list(of_it)


def by_state(work: list[ShownItem]) -> list[tuple[str, bool, list[ShownItem]]]:
    """Planned safety work, the other planned work, and the rest: title, whether folded, items."""

    def of(state: State, safety: bool | None = None) -> list[ShownItem]:
        return [
            one
            for one in work
            if one["state"] == state and (safety is None or one["safety"] == safety)
        ]

    return [
        (
            "Safety: structure, flooding, what keeps you on board",
            False,
            of(State.PLANNED, safety=True),
        ),
        ("What else is planned", False, of(State.PLANNED, safety=False)),
        ("Perhaps needed, not planned", True, of(State.PERHAPS)),
        ("Left, as you decided", True, of(State.LEFT)),
        ("Done", True, of(State.DONE)),
    ]


def busy_months(months: list[MonthRead], titles: dict[str, str]) -> Iterable[ShownMonth]:
    """Months in which something happens."""
    for one in months:
        if one["own_hours"] or one["enabling"] or Decimal(one["cost"]):
            yield {**one, "enabling_titles": [titles.get(code, code) for code in one["enabling"]]}
