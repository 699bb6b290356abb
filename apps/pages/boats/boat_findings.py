"""What was seen on a boat, for her page: by area, with who said what and what nobody saw."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from apps.accounts.models import Person
from apps.appraisal.board.candidate_answer import (
    CheckpointRead,
    DoubtRaisedRead,
    DoubtRead,
    NotLookedRead,
    ReportRead,
)
from apps.appraisal.stored.candidates import CheckpointBelief, StoredStatement
from apps.boats.models import Candidate
from apps.catalogue.snapshot import Catalogue
from apps.reports.boat_sheet import LEVEL_NAMES
from apps.reports.doubts import RECEIPT, who_closes
from apps.viewings.media.links import link
from apps.viewings.media.models import Media, Photo, SellerPhoto
from apps.viewings.media.selectors import photos_visible, seller_photos_visible
from apps.viewings.selectors import submissions_of_candidate, submissions_visible

PHOTOS_SHOWN = 24
SEEN, DISPUTED = "seen", "disputed"


Notes = Mapping[tuple[str, str], str]  # by submission and checkpoint


class ReportShown(ReportRead):
    note: str


class NotLookedShown(NotLookedRead):
    note: str


class CheckpointShown(CheckpointBelief):
    believed: str
    doubt: DoubtRaisedRead | None
    reports: list[ReportShown]
    could_not_look: list[NotLookedShown]


@dataclass
class AreaSeen:
    """The checkpoints of one area: those that somebody looked at, and the titles of the others."""

    title: str
    seen: list[CheckpointShown] = field(default_factory=list)
    stated: list[CheckpointShown] = field(default_factory=list)
    unseen: list[str] = field(default_factory=list)

    @property
    def disputed(self) -> int:
        return sum(one["cause"] == DISPUTED for one in self.seen)

    @property
    def worst(self) -> int | None:
        """The worst level that anybody saw."""
        reports = (r for one in self.seen for r in one["reports"] if r["kind"] != "seller")
        return max((r["level"] for r in reports), default=None)


def by_area(
    checkpoints: Iterable[CheckpointRead], catalogue: Catalogue, notes: Notes
) -> list[AreaSeen]:
    """In walking order."""
    areas: dict[str, AreaSeen] = {}
    for one in checkpoints:
        code = one["area"]
        known = catalogue.areas.get(code)
        area = areas.setdefault(code, AreaSeen(known.title if known else code))
        if one["could_not_look"] or any(r["kind"] != "seller" for r in one["reports"]):
            area.seen.append(with_notes(one, notes))
        elif one["reports"]:
            area.stated.append(with_notes(one, notes))
        else:
            area.unseen.append(one["title"])
    return list(areas.values())


def with_notes(checkpoint: CheckpointRead, notes: Notes) -> CheckpointShown:
    def note(stated: StoredStatement) -> str:
        return notes.get((stated.get("submission_id", ""), checkpoint["checkpoint"]), "")

    low, high = (LEVEL_NAMES[end] for end in checkpoint["interval"])
    return {
        **checkpoint,
        "believed": low if low == high else f"{low} to {high}",
        "reports": [{**one, "note": note(one)} for one in checkpoint["reports"]],
        "could_not_look": [{**one, "note": note(one)} for one in checkpoint["could_not_look"]],
    }


def notes_on(person: Person, candidate: Candidate) -> Notes:
    """What people wrote beside their findings that count. Four queries."""
    return {
        (str(submission.pk), finding.checkpoint_id): finding.note
        for submission in submissions_of_candidate(person, candidate, live_only=True)
        for finding in submission.findings.all()
        if finding.note
    }


def has_looked(person: Person, candidate: Candidate) -> bool:
    """Whether the person sent findings; a vote alone is no look."""
    sent = submissions_visible(person).filter(
        viewing__candidate=candidate, author=person, submitted_at__isnull=False
    )
    return sent.filter(findings__isnull=False).exists()


@dataclass(frozen=True)
class Judge:
    """Open doubts that the same professional must judge, or a receipt settles."""

    who: str
    doubts: list[DoubtRead]

    @property
    def is_receipt(self) -> bool:
        return self.who == RECEIPT


def by_judge(doubts: Iterable[DoubtRead]) -> list[Judge]:
    found: defaultdict[str, list[DoubtRead]] = defaultdict(list)
    for one in doubts:
        found[who_closes(one)].append(one)
    return [Judge(who, ones) for who, ones in found.items()]


@dataclass(frozen=True)
class Shown:
    """A photo with the links that the reader was given."""

    photo: Photo
    title: str
    thumbnail: str
    image: str


def photos_of(person: Person, candidate: Candidate, catalogue: Catalogue) -> list[Shown]:
    """The newest photos of a boat that can be shown. One query."""
    photos = photos_visible(person).filter(viewing__candidate=candidate, state=Media.State.READY)
    return [
        Shown(
            photo,
            title_of(photo, catalogue),
            link(photo, "thumbnail", person),
            link(photo, "image", person),
        )
        for photo in photos.order_by("-pk")[:PHOTOS_SHOWN]
    ]


@dataclass(frozen=True)
class FromSeller:
    """A photo from the seller, without links until it was read, or if it cannot be."""

    photo: SellerPhoto
    title: str
    thumbnail: str
    image: str
    removable: bool


def seller_photos_of(person: Person, candidate: Candidate, manages: bool) -> list[FromSeller]:
    """The newest photos from a boat's seller. One query. manages: whether they may remove any."""
    photos = seller_photos_visible(person).filter(candidate=candidate).order_by("-pk")
    return [
        FromSeller(
            photo,
            photo.note or "The boat, from her seller",
            shown(photo, "thumbnail", person),
            shown(photo, "image", person),
            manages or photo.added_by_id == person.pk,
        )
        for photo in photos[:PHOTOS_SHOWN]
    ]


def shown(photo: SellerPhoto, form: str, person: Person) -> str:
    return link(photo, form, person) if photo.state == Media.State.READY else ""


def title_of(photo: Photo, catalogue: Catalogue) -> str:
    known = catalogue.checkpoints.get(photo.checkpoint_id or "")
    return known.title if known else "The boat"
