"""Restores the stored rows, as if an earlier version had computed a list."""

import copy
import json
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from django.utils import timezone

from apps.appraisal.models import CandidateAppraisal, ListAppraisal
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.catalogue.models import Edition
from apps.viewings.models import Viewing
from apps.viewings.services import viewing_add
from tests.appraisal.building import PARTICULARS, Yard
from tests.conftest import Cast
from tests.old_results.renamed import under_new_names

FILES = tuple(sorted(Path(__file__).parent.glob("method-*.json")))
OF_LISTS = ("standing", "next_looks", "raters")  # as method 3 had them
OF_CANDIDATES = ("rollup", "consensus", "reasons", "explanation")
KINDS = OF_LISTS + OF_CANDIDATES


def rows_of(file: Path) -> dict[str, Any]:
    return copy.deepcopy(_read(file))


@cache
def _read(file: Path) -> dict[str, Any]:
    """The rows with present names: a database with the old names is refused."""
    rows = json.loads(file.read_text())
    for part in (rows["list"], rows["list_of_few"], *rows["candidates"].values()):
        part |= {"raters": part.pop("inspectors")} if "inspectors" in part else {}
        part |= {kind: under_new_names(value, kind) for kind, value in part.items()}
    return rows


@dataclass
class Old:
    """A list with old results, and a visit to the boat with the most results."""

    yard: Yard
    boats: list[str]
    viewing: Viewing

    @property
    def list_path(self) -> str:
        return f"/lists/{self.yard.list.pk}"

    @property
    def appraisal(self) -> ListAppraisal:
        return ListAppraisal.objects.get(pk=self.yard.list.pk)

    def row(self, kind: str, boat: str | None = None) -> Any:
        """The database row with a value of this kind."""
        if kind in OF_LISTS:
            return self.appraisal
        return CandidateAppraisal.objects.get(pk=boat or self.boats[0])


def old_made(cast: Cast, file: Path, part: str = "list", method: str = "2") -> Old:
    rows = rows_of(file)
    yard = Yard.of(cast.group, cast.ola.person)
    # Old results depend on all opinions, so only readers who may see all get them.
    CandidateList.objects.filter(pk=yard.list.pk).update(opinions_open=True)
    stood = rows[part]["standing"]
    there = [row["candidate_id"] for row in (*stood["rows"], *stood["struck_off"])]
    notified_of = list(rows["candidates"])
    for n, pk in enumerate(dict.fromkeys([*notified_of, *there])):
        Candidate.objects.create(
            pk=uuid.UUID(pk), list=yard.list, added_by=cast.ola.person, name=f"Boat {n}"
        )
    now, edition = timezone.now(), Edition.objects.latest("number").number
    appraisal = ListAppraisal.objects.create(
        list=yard.list,
        revision=yard.list.inputs_revision,
        looks_revision=yard.list.inputs_revision,
        edition=edition,
        looks_edition=edition,
        method=method,
        looks_method=method,
        computed_at=now,
        looks_computed_at=now,
        **rows[part],
    )
    for pk, values in rows["candidates"].items():
        CandidateAppraisal.objects.create(
            candidate_id=pk,
            list_appraisal=appraisal,
            revision=appraisal.revision,
            explained_revision=appraisal.revision,
            **values,
        )
    boat = Candidate.objects.get(pk=notified_of[0])
    Candidate.objects.filter(pk=boat.pk).update(**PARTICULARS)
    viewing = viewing_add(candidate=boat, by=cast.ola.person, starts_at=now)
    return Old(yard, notified_of, viewing)


# --- What an old value may lack ------------------------------------------------------------------

Place = tuple[str, ...]  # keys from the outside in; "*" is every line of a list
LINES = "*"


def places(value: Any, within: Place = ()) -> Iterator[Place]:
    """Every key of the value at any depth, each once."""
    found: dict[Place, None] = {}
    match value:
        case dict():
            for key, inner in value.items():
                found[*within, key] = None
                found |= dict.fromkeys(places(inner, (*within, key)))
        case list():
            for inner in value:
                found |= dict.fromkeys(places(inner, (*within, LINES)))
    yield from found


def without(value: Any, place: Place) -> Any:
    """The value without this key, in all lines."""
    first, *rest = place
    if first == LINES:
        return [without(one, tuple(rest)) for one in value]
    if not isinstance(value, dict) or first not in value:
        return value
    if not rest:
        return {key: inner for key, inner in value.items() if key != first}
    return {**value, first: without(value[first], tuple(rest))}


def instead(value: Any, place: Place, other: Any) -> Any:
    """The value with another value under this key."""
    first, *rest = place
    if first == LINES:
        return [instead(one, tuple(rest), other) for one in value]
    if not isinstance(value, dict) or first not in value:
        return value
    return {**value, first: instead(value[first], tuple(rest), other) if rest else other}
