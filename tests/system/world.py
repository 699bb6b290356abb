"""A group with at least two of everything, made through the API; every text has its word.

Two such groups in two worlds show whether anything leaks from one to the other.
"""

from dataclasses import dataclass, field, replace
from typing import Any
from uuid import UUID

from apps.appraisal.jobs import list_recompute
from apps.boats.yards.hours import WEEKDAYS
from apps.groups.models import ClubMembership, Group
from tests.conftest import Speaker
from tests.viewings.media import (
    picture,
    sent_gate_document,
    sent_photo,
    sent_seller_photo,
    sent_sound,
    taps,
)

PASSWORD = "tidal stream 9"
# What is the same in every world.
SHARED = {
    "checkpoint": "joint",
    "remedy": "reseal",
    "own_kind": "remedies",
    "gate": "debts",
    "topic": "arrears",
}


def money(amount: str) -> dict[str, str]:
    return {"amount": amount, "currency": "EUR"}


def looked(level: int) -> dict[str, Any]:
    return {"checkpoint": "joint", "kind": "looked", "level": level}


@dataclass
class World:
    """`ids` has the ids for the API's paths; `word` is in every text of this world."""

    word: str
    group: Group
    organiser: Speaker
    buyer: Speaker
    adviser: Speaker | None = None  # of the club that the group belongs to, and of no group
    ids: dict[str, str] = field(default_factory=dict)

    def __getitem__(self, name: str) -> str:
        return self.ids[name]

    @property
    def named(self) -> dict[str, str]:
        """The ids for the parameters of paths."""
        return SHARED | self.ids

    def text(self, said: str) -> str:
        return f"{said} {self.word}"

    def made(self, who: Speaker, method: str, path: str, body: Any = None, **headers: str) -> Any:
        """The answer of a call that must succeed."""
        answer = who.send(method, path, body, **headers)
        assert answer.status_code < 300, (method, path, answer.content)
        return answer.json() if answer.content else None

    def add(self, name: str, who: Speaker, path: str, body: Any) -> dict[str, Any]:
        """Make a record and keep its id under this name."""
        made = self.made(who, "POST", path, body)
        self.ids[name] = made["id"]
        return made

    @property
    def words(self) -> set[str]:
        """The words and ids that outsiders must never get."""
        return {self.word, self.of_the_club.word, *self.ids.values()}

    @property
    def of_the_club(self) -> "World":
        """The same world with another word for the club's texts, which the club may see."""
        return replace(self, word=f"{self.word.removesuffix('word')}club")


# What forms send, by the name that stands for it.
FILES = {"photo.jpg": picture(size=(40, 30)), "taps.wav": taps(taps=3)}


def with_files(form: dict[str, Any]) -> dict[str, Any]:
    """A form with the files that it names."""
    return {name: FILES.get(value, value) for name, value in form.items()}


def world_made(
    word: str, group: Group, organiser: Speaker, buyer: Speaker, adviser: Speaker | None = None
) -> World:
    """Make everything twice; `ids` has the first."""
    world = World(word, group, organiser, buyer, adviser, {"group_id": str(group.id)})
    world.ids |= {"organiser": str(organiser.person.id), "buyer": str(buyer.person.id)}
    _group(world)
    _club(world)
    _yards(world)
    for nth in ("second", "first"):
        _list(world, nth)
        _boat(world, nth)
    _catalogues(world)
    _opinions(world)
    _visits(world)
    _media(world)
    _settled(world)
    _common_money(world)
    _gates(world)
    _agreement(world)
    _surveys(world)
    _owning(world)
    list_recompute(list_id=UUID(world["list_id"]))
    return world


def _group(world: World) -> None:
    world.organiser.person.set_password(PASSWORD)
    world.organiser.person.save()
    organiser, path = world.organiser, f"/groups/{world['group_id']}"
    etag = organiser.get(path)["ETag"]
    world.made(organiser, "PATCH", path, {"name": world.text("Group")}, If_Match=etag)
    world.add("other_group_id", organiser, "/groups", {"name": world.text("Second group")})
    for name in ("second_invitation_id", "invitation_id"):
        body = {"role": "helper", "note": world.text("For a friend")}
        world.ids["invitation"] = world.add(name, organiser, f"{path}/invitations", body)["token"]
    members = world.made(organiser, "GET", f"{path}/members")["results"]
    world.ids["membership_id"] = next(
        row["id"] for row in members if row["person"]["id"] == world["buyer"]
    )
    signing_in = {"email": organiser.person.email, "password": PASSWORD}
    world.add("token_id", Speaker(None), "/sessions", signing_in)


