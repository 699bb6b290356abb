"""Compares stored results with results computed again from the same inputs, after a restore."""

import json
import math
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.utils import timezone

from apps.appraisal.compute.computing import Computed, compute
from apps.appraisal.compute.inputs import read_inputs
from apps.appraisal.compute.results import results_of
from apps.appraisal.jobs import lists_behind
from apps.appraisal.looks.looks import looks_of
from apps.appraisal.models import CandidateAppraisal, ListAppraisal
from apps.boats.list_models import CandidateList

# Another processor may round the last digits of a float differently.
RELATIVE, ABSOLUTE = 1e-9, 1e-9


def lists_to_recheck() -> list[uuid.UUID]:
    """The lists whose stored results are up to date."""
    behind = lists_behind().values("pk")
    return list(CandidateList.objects.exclude(pk__in=behind).values_list("pk", flat=True))


def parts_unequal(list_id: uuid.UUID) -> list[str]:
    """The parts of the list's stored results that differ from computed ones; none if all equal."""
    stored = ListAppraisal.objects.get(pk=list_id)
    boats = {boat.pk: boat for boat in CandidateAppraisal.objects.filter(list_appraisal=list_id)}
    computed = {
        **dict(_board(_at(list_id, stored.computed_at), stored, boats)),
        **dict(_looks(_at(list_id, stored.looks_computed_at), stored, boats)),
    }
    return [part for part, (kept, new) in computed.items() if not same(kept, new)]


Compared = Iterator[tuple[str, tuple[Any, Any]]]
Boats = Mapping[uuid.UUID, CandidateAppraisal]


def _at(list_id: uuid.UUID, moment: datetime | None) -> Computed:
    """Boats age: computed for the day of the stored results."""
    assert moment is not None, "results are up to date"
    inputs = replace(read_inputs(list_id), today=timezone.localdate(moment))
    return compute(inputs, lambda: None)


def _board(computed: Computed, stored: ListAppraisal, boats: Boats) -> Compared:
    results = results_of(computed)
    yield "standing", (stored.standing, results.standing)
    yield "boats", ({str(boat) for boat in boats}, {str(boat) for boat in results.candidates})
    for boat, parts in results.candidates.items():
        for part, value in parts.items():
            yield f"{part} of {boat}", (getattr(boats.get(boat), part, None), value)


def _looks(computed: Computed, stored: ListAppraisal, boats: Boats) -> Compared:
    looks = looks_of(computed, lambda: None)
    for part in ("next_looks", "raters", "cost_looks"):
        yield part, (getattr(stored, part), getattr(looks, part))
    for boat, explanation in looks.explanations.items():
        yield f"explanation of {boat}", (getattr(boats.get(boat), "explanation", None), explanation)


def same(stored: Any, computed: Any) -> bool:
    """Whether the two are equal as JSON, with floats equal to nine digits."""
    return _close(_plain(stored), _plain(computed))


def _plain(value: Any) -> Any:
    if isinstance(value, set):
        return {"set": sorted(value)}
    return json.loads(json.dumps(value, cls=DjangoJSONEncoder))


def _close(one: Any, other: Any) -> bool:
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_close(one[k], other[k]) for k in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_close, one, other))
    if isinstance(one, float) or isinstance(other, float):
        numbers = isinstance(one, int | float) and isinstance(other, int | float)
        return numbers and math.isclose(one, other, rel_tol=RELATIVE, abs_tol=ABSOLUTE)
    return bool(one == other)
