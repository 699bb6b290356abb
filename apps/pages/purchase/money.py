"""The common money of a group: who owes whom, what was paid, and what settles it."""

import uuid

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.text import capfirst

from apps.accounts.models import Person
from apps.boats.selectors import candidates_visible
from apps.expenses import selectors
from apps.expenses.models import LedgerEntry
from apps.groups.selectors import members_of
from apps.pages.base import PageView
from apps.pages.lists.lists import CURRENCIES, shares_in_percent

RULES = [
    (LedgerEntry.Rule.EQUAL.value, "Equally between everybody who buys"),
    (LedgerEntry.Rule.SHARES.value, "By the buyers' shares of the purchase"),
    (LedgerEntry.Rule.USE.value, "By how much each of you used it"),
]
SHOWN = 100  # entries; the table has all


class MoneyView(PageView):
    def get(self, request: HttpRequest, group_id: uuid.UUID) -> HttpResponse:
        group, ledger = selectors.ledger_if_any(self.person, group_id)
        members = [one for one in members_of(self.person, group_id) if one.person.kind == "person"]
        return self.page(
            "pages/money.html",
            group=group,
            ledger=ledger,
            account=ledger and selectors.account_of(self.person, group_id),
            entries=ledger and list(selectors.entries_of(self.person, group_id)[:SHOWN]),
            people=[(one.person_id, one.person.name) for one in members],
            shares=shares_in_percent(members),
            currencies=CURRENCIES,
            purposes=[(value, capfirst(words)) for value, words in LedgerEntry.Purpose.choices],
            rules=RULES,
            boats=boats_of(self.person, group_id),
            today=timezone.localdate(),
        )


def boats_of(person: Person, group_id: uuid.UUID) -> list[tuple[str, str]]:
    """The group's boats to choose from, none first."""
    boats = candidates_visible(person).filter(list__group=group_id).order_by("name", "pk")
    return [("", "None of them alone"), *((str(one.pk), one.name) for one in boats)]