def _club(world: World) -> None:
    organiser = world.organiser
    for name in ("second_club_id", "club_id"):
        world.add(name, organiser, "/clubs", {"name": world.of_the_club.text("Club")})
    path = f"/clubs/{world['club_id']}"
    for name in ("second_club_invitation_id", "club_invitation_id"):
        body = {"role": "member", "note": world.of_the_club.text("For a friend")}
        invited = world.add(name, organiser, f"{path}/invitations", body)
    world.made(world.buyer, "POST", "/acceptances", {"token": invited["token"]})
    Group.objects.filter(pk=world.group.pk).update(club=world["club_id"])
    if world.adviser is not None:
        ClubMembership.objects.create(
            club_id=world["club_id"], person=world.adviser.person, role="adviser"
        )
        world.ids["adviser"] = str(world.adviser.person.id)
    members = world.made(organiser, "GET", f"{path}/members")["results"]
    world.ids["club_membership_id"] = next(
        row["id"] for row in members if row["person"]["id"] == world["buyer"]
    )


def _yards(world: World) -> None:
    """Two of the club, two of the group."""
    for owner, at, whose in (
        ("club_", f"/clubs/{world['club_id']}", world.of_the_club),
        ("", f"/groups/{world['group_id']}", world),
    ):
        for nth in ("second_", ""):
            world.add(f"{nth}{owner}yard_id", world.organiser, f"{at}/yards", yard(whose))


def yard(world: World) -> dict[str, Any]:
    return {
        "name": world.text("North Quay"),
        "latitude": 54.1,
        "longitude": 10.2,
        "time_zone": "Europe/Berlin",
        "opening_hours": {day: [{"opens": "08:00", "closes": "18:00"}] for day in WEEKDAYS},
        "closed_on": ["2025-12-25"],
        "note": world.text("Tell the office"),
    }


def _list(world: World, nth: str) -> None:
    brief = {
        "currency": "EUR",
        "budget": money("40000.00"),
        "own_remedies": ["reseal"],
        "exchange_rates": {"USD": "0.92"},
    }
    body = {"name": world.text(f"The {nth} list"), "brief": brief}
    world.add("list_id", world.organiser, f"/groups/{world['group_id']}/lists", body)


def _boat(world: World, nth: str) -> None:
    """Two boats on the first list; both have a price changed and a stage left behind."""
    for name in ("second_candidate_id", "candidate_id"):
        boat = {
            "name": world.text(f"Boat of the {nth} list"),
            "loa_m": 10.0,
            "lwl_m": 8.0,
            "beam_m": 3.2,
            "draught_m": 1.6,
            "displacement_kg": 5000.0,
            "ballast_kg": 2000.0,
            "sail_area_m2": 50.0,
            "hull_material": "grp",
            "keel": "bolted_fin",
            "keel_ballast": "iron",
            "steering": "wheel",
            "windlass": "electric",
            "heater": "diesel",
            "build_year": 1984,
            "asking": money("20000.00"),
            "note": world.text("Under a cover"),
            "place": {
                "yard": world.text("Yard"),
                "yard_id": world["yard_id"],
                "latitude": 54.1,
                "longitude": 10.2,
            },
        }
        made = world.add(name, world.buyer, f"/lists/{world['list_id']}/candidates", boat)
        at = f"/candidates/{made['id']}"
        for reason in ("Looks well kept", "Rather a first look"):
            stage = {"stage": "viewing" if reason[0] == "L" else "shortlisted"}
            world.made(
                world.buyer, "POST", f"{at}/stage-changes", {**stage, "reason": world.text(reason)}
            )
        price = {"asking": money("19000.00"), "note": world.text("Came down")}
        world.made(world.buyer, "POST", f"{at}/prices", price)


def _catalogues(world: World) -> None:
    """The club and the group each change two entries."""
    for of, whose in (
        (f"/clubs/{world['club_id']}", world.of_the_club),
        (f"/groups/{world['group_id']}", world),
    ):
        for code in ("rebed", "reseal"):
            own = {"source": whose.text("Our yard's list")}
            body = {"own": own, "note": whose.text("Agreed in March")}
            world.made(world.organiser, "PUT", f"{of}/catalogue/remedies/{code}", body)


