"""Two boats of a list side by side."""

import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from django.http import Http404, HttpRequest, HttpResponse

from apps.appraisal.board.candidate_selectors import rollup_read
from apps.appraisal.board.selectors import board_read
from apps.appraisal.stored.parts import Amount
from apps.appraisal.words.phrases import about, amount
from apps.boats import particulars
from apps.boats.models import Candidate
from apps.boats.selectors import candidates_of, list_for
from apps.common.wording import money, percent
from apps.pages.base import PageView
from apps.pages.boats.particulars import heading, stated
from apps.pages.lists.boards import ShownRow, rows_of

NOT_KNOWN = "not known"


@dataclass(frozen=True)
class Beside:
    """What one row is about, and what it is on either boat."""

    title: str
    first: str
    second: str


class CompareView(PageView):
    """`?a=ID&b=ID` names the boats; without them, the first two of the board."""

    def get(self, request: HttpRequest, list_id: uuid.UUID) -> HttpResponse:
        candidate_list = list_for(self.person, list_id)
        board = board_read(self.person, list_id)
        rows = [*rows_of(board), *rows_of(board, board["struck_off"])]
        by_id = {row["candidate_id"]: row for row in rows}
        boats = {str(boat.pk): boat for boat in candidates_of(candidate_list)}
        pair = chosen(request, [one for one in by_id if one in boats])
        return self.page(
            "pages/compare.html",
            list=candidate_list,
            board=board,
            rows=rows,
            a=by_id[pair[0]] if pair else {},
            b=by_id[pair[1]] if pair else {},
            standing=list(standing(*(by_id[one] for one in pair))) if pair else [],
            known=list(known(*(boats[one] for one in pair))) if pair else [],
            work=list(work(*(self.areas(one) for one in pair))) if pair else [],
        )

    def areas(self, candidate_id: str) -> dict[str, Amount]:
        """What the work of each area is expected to come to, by its title."""
        rollup = rollup_read(self.person, uuid.UUID(candidate_id))["rollup"]
        by_area = rollup.get("by_area", ()) if rollup else ()
        return {one["title"]: one["expected"] for one in by_area}


def chosen(request: HttpRequest, ids: list[str]) -> tuple[str, str] | None:
    """The two that were asked for, or else the first two. Raises 404 for one that is not there."""
    asked = [request.GET[name] for name in ("a", "b") if request.GET.get(name)]
    if any(one not in ids for one in asked):
        raise Http404
    pair = [*asked, *(one for one in ids if one not in asked)][:2]
    return (pair[0], pair[1]) if len(pair) == 2 else None


def standing(a: ShownRow, b: ShownRow) -> Iterator[Beside]:
    for title, words in STANDING:
        yield Beside(title, words(a) or NOT_KNOWN, words(b) or NOT_KNOWN)


def cost(row: ShownRow) -> str:
    found = row["upfront"]
    if not found:
        return row["no_cost"]
    low, high = amount(found, "low"), amount(found, "high")
    return f"probably {amount(found, 'likely')} ({low} to {high})"


def share(known: float | None) -> str:
    return NOT_KNOWN if known is None else percent(known)


STANDING: tuple[tuple[str, Callable[[ShownRow], str]], ...] = (
    ("Place", lambda row: str(row["place"] or "struck off")),
    ("Up front", cost),
    ("Within the budget", lambda row: share(row["within_budget"])),
    ("Work that can wait", lambda row: amount(row["later"], "mean") if row["later"] else ""),
    ("Condition, 0 to 100", lambda row: row["condition_words"]),
    ("Looked at", lambda row: share(row["condition"]["coverage"])),
    ("Open doubts", lambda row: str(row["open_doubts"] or "none")),
    ("Advice", lambda row: row["advised"]),
    ("Why", lambda row: " ".join(one["sentence"] for one in row["advice"]) or "-"),
)


def known(a: Candidate, b: Candidate) -> Iterator[Beside]:
    """What either says of how she is built; what nobody said of both is left out."""
    yield Beside("Stage", a.get_stage_display(), b.get_stage_display())
    yield Beside("Asked for her", asked(a), asked(b))
    yield Beside("She lies at", a.yard or NOT_KNOWN, b.yard or NOT_KNOWN)
    for name in particulars.PARTICULARS:
        first, second = value_of(a, name), value_of(b, name)
        if (first, second) != (NOT_KNOWN, NOT_KNOWN):
            yield Beside(heading(name), first, second)


def value_of(boat: Candidate, name: str) -> str:
    return stated(boat, name) if particulars.is_known(getattr(boat, name)) else NOT_KNOWN


def asked(boat: Candidate) -> str:
    if boat.asking_amount is None:
        return NOT_KNOWN
    return money(float(boat.asking_amount), boat.asking_currency)


def work(a: dict[str, Amount], b: dict[str, Amount]) -> Iterator[Beside]:
    """By area, the dearest first."""
    titles = dict.fromkeys([*a, *b])
    for title in sorted(titles, key=lambda one: -max(size(a.get(one)), size(b.get(one)))):
        yield Beside(title, *(about(one[title]) if title in one else "-" for one in (a, b)))


def size(expected: Amount | None) -> float:
    return float(expected["amount"]) if expected else 0.0
