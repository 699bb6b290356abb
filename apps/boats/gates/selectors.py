"""Reads of what is to be settled before a boat is bought."""

from dataclasses import dataclass

from django.db.models import F
from django.shortcuts import get_object_or_404

from apps.boats.gates.kinds import KINDS, GateKind
from apps.boats.gates.models import Gate
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate


@dataclass(frozen=True)
class ListedGate:
    """A kind of gate with what the group said of it; None if nobody did."""

    kind: GateKind
    gate: Gate | None


def gates_of(candidate: Candidate, sold_in: str = "") -> list[ListedGate]:
    """Every gate that applies in a country (ISO 3166-1; empty: unknown), and what the group said of
    others too. One query."""
    found = Gate.objects.select_related("changed_by").filter(candidate=candidate)
    by_code = {gate.code: gate for gate in found}
    return [
        ListedGate(kind, by_code.get(kind.code))
        for kind in KINDS
        if kind.applies_in(sold_in) or kind.code in by_code
    ]


def open_gates(candidate_list: CandidateList) -> dict[str, list[Gate]]:
    """What is needed and open on each boat of a list, by her id, the earliest due first."""
    found: dict[str, list[Gate]] = {}
    needed = Gate.objects.filter(candidate__list=candidate_list, needed=True, settled=False)
    for gate in needed.order_by(F("due_on").asc(nulls_last=True), "created_at"):
        found.setdefault(str(gate.candidate_id), []).append(gate)
    return found


def gate_if_any(candidate: Candidate, code: str) -> Gate | None:
    return Gate.objects.select_related("changed_by").filter(candidate=candidate, code=code).first()


def gate_of(candidate: Candidate, code: str) -> Gate:
    """Raises `Http404` if nobody said anything of it."""
    return get_object_or_404(
        Gate.objects.select_related("changed_by"), candidate=candidate, code=code
    )
