"""The common money of a group: entries, balances, and the payments that settle."""

import csv
import io
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from apps.events.models import Event
from apps.expenses.models import EntryPart, Ledger, LedgerEntry
from apps.expenses.records import ledger_faults
from apps.groups.models import Membership
from tests.conftest import Speaker, pointers


@pytest.fixture
def path(cast):
    """The path of a group with a ledger in euros."""
    at = f"/groups/{cast.group.id}"
    assert cast.ola.put(f"{at}/ledger", {"currency": "EUR"}).status_code == 201
    return at


def id_of(who: Speaker) -> str:
    assert who.person is not None
    return str(who.person.pk)


def euros(amount: str) -> dict[str, str]:
    return {"amount": amount, "currency": "EUR"}


def expense(cast, amount="90.00", **changed):
    body = {
        "what": "Ferry and fuel",
        "purpose": "journey",
        "paid_by": id_of(cast.ben),
        "paid": euros(amount),
        "paid_on": "2025-04-20",
        "rule": "equal",
        **changed,
    }
    return cast.ben.post(f"/groups/{cast.group.id}/expenses", body)


def payment(cast, amount, to, by=None):
    body = {
        "paid_by": id_of(by or cast.bea),
        "to": id_of(to),
        "paid": euros(amount),
        "paid_on": "2025-05-02",
    }
    return cast.bea.post(f"/groups/{cast.group.id}/payments", body)


def balances(cast) -> dict[str, str]:
    answer = cast.ola.get(f"/groups/{cast.group.id}/ledger").json()
    return {one["person"]["name"]: one["balance"] for one in answer["balances"]}


def test_it_works(cast, path):
    made = expense(cast, "100.00")
    assert made.status_code == 201, made.content
    said = made.json()
    assert (said["number"], said["kind"], said["amount"], said["currency"]) == (
        1,
        "expense",
        "100.00",
        "EUR",
    )
    # The odd cent goes to one of the three equal remainders.
    assert sorted(part["amount"] for part in said["parts"]) == ["33.33", "33.33", "33.34"]
    assert cast.bea.get(f"/ledger-entries/{said['id']}").json() == said
    assert Event.objects.latest("number").kind == "entry.expense_added"
    assert sum(map(Decimal, balances(cast).values())) == 0


def test_the_odd_cent_is_another_persons_each_time(cast, path):
    for _ in range(3):
        expense(cast, "100.00")
    answer = cast.ola.get(f"{path}/ledger").json()
    assert {one["owed"] for one in answer["balances"]} == {"100.00"}


def test_the_fewest_payments_settle(cast, path):
    expense(cast, "90.00")  # Ben paid for three
    expense(cast, "60.00", paid_by=id_of(cast.bea), people=[id_of(cast.bea), id_of(cast.ola)])
    ledger = cast.ola.get(f"{path}/ledger").json()
    assert balances(cast) == {"Ben": "60.00", "Bea": "0.00", "Ola": "-60.00"}
    assert [
        (one["payer"]["name"], one["payee"]["name"], one["amount"]) for one in ledger["payments"]
    ] == [("Ola", "Ben", "60.00")]
    assert payment(cast, "60.00", to=cast.ben, by=cast.ola).status_code == 201
    assert set(balances(cast).values()) == {"0.00"}
    assert cast.ola.get(f"{path}/ledger").json()["payments"] == []


def test_by_shares_of_the_purchase(cast, path):
    shares = [
        {"person": id_of(cast.ola), "share": "0.500000"},
        {"person": id_of(cast.ben), "share": "0.300000"},
        {"person": id_of(cast.bea), "share": "0.200000"},
    ]
    cast.ola.change("PUT", f"{path}/shares", {"shares": shares})
    said = expense(cast, "18000.01", rule="shares", purpose="price").json()
    owed = {part["person"]["name"]: part["amount"] for part in said["parts"]}
    assert owed == {"Ola": "9000.01", "Ben": "5400.00", "Bea": "3600.00"}


def test_by_shares_that_nobody_set_they_are_equal(cast, path):
    said = expense(cast, "90.00", rule="shares")
    assert said.status_code == 201, said.content
    assert {part["amount"] for part in said.json()["parts"]} == {"30.00"}
    assert ledger_faults(Ledger.objects.get()) == []


