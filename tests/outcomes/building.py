"""Makes a club whose groups share what surveys found: invented groups, boats and bills."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.utils import timezone

from apps.appraisal.jobs import list_recompute
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.catalogue.selectors import catalogue_snapshot
from apps.groups.models import Club, ClubMembership, Group, Membership
from apps.outcomes.models import GroupOutcomes, OutcomesFigure
from apps.outcomes.services import RefreshTurn, club_outcomes_refresh
from apps.purchase.models import Bill
from apps.viewings.models import Finding, Submission, Viewing
from tests.appraisal.building import PARTICULARS, Yard, load_catalogue
from tests.conftest import Speaker, speaker

CODE = "deck-cracks"
REMEDY = "repair-bulkhead"


@dataclass
class Buyers:
    """One group of the club, with its list."""

    word: str
    group: Group
    organiser: Speaker
    yard: Yard

    def surveyed(
        self,
        level: int,
        *,
        looks: tuple[int, ...] = (),
        code: str = CODE,
        bill: float | None = None,
        **particulars: Any,
    ) -> Candidate:
        """A boat of 30 years on which members looked, and a surveyor after them."""
        boat = self.boat(**particulars)
        self.looked(boat, {code: level}, professional=True)
        for look in looks:
            self.looked(boat, {code: look}, days_ago=5)
        if bill is not None:
            self.billed(boat, bill)
        return boat

    def boat(self, **particulars: Any) -> Candidate:
        return Candidate.objects.create(
            list=self.yard.list,
            added_by=self.organiser.person,
            name=f"{self.word} boat",
            asking_amount=Decimal(20_000),
            asking_currency="USD",
            **{**PARTICULARS, "build_year": timezone.now().year - 30, **particulars},
        )

    def looked(
        self,
        boat: Candidate,
        levels: Mapping[str, int],
        *,
        professional: bool = False,
        days_ago: float = 1,
    ) -> Submission:
        at: datetime = timezone.now() - timedelta(days=days_ago)
        person = self.organiser.person
        viewing = Viewing.objects.create(
            candidate=boat, starts_at=at, added_by=person, state="made"
        )
        submission = Submission.objects.create(
            viewing=viewing,
            author=person,
            state="submitted",
            submitted_at=at,
            capacity="professional" if professional else "member",
            profession="surveyor" if professional else "",
        )
        ids = catalogue_snapshot().checkpoint_version_ids
        Finding.objects.bulk_create(
            Finding(
                submission=submission,
                checkpoint_id=code,
                checkpoint_version_id=ids[code],
                kind="looked",
                level=level,
            )
            for code, level in levels.items()
        )
        return submission

    def billed(self, boat: Candidate, amount: float, **facts: Any) -> Bill:
        return Bill.objects.create(
            candidate=boat,
            amount=Decimal(str(round(amount, 2))),
            **{
                "remedy_id": REMEDY,
                "currency": "USD",
                "done_by": "professional",
                "document": f"Invoice of {self.word}",
                "dated_on": date(2024, 5, 1),
                "added_by": self.organiser.person,
                **facts,
            },
        )

    @property
    def club_outcomes(self) -> GroupOutcomes | None:
        return GroupOutcomes.objects.filter(pk=self.group.pk).first()

    def shares(self, shares: bool) -> None:
        path = f"/groups/{self.group.pk}"
        answer = self.organiser.change("PATCH", path, {"shares_surveys": shares})
        assert answer.status_code == 200, answer.content

    def recompute(self) -> None:
        list_recompute(list_id=self.yard.list.pk)
        self.yard.list = CandidateList.objects.get(pk=self.yard.list.pk)
        assert self.yard.list.appraisal.last_error == ""


@dataclass
class Harbour:
    """A club of groups that share; Sally is a member of the club and of no group."""

    club: Club
    sally: Speaker
    groups: list[Buyers] = field(default_factory=list)

    @property
    def path(self) -> str:
        return f"/clubs/{self.club.pk}/outcomes"

    def experience(self) -> RefreshTurn:
        return club_outcomes_refresh(club_id=self.club.pk)

    def figure(self, kind: str = "found", by: str = "", value: str = "") -> OutcomesFigure | None:
        figures = OutcomesFigure.objects.filter(table__club=self.club, table__kind=kind)
        return figures.filter(by=by, value=value).first()


WORDS = ("Tern", "Quokka", "Wombat", "Numbat", "Dingo", "Possum", "Bilby", "Emu")


def harbour_made(groups: int = 5) -> Harbour:
    load_catalogue()
    club = Club.objects.create(name="Harbour")
    sally = speaker("Sally")
    ClubMembership.objects.create(club=club, person=sally.person, role="member")
    return Harbour(club, sally, [buyers(word, club) for word in WORDS[:groups]])


def buyers(word: str, club: Club | None) -> Buyers:
    group = Group.objects.create(name=f"{word} group", club=club, shares_surveys=club is not None)
    organiser = speaker(f"{word}person")
    Membership.objects.create(group=group, person=organiser.person, role="organiser")
    if club is not None:
        ClubMembership.objects.create(club=club, person=organiser.person, role="member")
    return Buyers(word, group, organiser, Yard.of(group, organiser.person))
