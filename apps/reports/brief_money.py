"""What is open before a boat is bought, and what members paid for each other."""

from collections.abc import Iterator

from apps.boats.gates.kinds import BY_CODE, LOCAL_LAW
from apps.boats.gates.models import Gate
from apps.expenses.selectors import Account
from apps.reports import words
from apps.reports.content import (
    Bullets,
    CautionFrame,
    Column,
    Line,
    Paragraph,
    Part,
    Section,
    Table,
)
from apps.reports.selectors import ListRead


def before_buying(found: ListRead) -> Iterator[Section]:
    """The sections, as far as there is something to say and the reader may see it."""
    lines = tuple(_open_gates(found))
    if lines:
        yield Section(
            "To settle before you buy", (CautionFrame(LOCAL_LAW, lead="Mind:"), Bullets(lines))
        )
    if found.account is not None:
        yield _money_section(found.account)


def _open_gates(found: ListRead) -> Iterator[Line]:
    for row in found.board["candidates"]:
        gates = found.gates.get(row["candidate_id"], [])
        if gates:
            yield Line(f"{words.listed([_gate(one) for one in gates])}.", lead=f"{row['name']}:")


def _gate(gate: Gate) -> str:
    parts = [f"by {gate.due_on:%-d %B %Y}"] if gate.due_on else []
    if gate.checked_by:
        parts.append(f"checked by {gate.checked_by}")
    title = BY_CODE[gate.code].title
    return f"{title} ({', '.join(parts)})" if parts else title


def _money_section(account: Account) -> Section:
    currency = account.ledger.currency
    rows = tuple(
        (one.person.name, str(one.paid), str(one.owed), str(one.balance))
        for one in account.balances
    )
    table = Table(
        f"In {currency}; with a minus in front it is what somebody owes",
        (
            Column("Who"),
            Column("Paid", "figures"),
            Column("Their part", "figures"),
            Column("Is to get", "figures"),
        ),
        (Part(rows=rows),),
    )
    payments = [
        f"{one.payer.name} pays {one.payee.name} {one.amount} {currency}"
        for one in account.payments
    ]
    settles = f"This settles it: {words.listed(payments)}." if payments else "Nobody owes anything."
    return Section("What you paid for each other", (table, Paragraph(settles)))
