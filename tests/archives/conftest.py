"""A computed group with at least one of everything, and helpers for archives."""

import io
import json
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import numpy as np
import pytest
import soundfile
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from apps.archives import jobs
from apps.boats.models import Candidate
from apps.boats.services import price_add, stage_change
from apps.groups.models import Club, Group
from apps.planning.models import Trip, TripStop
from apps.sellers.services import answer_add
from apps.viewings.media import preparing
from apps.viewings.media.gate_documents import gate_document_add
from apps.viewings.media.seller_photos import seller_photo_add
from apps.viewings.media.services import photo_add, sound_add
from apps.viewings.models import Submission
from tests.appraisal.conftest import SOUND, Spring, _few_draws, spring, yard  # noqa: F401
from tests.conftest import Cast, Speaker
from tests.kept import kept
from tests.viewings.media import paper


def exported(who: Speaker, path: str) -> dict[str, Any]:
    """Ask for an export, let the worker make it, and read its state."""
    asked = who.post(path)
    assert asked.status_code == 201, asked.content
    jobs.export_make(export_id=asked.json()["id"])
    shown = who.get(f"/exports/{asked.json()['id']}")
    assert shown.status_code == 200, shown.content
    assert shown.json()["state"] == "ready"
    return shown.json()


def fetched(export: dict[str, Any]) -> bytes:
    answer = Client().get(export["download"]["url"])
    assert answer.status_code == 200, answer.content
    return b"".join(answer.streaming_content)


def archive_of(cast: Cast) -> bytes:
    return fetched(exported(cast.ola, f"/groups/{cast.group.id}/exports"))


def imported(who: Speaker, content: bytes, **body: Any) -> dict[str, Any]:
    """Send an archive, let the worker import it, and read its state."""
    opened = who.post("/imports", body)
    assert opened.status_code == 201, opened.content
    sent = Client().put(opened.json()["upload"]["url"], content, content_type="application/zip")
    assert sent.status_code == 204, sent.content
    jobs.import_run(import_id=opened.json()["id"])
    return who.get(f"/imports/{opened.json()['id']}").json()


@dataclass
class Opened:
    """An archive unpacked: its manifest, rows by kind, and other files."""

    manifest: dict[str, Any]
    rows: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    files: dict[str, bytes] = field(default_factory=dict)


def unpacked(content: bytes) -> Opened:
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        opened = Opened(json.loads(packed.read("manifest.json")))
        for name in packed.namelist():
            if name.endswith(".jsonl"):
                lines = packed.read(name).decode().splitlines()
                opened.rows[name.removesuffix(".jsonl")] = [json.loads(line) for line in lines]
            elif name != "manifest.json":
                opened.files[name] = packed.read(name)
    return opened


def repacked(content: bytes, change: Callable[[Opened], None]) -> bytes:
    """The archive with other content, and matching digests."""
    from hashlib import sha256

    opened = unpacked(content)
    change(opened)
    entries = dict(opened.files)
    for name, rows in opened.rows.items():
        entries[f"{name}.jsonl"] = "".join(json.dumps(row) + "\n" for row in rows).encode()
    opened.manifest["sha256"] = {name: sha256(one).hexdigest() for name, one in entries.items()}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for name, one in entries.items():
            packed.writestr(name, one)
        packed.writestr("manifest.json", json.dumps(opened.manifest))
    return out.getvalue()


def picture() -> SimpleUploadedFile:
    out = io.BytesIO()
    Image.new("RGB", (64, 48), (90, 120, 150)).save(out, "JPEG")
    return SimpleUploadedFile("photo.jpg", out.getvalue())