def test_without_a_buyer_it_is_asked_who_shares(cast, path):
    Membership.objects.filter(group=cast.group).update(buys=False, share=None)
    assert pointers(expense(cast)) == {"/rule"}
    assert pointers(expense(cast, rule="shares")) == {"/rule"}
    assert expense(cast, people=[id_of(cast.ben)]).status_code == 201


def test_by_use(cast, path):
    weights = [
        {"person": id_of(cast.ola), "weight": "7"},
        {"person": id_of(cast.ben), "weight": "14"},
    ]
    said = expense(cast, "100.00", rule="use", weights=weights).json()
    owed = {part["person"]["name"]: part["amount"] for part in said["parts"]}
    assert owed == {"Ola": "33.33", "Ben": "66.67"}


def test_in_another_currency_with_the_rate_its_source_and_day(cast, path):
    paid = {"amount": "100.00", "currency": "GBP"}
    exchange = {"rate": "1.1734", "known_from": "the bank's statement", "on": "2025-04-20"}
    said = expense(cast, paid=paid, exchange=exchange).json()
    assert (said["amount"], said["paid"]) == ("117.34", paid)
    assert (said["rate"], said["rate_known_from"], said["rate_on"]) == (
        "1.17340000",
        "the bank's statement",
        "2025-04-20",
    )
    assert pointers(expense(cast, paid=paid)) == {"/exchange"}
    assert pointers(expense(cast, exchange=exchange)) == {"/exchange"}
    huge = {**exchange, "rate": "9999999999.00000000"}
    much = {"amount": "999999999999.99", "currency": "GBP"}
    assert pointers(expense(cast, paid=much, exchange=huge)) == {"/exchange/rate"}


def test_sums_of_the_largest_amounts_are_read(cast, path):
    for _ in range(11):
        assert expense(cast, "999999999999.99").status_code == 201
    assert balances(cast)["Ben"].startswith("7333333333333.")


def test_a_mistake_is_taken_back_and_both_stay(cast, path):
    first = expense(cast).json()
    at = f"/ledger-entries/{first['id']}/reversals"
    back = cast.bea.post(at, {"reason": "It was Ola's own", "on": "2025-04-21"})
    assert back.status_code == 201, back.content
    assert (back.json()["amount"], back.json()["reverses"]) == ("-90.00", first["id"])
    assert set(balances(cast).values()) == {"0.00"}
    again = cast.ben.get(f"/ledger-entries/{first['id']}").json()
    assert again["reversed_by"] == back.json()["id"]
    twice = cast.bea.post(at, {"reason": "Again", "on": "2025-04-21"})
    assert (twice.status_code, twice.json()["code"]) == (409, "reversed_already")
    at = f"/ledger-entries/{back.json()['id']}/reversals"
    of_it = cast.bea.post(at, {"reason": "No", "on": "2025-04-21"})
    assert (of_it.status_code, of_it.json()["code"]) == (409, "a_reversal")


def test_bad_input_is_pointed_at_and_nothing_is_stored(cast, path):
    tomorrow = str((timezone.now() + timedelta(days=3)).date())
    assert pointers(expense(cast, paid_on=tomorrow)) == {"/paid_on"}
    assert pointers(expense(cast, paid_by=id_of(cast.wim))) == {"/paid_by"}
    assert pointers(expense(cast, people=[id_of(cast.wim)])) == {"/people/0"}
    assert pointers(expense(cast, candidate=str(cast.group.id))) == {"/candidate"}
    assert pointers(expense(cast, rule="use")) == {"/weights"}
    assert pointers(expense(cast, rule="shares", people=[id_of(cast.ben)])) == {"/people"}
    ben_twice = [{"person": id_of(cast.ben), "weight": "1"}] * 2
    assert pointers(expense(cast, rule="use", weights=ben_twice)) == {"/weights"}
    assert pointers(payment(cast, "5.00", to=cast.bea)) == {"/to"}
    assert not LedgerEntry.objects.exists()


