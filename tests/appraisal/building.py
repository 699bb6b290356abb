"""Makes lists with boats and findings through the services; all are invented."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import numpy as np
from django.apps import apps
from django.conf import settings
from django.utils import timezone

from apps.accounts.models import Person
from apps.appraisal.jobs import list_recompute
from apps.boats.list_models import CandidateList
from apps.boats.list_services import list_create
from apps.boats.models import Ballot, Candidate, Valuation, Want
from apps.boats.opinion_services import want_create
from apps.boats.services import candidate_create
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.services import catalogue_load
from apps.viewings.findings import FindingDraft
from apps.viewings.models import Finding, Submission, Viewing
from apps.viewings.services import viewing_add
from apps.viewings.submitting import SubmissionContent, submission_create
from tests.kept import Kept, put_back, rows_of

PARTICULARS = {
    "loa_m": 9.6,
    "lwl_m": 8.1,
    "beam_m": 3.2,
    "draught_m": 1.5,
    "displacement_kg": 4600.0,
    "ballast_kg": 1900.0,
    "sail_area_m2": 47.0,
    "hull_material": "grp",
    "keel": "bolted_fin",
    "keel_ballast": "iron",
    "rudder": "skeg",
    "drive": "strut_shaft",
    "propeller": "fixed",
    "mast": "deck_stepped",
    "standing_rigging": "wire",
    "fuel": "diesel",
    "build_year": 1990,
}


def load_catalogue() -> None:
    """The real catalogue; read and checked once per run, later only its rows are restored."""
    if _catalogue:
        put_back(_catalogue[0])
        return
    catalogue_load(folder=settings.BASE_DIR / "fixtures" / "catalogue")
    models = apps.get_app_config("catalogue").get_models(include_auto_created=True)
    _catalogue.append(Kept(None, {}, {model: [*rows_of(model).values()] for model in models}))


_catalogue: list[Kept] = []


@dataclass
class Yard:
    """One group's list, with one-line methods to change it."""

    organiser: Person
    list: CandidateList

    @classmethod
    def of(cls, group: Any, organiser: Person, **brief: Any) -> "Yard":
        brief = {"currency": "USD", "budget": Decimal(60_000), **brief}
        made = list_create(group_id=group.id, by=organiser, name="Spring", brief=brief)
        return cls(organiser, made)

    def boat(self, name: str, asking: int | None = 30_000, **facts: Any) -> Candidate:
        return candidate_create(
            candidate_list=self.list,
            by=self.organiser,
            facts={"name": name, **PARTICULARS, **facts},
            asking=None if asking is None else (Decimal(asking), "USD"),
        )

    def look(
        self,
        boat: Candidate,
        by: Person,
        levels: Mapping[str, int] | None = None,
        *,
        not_looked: Mapping[str, str] | None = None,
        at: datetime | None = None,
        **said: Any,
    ) -> Submission:
        """One visit with its submission: levels by checkpoint, reasons by checkpoint."""
        viewing = viewing_add(
            candidate=boat,
            by=by,
            starts_at=at or timezone.now() - timedelta(hours=2),
            state=Viewing.State.MADE,
            conditions={"where": "ashore", "covered": True},
        )
        findings = [
            FindingDraft(checkpoint=code, kind="looked", level=level, sureness="sure")
            for code, level in (levels or {}).items()
        ] + [
            FindingDraft(checkpoint=code, kind="could_not_look", reason=reason)
            for code, reason in (not_looked or {}).items()
        ]
        content = SubmissionContent(
            state=Submission.State.SUBMITTED, findings=tuple(findings), **said
        )
        submission, _ = submission_create(viewing=viewing, by=by, content=content)
        return submission

    def valuation(self, boat: Candidate, by: Person, amount: int) -> None:
        Valuation.objects.update_or_create(
            candidate=boat, person=by, defaults={"amount": Decimal(amount)}
        )

    def want(self, by: Person, **facts: Any) -> Want:
        return want_create(candidate_list=self.list, by=by, facts=facts)

    def ballot(self, by: Person, *tiers: list[Candidate]) -> None:
        ranks = [[str(boat.pk) for boat in tier] for tier in tiers]
        Ballot.objects.update_or_create(list=self.list, person=by, defaults={"ranks": ranks})

    def strike_off(self, boat: Candidate, reason: str) -> None:
        Candidate.objects.filter(pk=boat.pk).update(stage="struck_off", stage_reason=reason)

    def recompute(self) -> None:
        CandidateList.objects.filter(pk=self.list.pk).update(
            inputs_revision=self.list.inputs_revision + 1
        )
        self.list.refresh_from_db()
        assert list_recompute(list_id=self.list.pk) == 1
        assert self.list.appraisal.last_error == ""


def surveyed(who: Any, boat: Candidate, *findings: dict[str, Any], kind: str = "hull") -> Any:
    """A report of today, entered by one of the cast."""
    survey = {"kind": kind, "surveyor": "Of the harbour"}
    path = f"/surveys/{who.post(f'/candidates/{boat.pk}/surveys', survey).json()['id']}/reports"
    body = {"document": "31", "looked_at": timezone.now().isoformat(), "findings": findings}
    answer = who.post(path, body)
    assert answer.status_code == 201, answer.content
    return answer.json()


def check_stored(boat: Candidate, code: str, moves: dict[str, str]) -> dict[str, Any]:
    """One check in the stored form of `cost_looks`."""
    return {
        "candidate_id": str(boat.pk),
        "checkpoint": code,
        "title": code,
        "area": "keel",
        "look": "Look.",
        "cautions": [],
        "moves": moves,
        "person_id": None,
        "looked_before": True,
    }


def fill(yard: Yard, people: list[Person], boats: int, *, looked: float = 0.6) -> None:
    """Make many boats with many findings in a few queries; `looked`: chance of a finding."""
    rng = np.random.default_rng(8)
    snapshot = catalogue_snapshot()
    codes = list(snapshot.catalogue.checkpoints)
    candidates = Candidate.objects.bulk_create(
        Candidate(
            list=yard.list,
            added_by=yard.organiser,
            name=f"Boat {n}",
            asking_amount=Decimal(int(rng.integers(15, 45)) * 1000),
            asking_currency="USD",
            **{**PARTICULARS, "loa_m": 8.5 + 0.1 * n, "build_year": int(rng.integers(1975, 2005))},
        )
        for n in range(boats)
    )
    now = timezone.now()
    viewings = Viewing.objects.bulk_create(
        Viewing(candidate=candidate, starts_at=now, added_by=yard.organiser, state="made")
        for candidate in candidates
    )
    submissions = Submission.objects.bulk_create(
        Submission(viewing=v, author=person, state="submitted", submitted_at=now)
        for v in viewings
        for person in people
    )
    Finding.objects.bulk_create(
        (
            Finding(
                submission=submission,
                checkpoint_id=code,
                checkpoint_version_id=snapshot.checkpoint_version_ids[code],
                kind="looked",
                level=int(min(4, rng.poisson(0.9))),
            )
            for submission in submissions
            for code in codes
            if rng.random() < looked
        ),
        batch_size=2000,
    )
    Valuation.objects.bulk_create(
        Valuation(candidate=c, person=person, amount=Decimal(int(rng.integers(30, 70)) * 1000))
        for c in candidates
        for person in people[:2]
    )