def taps() -> SimpleUploadedFile:
    """Two invented damped tones that sound like taps."""
    rate = 44_100
    t = np.arange(rate // 2) / rate
    tap = 0.5 * np.exp(-t / 0.03) * np.sin(2 * np.pi * 900 * t)
    out = io.BytesIO()
    soundfile.write(out, np.concatenate([np.zeros(rate // 4), tap, tap]), rate, format="WAV")
    return SimpleUploadedFile("taps.wav", out.getvalue())


@pytest.fixture
def full(spring, cast) -> Spring:  # noqa: F811
    """The list Spring with a row of every kind, and open opinions."""
    whole, submission_id = kept("full", partial(with_rows, spring, cast))
    with_media(cast.hal, cast.ben, Submission.objects.get(pk=submission_id))
    return whole


def with_media(who: Speaker, buyer: Speaker, submission: Submission) -> None:
    photo, _ = photo_add(
        viewing=submission.viewing,
        by=who.person,
        file=picture(),
        submission=submission,
        checkpoint="deck-cracks",
        note="By the chainplate",
    )
    preparing.photo_prepare(photo_id=photo.pk)
    shown, _ = seller_photo_add(
        candidate=submission.viewing.candidate,
        by=buyer.person,
        file=picture(),
        source="broker",
        note="The saloon",
    )
    preparing.seller_photo_prepare(photo_id=shown.pk)
    for file in (picture(), SimpleUploadedFile("paper.pdf", paper())):
        attached, _ = gate_document_add(
            candidate=submission.viewing.candidate, by=buyer.person, file=file, gate="debts"
        )
        preparing.gate_document_prepare(document_id=attached.pk)
    sound, _ = sound_add(
        submission=submission, by=who.person, file=taps(), checkpoint="deck-cracks"
    )
    preparing.sound_prepare(sound_id=sound.pk)


def with_rows(spring: Spring, cast: Cast) -> tuple[Spring, str]:  # noqa: F811
    """All but the media, whose files a test may remove; and the submission that they belong to."""
    ben, bea, petrel = cast.ben, cast.bea, spring.petrel
    price_add(
        candidate=petrel,
        by=ben.person,
        amount=25_500,
        currency="USD",
        note="Came down",
        advert_text="Dry",
    )
    stage_change(candidate=petrel, by=bea.person, stage="shortlisted", reason="Dry bilge")
    answer_add(
        candidate=petrel,
        by=ben.person,
        checkpoint="wire-age",
        answer="In 2014",
        level=1,
        particulars={"rigging_year": 2014},
        said_by="owner",
    )
    want = spring.yard.want(ben.person, kind="weight", weight=3, subject="free", text="A galley")
    spring.yard.want(
        bea.person, kind="must", subject="particular", key="draught_m", test="at_most", value=1.6
    )
    ok(ben.put(f"/wants/{want.pk}/judgements/{petrel.pk}", {"met": True, "note": "A good one"}))
    spring.yard.ballot(bea.person, [petrel, spring.skua], [spring.fulmar])
    own_words(cast.ola, f"/groups/{cast.group.pk}/catalogue", "deck-cracks", "Cracks, as we say it")
    earlier = spring.yard.look(petrel, cast.hal.person, SOUND)
    again = {
        "state": "submitted",
        "supersedes": str(earlier.pk),
        "findings": [{"checkpoint": "deck-cracks", "kind": "looked", "level": 1}],
    }
    made = ok(cast.hal.post(f"/viewings/{earlier.viewing_id}/submissions", again))
    quay = {
        "name": "North Quay",
        "latitude": 54.1,
        "longitude": 10.2,
        "time_zone": "Europe/Berlin",
        "opening_hours": {"monday": [{"opens": "08:00", "closes": "17:00"}]},
        "closed_on": ["2025-12-25"],
    }
    quay = ok(ben.post(f"/groups/{cast.group.pk}/yards", quay))
    ok(ben.change("PATCH", f"/candidates/{petrel.pk}", {"place": {"yard_id": quay["id"]}}))
    at = f"/candidates/{petrel.pk}"
    visit = {
        "starts_at": "2030-04-01T10:00:00Z",
        "conditions": {"where": "ashore"},
        "people": [str(ben.person.pk), str(bea.person.pk)],
    }
    ok(ben.post(f"{at}/viewings", visit))
    trial = {"kind": "sea_trial", "starts_at": "2030-05-04T10:00:00Z"}
    sailed = {"wind": 4, "sea_state": 3, "sails_set": "full", "load": "light"}
    ok(ben.post(f"{at}/viewings", {**trial, "conditions": sailed}))
    question = {"question": "Is there an invoice?", "asked_of": "seller", "assignee": bea.person.pk}
    ok(ben.post(f"{at}/follow-ups", question))
    clearance = {
        "checkpoint": "keel-joint-line",
        "basis": "repair",
        "level": 0,
        "document": "Invoice 17",
        "dated_on": "2025-03-20",
    }
    ok(ben.post(f"/candidates/{spring.fulmar.pk}/clearances", clearance))
    remedy = ben.get("/remedies").json()["results"][0]["code"]
    quote = {
        "remedy": remedy,
        "price": {"amount": "900.00", "currency": "USD"},
        "firmness": "fixed",
        "from_whom": "The yard",
        "dated_on": "2025-03-20",
    }
    ok(ben.post(f"{at}/quotes", quote))
    bill = {
        "remedy": remedy,
        "paid": {"amount": "950.00", "currency": "USD"},
        "done_by": "professional",
        "document": "Invoice 18",
        "dated_on": "2025-05-20",
    }
    ok(ben.post(f"{at}/bills", bill))
    offer = {
        "price": {"amount": "11000.00", "currency": "USD"},
        "offered_on": "2025-04-01",
        "conditions": [{"code": "survey", "until": "2025-05-01"}],
    }
    ok(ben.post(f"{at}/offers", offer))
    ok(ben.put(f"{at}/gates/debts", {"settled": True, "checked_by": "the registry"}))
    surveyed(ben, petrel, remedy)
    common_money(cast, petrel)
    agreed(cast)
    handed_over(cast, petrel, remedy)
    trip_with_a_stop(cast, petrel)
    asked(spring.petrel, cast)
    ok(cast.ola.change("PATCH", spring.path, {"opinions_open": True}))
    return spring, made["id"]


def surveyed(who: Speaker, candidate: Any, remedy: str) -> None:
    """A survey that was voted for, commissioned, made and corrected."""
    at = f"/candidates/{candidate.pk}"
    vote = ok(who.post(f"{at}/survey-votes", {"counted_by": "heads", "quorum": "0.1"}))["id"]
    ok(who.put(f"/survey-votes/{vote}/ballot", {"choice": "yes"}))
    ok(who.post(f"/survey-votes/{vote}/closing", {}))
    commission = {
        "kind": "hull",
        "vote": vote,
        "surveyor": "A surveyor",
        "fee": {"amount": "800.00", "currency": "USD"},
        "payer": str(who.person.pk),
    }
    survey = ok(who.post(f"{at}/surveys", commission))["id"]
    cost = {"low": "400.00", "high": "900.00", "currency": "USD"}
    dear = {"words": "Weeps", "urgency": "before_use", "cost": cost, "remedy": remedy}
    for document in ("Report 31", "Report 31, put right"):
        report = {
            "document": document,
            "looked_at": "2025-04-12T09:00:00Z",
            "findings": [
                {"checkpoint": "deck-cracks", "level": 2, "words": "Fine"},
                {"checkpoint": "keel-joint-line", "measured": {"value": 0.5, "unit": "mm"}},
                dear,
            ],
        }
        ok(who.post(f"/surveys/{survey}/reports", report))


def common_money(cast: Cast, candidate: Any) -> None:
    """An expense by shares in another currency, its reversal, and a payment."""
    path, ben = f"/groups/{cast.group.pk}", cast.ben
    ok(ben.put(f"{path}/ledger", {"currency": "USD"}))
    expense = {
        "what": "Lift-out",
        "purpose": "lift_out",
        "candidate": str(candidate.pk),
        "paid_by": str(cast.bea.person.pk),
        "paid": {"amount": "250.00", "currency": "EUR"},
        "exchange": {"rate": "1.08", "known_from": "the bank", "on": "2025-03-20"},
        "paid_on": "2025-03-20",
        "rule": "equal",
    }
    made = ok(ben.post(f"{path}/expenses", expense))
    reversal = {"reason": "Not yet paid", "on": "2025-03-21"}
    ok(ben.post(f"/ledger-entries/{made['id']}/reversals", reversal))
    payment = {
        "paid_by": str(ben.person.pk),
        "to": str(cast.bea.person.pk),
        "paid": {"amount": "20.00", "currency": "USD"},
        "paid_on": "2025-03-22",
    }
    ok(ben.post(f"{path}/payments", payment))


def agreed(cast: Cast) -> None:
    """Two wordings of a clause, to each of which somebody agreed."""
    path = f"/groups/{cast.group.pk}/agreement/arrears"
    for number, (text, who) in enumerate(
        (("No sailing after 30 days.", cast.ben), ("No sailing after 60 days.", cast.bea)), start=1
    ):
        say = cast.ola.put if number == 1 else partial(cast.ola.change, "PUT")
        ok(say(path, {"text": text}))
        ok(who.post(f"{path}/consents", {"wording": number}))


def handed_over(cast: Cast, candidate: Any, remedy: str) -> None:
    at, ben = f"/candidates/{candidate.pk}", cast.ben
    ok(ben.put(f"{at}/handover", {"sold_on": "2025-06-01", "seller": "The widow"}))
    key = ok(ben.post(f"{at}/handover-items", {"kind": "key", "what": "Key", "promised": 2}))
    ok(cast.bea.change("PATCH", f"/handover-items/{key['id']}", {"found": 1}))
    season = {"first_month": "2025-10-01", "own_hours": 20, "lift_months": [4, 10]}
    ok(ben.put(f"{at}/season-settings", season))
    ok(ben.put(f"{at}/work/{remedy}", {"choice": "plan"}))


def trip_with_a_stop(cast: Cast, candidate: Any) -> None:
    trip = Trip.objects.create(
        group=cast.group,
        made_by=cast.ben.person,
        name="Round the estuary",
        day="2030-04-01",
        time_zone="Europe/Berlin",
        currency="USD",
    )
    party = trip.parties.create(
        label="Ben's car", latitude=54.3, longitude=10.1, leaves_at="08:00", back_by="17:30"
    )
    party.people.add(cast.ben.person)
    boat = trip.boats.create(candidate=candidate, value=120, basis="best_check", minutes=40)
    TripStop.objects.create(
        boat=boat,
        party=party,
        position=1,
        starts_at="2030-04-01T08:00:00Z",
        ends_at="2030-04-01T08:40:00Z",
        metres=31_000,
        drive_minutes=31,
    )


def own_words(who: Speaker, of: str, code: str, title: str) -> None:
    """The club or group changes the words of a checkpoint."""
    at = f"{of}/checkpoints/{code}"
    own = {**ok(who.get(at))["effective"], "title": title}
    ok(who.put(at, {"own": own}))


def asked(boat: Candidate, cast: Cast) -> None:
    """A finished look by an adviser of the club; an unfinished one would have no end."""
    club = Club.objects.create(name="Estuary Club")
    Group.objects.filter(pk=cast.group.pk).update(club=club)
    question = {"question": "Is the deck dry?", "checkpoints": ["deck-cracks"]}
    path = f"/candidates/{boat.pk}/second-opinion-requests"
    over = ok(cast.ben.post(path, question))["id"]
    ok(cast.ben.change("DELETE", f"/second-opinion-requests/{over}"))


def ok(answer: Any) -> Any:
    assert answer.status_code < 300, answer.content
    return answer.json() if answer.content else None