def test_without_a_ledger(cast):
    assert cast.ola.get(f"/groups/{cast.group.id}/ledger").status_code == 404
    refused = expense(cast)
    assert (refused.status_code, refused.json()["code"]) == (409, "no_ledger")


def test_the_currency_can_be_changed_until_the_first_entry(cast, path):
    at = f"{path}/ledger"
    held = cast.ola.get(at)["ETag"]
    changed = cast.ola.put(at, {"currency": "GBP"}, If_Match=held)
    assert (changed.status_code, changed.json()["currency"]) == (200, "GBP")
    stale = cast.ola.put(at, {"currency": "USD"}, If_Match=held)
    assert stale.status_code == 412
    assert cast.ola.put(at, {"currency": "USD"}).status_code == 428
    expense(cast, paid={"amount": "9.00", "currency": "GBP"})
    refused = cast.ola.change("PUT", at, {"currency": "USD"})
    assert (refused.status_code, refused.json()["code"]) == (409, "has_entries")


def test_only_organisers_and_buyers_see_it(cast, path):
    for who, status in ((cast.hal, 403), (cast.ivy, 403), (cast.wim, 404), (cast.nobody, 401)):
        for at in ("ledger", "ledger.csv", "ledger-entries"):
            assert who.get(f"{path}/{at}").status_code == status


def test_the_same_id_is_stored_once(cast, path, fresh_id):
    assert expense(cast, id=str(fresh_id)).status_code == 201
    assert expense(cast, id=str(fresh_id)).json()["code"] == "id_taken"
    assert LedgerEntry.objects.count() == 1


def test_who_left_can_still_be_settled_with(cast, path):
    expense(cast)
    membership = cast.membership(cast.bea)
    cast.ola.change("DELETE", f"/members/{membership.pk}")
    body = {
        "paid_by": id_of(cast.bea),
        "to": id_of(cast.ben),
        "paid": euros("30.00"),
        "paid_on": "2025-05-02",
    }
    assert cast.ola.post(f"{path}/payments", body).status_code == 201
    assert balances(cast)["Bea"] == "0.00"


def test_the_table_has_every_entry_and_the_sums_agree(cast, path):
    expense(cast, "100.00", what="=cmd", note="Both ways")
    payment(cast, "33.33", to=cast.ben)
    answer = cast.ola.get(f"{path}/ledger.csv")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode())))
    assert [row["what"] for row in rows] == ["'=cmd", "Settled"]
    for row in rows:
        owed = sum(Decimal(cell) for name, cell in row.items() if name.startswith("owed") and cell)
        assert owed == Decimal(row["amount"])


def test_reading_takes_as_many_queries_for_one_entry_as_for_many(
    cast, path, django_assert_num_queries
):
    expense(cast)
    for _ in range(2):
        with django_assert_num_queries(6):
            cast.ola.get(f"{path}/ledger")
        with django_assert_num_queries(5):
            cast.ola.get(f"{path}/ledger-entries")
        for _ in range(5):
            expense(cast)


# --- The chain of digests --------------------------------------------------------------------


@pytest.fixture
def ledger(cast, path):
    expense(cast)
    expense(cast, "10.00")
    payment(cast, "5.00", to=cast.ben)
    return Ledger.objects.get()


def test_a_ledger_that_was_only_added_to_has_no_faults(ledger):
    assert ledger_faults(ledger) == []
    call_command("verify_chains")


@pytest.mark.parametrize(
    "tamper",
    [
        lambda: LedgerEntry.objects.filter(number=2).update(amount="11.00"),
        lambda: LedgerEntry.objects.filter(number=2).update(what="Something else"),
        lambda: LedgerEntry.objects.filter(number=1).update(record="{}"),
        lambda: EntryPart.objects.filter(entry__number=3).update(amount="4.00"),
        lambda: LedgerEntry.objects.filter(number=3).delete(),
        lambda: LedgerEntry.objects.filter(number=2).delete(),
        lambda: Ledger.objects.update(digest="0" * 64),
    ],
)
def test_every_change_is_found(ledger, tamper):
    tamper()
    ledger.refresh_from_db()
    assert ledger_faults(ledger)
    with pytest.raises(CommandError):
        call_command("verify_chains")