def _opinions(world: World) -> None:
    at_list, boats = f"/lists/{world['list_id']}", (world["candidate_id"],)
    free = {"kind": "weight", "weight": 3, "subject": "free", "text": world.text("A galley")}
    for name in ("second_want_id", "want_id"):
        world.add(name, world.organiser, f"{at_list}/wants", free)
    for boat in (*boats, world["second_candidate_id"]):
        judged = {"met": True, "note": world.text("A good one")}
        at = f"/wants/{world['want_id']}/judgements/{boat}"
        world.made(world.organiser, "PUT", at, judged)
    for who in (world.organiser, world.buyer):
        for boat in boats:
            valuation = {"valuation": money("21000.00")}
            world.made(who, "PUT", f"/candidates/{boat}/valuation", valuation)
        world.made(who, "PUT", f"{at_list}/ballot", {"ranks": [[boat] for boat in boats]})


def _visits(world: World) -> None:
    at = f"/candidates/{world['candidate_id']}"
    for name in ("second_viewing_id", "viewing_id"):
        visit = {
            "starts_at": "2025-03-01T10:00:00Z",
            "conditions": {"where": "ashore", "covered": True, "walk_under_cover": False},
            "people": [world["buyer"]],
            "note": world.text("Ask for the ladder"),
        }
        world.add(name, world.buyer, f"{at}/viewings", visit)
    at = f"/viewings/{world['viewing_id']}/submissions"
    finding = {**looked(3), "note": world.text("It weeps"), "tags": [world.word]}
    said = {"vote": "keep", "note": world.text("A quick look"), "findings": [finding]}
    world.add("draft_id", world.buyer, at, said)
    for name, who in (("buyers_submission_id", world.buyer), ("submission_id", world.organiser)):
        world.add(name, who, at, {**said, "state": "submitted"})


def _media(world: World) -> None:
    at = f"/submissions/{world['submission_id']}"
    for nth in ("second_", ""):
        form = {"checkpoint": "joint", "note": world.text("From astern")}
        sent = with_files({"file": "photo.jpg", **form})
        world.ids[f"{nth}photo_id"] = sent_photo(world.organiser, f"{at}/photos", sent)["id"]
        sent = with_files({"file": "photo.jpg", "note": world.text("The saloon")})
        photo = sent_seller_photo(world.organiser, world["candidate_id"], sent)
        world.ids[f"{nth}seller_photo_id"] = photo["id"]
        sent = with_files({"file": "photo.jpg", "note": world.text("The extract")})
        paper = sent_gate_document(world.organiser, world["candidate_id"], sent)
        world.ids[f"{nth}gate_document_id"] = paper["id"]
        sent = with_files({"file": "taps.wav", **form})
        world.ids[f"{nth}sound_id"] = sent_sound(world.organiser, f"{at}/sounds", sent)["id"]


def expense_body(world: World) -> dict[str, Any]:
    return {
        "what": world.text("Ferry and fuel"),
        "purpose": "journey",
        "candidate": world["candidate_id"],
        "paid_by": world["buyer"],
        "paid": money("91.00"),
        "paid_on": "2025-04-20",
        "rule": "use",
        "weights": [{"person": world["organiser"], "weight": "1"}],
        "note": world.text("Both ways"),
    }


def _common_money(world: World) -> None:
    path = f"/groups/{world['group_id']}"
    world.made(world.organiser, "PUT", f"{path}/ledger", {"currency": "EUR"})
    for name in ("second_entry_id", "entry_id"):
        world.add(name, world.organiser, f"{path}/expenses", expense_body(world))


def _gates(world: World) -> None:
    for code in ("title", "debts"):
        body = {"needed": False, "note": world.text("Ask the harbour office")}
        path = f"/candidates/{world['candidate_id']}/gates/{code}"
        world.made(world.organiser, "PUT", path, body)


def _agreement(world: World) -> None:
    for topic in ("berth", "arrears"):
        path = f"/groups/{world['group_id']}/agreement/{topic}"
        world.made(world.organiser, "PUT", path, {"text": world.text("As we said")})
        world.made(world.organiser, "POST", f"{path}/consents", {"wording": 1})


def survey(world: World) -> dict[str, Any]:
    return {
        "kind": "rig",
        "surveyor": world.text("The rigger"),
        "scope": world.text("Mast down"),
        "fee": money("300.00"),
        "payer": world["buyer"],
        "note": world.text("Rings before he comes"),
    }


def survey_report(world: World) -> dict[str, Any]:
    cost = {"low": "700.00", "high": "1200.00", "currency": "EUR"}
    words = world.text("Reseal the fittings")
    return {
        "document": world.text("Report 31"),
        "looked_at": "2025-04-12T09:00:00Z",
        "summary": world.text("In fair order"),
        "findings": [
            {**looked(1), "words": world.text("Dry")},
            {"words": words, "urgency": "next_season", "cost": cost, "remedy": "reseal"},
        ],
    }


