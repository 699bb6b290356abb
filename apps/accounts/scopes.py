"""The scopes of tokens: one table for the API, the consent page and the schema.

A limited token allows only what its scopes name, and never more than its person may do.
"""

from collections.abc import Sequence

from apps.common.errors import FieldFault

SCOPES: dict[str, str] = {
    "account:read": "see your name and email",
    "lists:read": (
        "see your groups and who is in them, their lists, boats, prices, photos from sellers, "
        "planned visits and quotes"
    ),
    "lists:write": "add and change lists, boats, asking prices, photos from sellers and stages",
    "plans:write": "plan visits and ask follow-up questions",
    "findings:read": "see what was found on visits, and what cleared it",
    "findings:write": "post findings and clearances as you, with your vote on the boat",
    "quotes:write": "add and withdraw quotes from yards and trades",
    "expenses:read": "see what members of your groups paid, and who owes whom",
    "expenses:write": "record what members of your groups paid",
    "ownership:read": (
        "see what your groups agreed about owning a boat together, her handover and first season"
    ),
    "ownership:write": (
        "word and agree as you what your groups settle about owning a boat together, and record "
        "her handover and the work on her"
    ),
    "opinions:read": "see wants, valuations and orders of preference that are open to you",
    "opinions:write": "give your wants, valuations and order of preference",
    "results:read": "see the results: costs, standing, reasons, what to look at next",
    "notifications:read": ("see your notifications about records that its other scopes may read"),
    "notifications:manage": "mark your notifications, and choose which you get and how",
    "second_opinions:read": (
        "see what was asked of others of your club and how it went, and each boat you took on "
        "for another group"
    ),
    "second_opinions:write": (
        "ask others of your club for a look at your boats, take such requests on and answer them, "
        "and say that you go to a yard"
    ),
    "archives:manage": (
        "export your own data and all data of groups you organise as archives, and import "
        "archives as new groups"
    ),
    "group:manage": "manage groups and clubs: names, members, shares, invitations, webhooks",
}
CHOICES = list(SCOPES.items())


def scope_faults(scopes: Sequence[str], pointer: str = "/scopes") -> list[FieldFault]:
    """The faults of a list of scopes for a new token."""
    if not scopes:
        return [FieldFault(pointer, "empty", "Without a scope it could do nothing.")]
    return [
        FieldFault(f"{pointer}/{index}", "unknown_scope", f"There is no scope {scope!r}.")
        for index, scope in enumerate(scopes)
        if scope not in SCOPES
    ]