def _surveys(world: World) -> None:
    """Two votes on the second boat, the first of them closed; two surveys of the first boat."""
    at = f"/candidates/{world['second_candidate_id']}/survey-votes"
    for name in ("second_vote_id", "vote_id"):
        body = {"counted_by": "heads", "reason": world.text("She leads")}
        world.add(name, world.buyer, at, body)
        path = f"/survey-votes/{world[name]}"
        for who in (world.organiser, world.buyer):
            ballot = {"choice": "yes", "note": world.text("At last")}
            world.made(who, "PUT", f"{path}/ballot", ballot)
        if name == "second_vote_id":
            world.made(world.buyer, "POST", f"{path}/closing", {"note": world.text("Clear")})
    for name in ("second_survey_id", "survey_id"):
        at = f"/candidates/{world['candidate_id']}/surveys"
        world.add(name, world.buyer, at, survey(world))
        for report in ("first_report_id", "report_id"):
            body = survey_report(world)
            world.add(report, world.organiser, f"/surveys/{world[name]}/reports", body)


def _owning(world: World) -> None:
    """Her handover, and the season after it."""
    at, organiser = f"/candidates/{world['candidate_id']}", world.organiser
    sold = {
        "seller": world.text("The widow"),
        "price": money("18000.00"),
        "note": world.text("Fair"),
    }
    world.made(organiser, "PUT", f"{at}/handover", sold)
    for name in ("second_item_id", "item_id"):
        item = {"kind": "key", "what": world.text("Key of the shed")}
        world.add(name, organiser, f"{at}/handover-items", item)
    season = {"first_month": "2025-10-01", "own_hours": 20}
    world.made(organiser, "PUT", f"{at}/season-settings", season)
    decided = {"choice": "plan", "note": world.text("Before the launch")}
    world.made(organiser, "PUT", f"{at}/work/{SHARED['remedy']}", decided)


def seller_answer(world: World) -> dict[str, Any]:
    return {
        "checkpoint": "joint",
        "answer": world.text("Never off, the keel"),
        "level": 1,
        "said_by": "owner",
        "name": world.text("The owner's name"),
        "said_on": "2025-03-02",
    }


def _settled(world: World) -> None:
    at = f"/candidates/{world['candidate_id']}"
    for nth in ("second_", ""):
        question = {
            "question": world.text("When was the keel last off?"),
            "asked_of": "seller",
            "checkpoint": "joint",
            "assignee": world["buyer"],
        }
        world.add(f"{nth}follow_up_id", world.buyer, f"{at}/follow-ups", question)
        world.add(f"{nth}clearance_id", world.buyer, f"{at}/clearances", clearance(world))
        path = f"{at}/seller-answers"
        world.add(f"{nth}seller_answer_id", world.organiser, path, seller_answer(world))
        world.add(f"{nth}quote_id", world.buyer, f"{at}/quotes", quote(world))
        world.add(f"{nth}bill_id", world.buyer, f"{at}/bills", bill(world))
        world.add(f"{nth}offer_id", world.buyer, f"{at}/offers", offer(world))
    withdrawn = {"state": "withdrawn", "reason": world.text("The survey")}
    path = f"/offers/{world['offer_id']}"
    etag = world.buyer.get(path)["ETag"]
    world.made(world.buyer, "PATCH", path, withdrawn, If_Match=etag)


def clearance(world: World) -> dict[str, Any]:
    return {
        "checkpoint": "joint",
        "basis": "repair",
        "level": 0,
        "document": world.text("Invoice 17"),
        "dated_on": "2025-03-20",
        "note": world.text("Page 2"),
    }


def quote(world: World) -> dict[str, Any]:
    return {
        "remedy": "reseal",
        "price": money("900.00"),
        "firmness": "fixed",
        "from_whom": world.text("The yard"),
        "scope": world.text("Both sides"),
        "dated_on": "2025-03-20",
    }


def offer(world: World) -> dict[str, Any]:
    return {
        "price": money("17000.00"),
        "offered_on": "2025-05-02",
        "conditions": [{"code": "survey", "until": "2025-05-20"}, {"code": "sea_trial"}],
        "note": world.text("By mail"),
    }


def bill(world: World) -> dict[str, Any]:
    return {
        "remedy": "reseal",
        "paid": money("1050.00"),
        "done_by": "professional",
        "document": world.text("Invoice 18"),
        "dated_on": "2025-04-20",
        "note": world.text("With the lift"),
    }
