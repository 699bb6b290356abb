"""A successful call of every operation: one line for each, or the suite fails.

A new operation gets its line here; ids in its path are looked up in the world by the parameter's
name. `given` first makes what the operation needs beyond every world's records.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

from django.utils import timezone
from oauth2_provider.models import AccessToken
from uuid_utils.compat import uuid7

from apps.accounts.program_services import program_register
from apps.events.models import Delivery
from apps.groups.admissions import request_settle
from apps.groups.models import AdmissionRequest
from apps.notifications.jobs import group_notify
from apps.notifications.models import Notification
from apps.planning.jobs import trip_plan
from apps.viewings.media.preparing import photo_prepare
from tests.conftest import Speaker
from tests.system.world import (
    PASSWORD,
    World,
    bill,
    clearance,
    expense_body,
    looked,
    money,
    offer,
    quote,
    seller_answer,
    survey,
    survey_report,
    with_files,
    yard,
)

Body = Callable[[World], Any]
Given = Callable[[World], None]


def says(**body: Any) -> Body:
    """A body that is the same in every world, except its texts."""
    return lambda w: {k: w.text(v) if k in TEXTS else v for k, v in body.items()}


TEXTS = ("name", "note", "text", "question", "answer", "reason")


@dataclass(frozen=True)
class Call:
    """One successful call, and the exceptions to the conventions.

    Conventions: anonymous 401, outsiders 404, an observer 403 when writing and 200 when reading.
    `at` gives the id for a parameter of the path, if it is not the one of that name.
    """

    body: Body | None = None
    by: str = "organiser"
    at: Mapping[str, str] = field(default_factory=dict)
    given: Given | None = None
    nobody: int = 401
    outsider: int = 404
    observer: int | None = None
    # People who see it but may not do this: not its author, or only a member of the club.
    refused: tuple[str, ...] = ()
    # The body has a secret that allows the call, so there are no outsiders.
    keyed: bool = False


def offered(world: World) -> None:
    """An offer that waits for its answer."""
    world.add(
        "live_offer_id", world.buyer, f"/candidates/{world['candidate_id']}/offers", offer(world)
    )


def shares(world: World) -> list[dict[str, str]]:
    """The other buyers have equal parts, the organiser has the rest."""
    at = f"/groups/{world['group_id']}/shares"
    people = [row["person"] for row in world.made(world.organiser, "GET", at)["shares"]]
    others = [person for person in people if person != world["organiser"]]
    each = 500_000 // len(others)  # millionths
    parts = dict.fromkeys(others, each) | {world["organiser"]: 1_000_000 - each * len(others)}
    return [{"person": person, "share": f"{part / 1e6:.6f}"} for person, part in parts.items()]


def entry(world: World) -> dict[str, Any]:
    return {"own": {"parts": [120, 220, 420]}, "note": world.text("As our yard has it")}


def twice(given: Given) -> Given:
    def both(world: World) -> None:
        given(world)
        given(world)

    return both


def soon() -> str:
    return (timezone.now() + timedelta(days=30)).isoformat()


def admission(world: World) -> None:
    """The organiser's other group asks the club; what it asked before was withdrawn."""
    at = f"/groups/{world['other_group_id']}/admission-requests"
    for settled in AdmissionRequest.objects.filter(group=world["other_group_id"], state="waiting"):
        request_settle(settled, AdmissionRequest.State.WITHDRAWN, world.organiser.person)
    body = {"club_id": world["club_id"], "note": world.text("We sail there")}
    world.add("admission_id", world.organiser, at, body)


def club_group(world: World) -> None:
    body = {"name": world.text("Third group"), "club_id": world["club_id"]}
    world.made(world.organiser, "POST", "/groups", body)


def token(world: World) -> None:
    body = {"name": world.text("Script"), "scopes": None, "expires_at": soon()}
    world.add("personal_token_id", world.organiser, "/tokens", body)


def grant(world: World) -> None:
    """The organiser allowed a program that acts for members."""
    made = program_register(
        name=world.text("Gauge"), redirect_uris=["https://gauge.example.org"], scopes=["lists:read"]
    ).program
    AccessToken.objects.create(
        user=world.organiser.person,
        application=made,
        token=uuid4().hex,
        scope="lists:read",
        expires=timezone.now() + timedelta(hours=1),
    )
    world.ids["granted_id"] = str(made.pk)


def webhook(world: World) -> None:
    body = {"url": f"https://{world.word.lower()}.example.org/in", "note": world.text("Ours")}
    world.add("webhook_id", world.organiser, f"/groups/{world['group_id']}/webhooks", body)


def delivery(world: World) -> None:
    webhook(world)
    for _ in range(2):
        world.add("delivery_id", world.organiser, f"/webhooks/{world['webhook_id']}/trials", {})
    Delivery.objects.update(state=Delivery.State.FAILED, due_at=None)


def program(world: World) -> None:
    body = {"name": world.text("Moisture meter"), "scopes": ["lists:read"]}
    world.add("program_id", world.organiser, f"/groups/{world['group_id']}/programs", body)


def batch(world: World) -> dict[str, Any]:
    """Findings from a known visit and from a new one in the batch."""
    visit = {
        "id": str(uuid7()),
        "candidate": world["second_candidate_id"],
        "starts_at": "2025-04-01T10:00:00Z",
        "people": [world["buyer"]],
        "note": world.text("By the way"),
    }
    said = {"state": "submitted", "findings": [looked(2)], "note": world.text("Late")}
    return {
        "submissions": [
            {"id": str(uuid7()), "viewing": world["viewing_id"], **said},
            {"id": str(uuid7()), "new_viewing": visit, **said},
        ]
    }


def trip_body(world: World) -> dict[str, Any]:
    party = {
        "label": world.text("Our car"),
        "people": [world["organiser"], world["buyer"]],
        "start": {"label": world.text("Home"), "latitude": 54.32, "longitude": 10.13},
        "leaves_at": "08:00",
        "back_by": "17:00",
    }
    return {
        "name": world.text("Round the estuary"),
        "note": world.text("Bring boots"),
        "day": str(timezone.now().date() + timedelta(days=30)),
        "time_zone": "Europe/Berlin",
        "currency": "EUR",
        "parties": [party],
        "boats": [{"candidate": world["candidate_id"], "value": money("50.00")}],
    }


def own_trip_body(world: World) -> dict[str, Any]:
    body = trip_body(world)
    return {**body, "parties": [{**body["parties"][0], "people": [world["organiser"]]}]}


def trip(world: World) -> None:
    at = f"/groups/{world['group_id']}/trips"
    world.add("trip_id", world.organiser, at, trip_body(world))


def own_trip(world: World) -> None:
    at = f"/clubs/{world['club_id']}/trips"
    world.made(world.organiser, "POST", at, own_trip_body(world))


def planned_trip(world: World) -> None:
    trip(world)
    world.made(world.organiser, "POST", f"/trips/{world['trip_id']}/plans", {})
    trip_plan(trip_id=UUID(world["trip_id"]))


def export(world: World) -> None:
    world.add("export_id", world.organiser, f"/groups/{world['group_id']}/exports", {})


def own_export(world: World) -> None:
    world.add("own_export_id", world.organiser, "/people/me/exports", {})


def brought(world: World) -> None:
    world.add("import_id", world.organiser, "/imports", {"name": world.text("Brought")})


def noticed(world: World) -> None:
    """A notification to the organiser of the buyer's action."""
    group_notify(group_id=UUID(world["group_id"]))
    notifications = Notification.objects.filter(person=world.organiser.person, settled_at=None)
    world.ids["notification_id"] = str(notifications.order_by("pk")[0].pk)


BUYERS_PASSWORD = "neap tide 7 ebb"  # nobody else's


def buyers_password(world: World) -> None:
    world.buyer.person.set_password(BUYERS_PASSWORD)
    world.buyer.person.save()


def second_opinion_request(world: World, boat: str = "candidate_id") -> None:
    """Requests with different questions."""
    body = {"question": f"Is it dry? ({uuid4()})", "checkpoints": ["joint"]}
    at = f"/candidates/{world[boat]}/second-opinion-requests"
    world.add("look_request_id", world.organiser, at, body)


def assignment(world: World, boat: str = "candidate_id") -> None:
    second_opinion_request(world, boat)
    world.add(
        "assignment_id",
        adviser(world),
        f"/second-opinion-queue/{world['look_request_id']}/assignments",
        None,
    )


def assignments(world: World) -> None:
    """Assignments of different boats, because nobody gets one twice."""
    assignment(world, "second_candidate_id")
    assignment(world)


def adviser(world: World) -> Speaker:
    assert world.adviser is not None
    return world.adviser


def visited(world: World) -> None:
    assignment(world)
    body = {"starts_at": "2025-04-01T10:00:00Z", "conditions": {"where": "ashore"}}
    world.made(adviser(world), "PUT", f"/assignments/{world['assignment_id']}/visit", body)


def assignment_drafts(world: World) -> None:
    visited(world)
    for _ in range(2):
        body = {"findings": [looked(2)], "note": "Dry"}
        at = f"/assignments/{world['assignment_id']}/submissions"
        world.add("assignment_submission_id", adviser(world), at, body)


def assignment_photos(world: World) -> None:
    assignment_drafts(world)
    submission = world["assignment_submission_id"]
    at = f"/assignments/{world['assignment_id']}/submissions/{submission}/photos"
    for _ in range(2):
        form = with_files({"file": "photo.jpg", "checkpoint": "joint"})
        sent = adviser(world).send_form(at, form).json()
        photo_prepare(photo_id=sent["id"])
        world.ids["assignment_photo_id"] = sent["id"]


def planned(world: World) -> None:
    """A future visit."""
    body = {"starts_at": soon(), "people": [world["buyer"]], "note": world.text("Bring boots")}
    at = f"/candidates/{world['candidate_id']}/viewings"
    world.add("planned_id", world.buyer, at, body)


def yard_day(world: World) -> None:
    planned(world)
    made = world.made(world.buyer, "PUT", f"/viewings/{world['planned_id']}/yard-day", {"room": 2})
    world.ids["yard_day_id"] = made["id"]


def advisers_boat(world: World) -> None:
    """The adviser has a group of their own in the club, and a boat where the yard day leads."""
    yard_day(world)
    own = world.made(
        adviser(world), "POST", "/groups", {"name": "Advisers", "club_id": world["club_id"]}
    )
    brief = {"currency": "EUR", "budget": money("30000.00")}
    listed = world.made(
        adviser(world), "POST", f"/groups/{own['id']}/lists", {"name": "Own", "brief": brief}
    )
    boat = {"name": "Own boat", "place": {"latitude": 54.1, "longitude": 10.2}}
    world.add("advisers_boat_id", adviser(world), f"/lists/{listed['id']}/candidates", boat)


def asked_on_day(world: World) -> None:
    advisers_boat(world)
    for question in ("How is her deck?", "And the mast?"):
        body = {"candidate": world["advisers_boat_id"], "question": question}
        at = f"/yard-days/{world['yard_day_id']}/requests"
        world.made(adviser(world), "POST", at, body)


ALL = {"outsider": 200}  # open to everybody who is signed in
OWN = {"outsider": 200, "observer": 200}  # about the person of the request

# Of the group, and a plain member of the club; none of it is theirs.
NOT_BUYER = {"refused": ("buyer",)}
# Only the club's secretary may.
SECRETARY = {"observer": 404, "refused": ("buyer", "adviser")}
ADVISER = {"by": "adviser"}
ASKED = {"request_id": "look_request_id"}
OWN_DRAFT = {"submission_id": "assignment_submission_id"}
OWN_PHOTO = {"photo_id": "assignment_photo_id"}
PLANNED = {"viewing_id": "planned_id"}
# The group without a club.
ASKING, ADMISSION = {"group_id": "other_group_id"}, {"request_id": "admission_id"}
CLUB_MEMBER = {"membership_id": "club_membership_id"}
GATE = {"code": "gate"}
VOTED_ON = {"candidate_id": "second_candidate_id"}
CHECKPOINT, REMEDY = {"code": "checkpoint"}, {"code": "remedy"}
ENTRY = {"kind": "own_kind", "code": "remedy"}

CALLS: dict[str, Call] = {
    # accounts
    "sessions_list": Call(**OWN),
    "sessions_open": Call(
        lambda w: {"email": w.organiser.person.email, "password": PASSWORD},
        nobody=201,
        outsider=201,
        observer=201,
        keyed=True,
    ),
    "sessions_close": Call(observer=404),
    "people_me": Call(**OWN),
    "people_change_me": Call(says(name="Olga"), **OWN),
    "people_change_password": Call(
        says(present=BUYERS_PASSWORD, password="slack water 5 again"),
        by="buyer",
        given=buyers_password,
        outsider=422,
        observer=422,
        keyed=True,
    ),
    "tokens_list": Call(given=twice(token), **OWN),
    "tokens_create": Call(
        lambda w: {"name": w.text("Scale"), "scopes": ["lists:read"], "expires_at": soon()},
        outsider=201,
        observer=201,
    ),
    "tokens_revoke": Call(at={"token_id": "personal_token_id"}, given=token, observer=404),
    "grants_list": Call(given=twice(grant), **OWN),
    "grants_revoke": Call(at={"program_id": "granted_id"}, given=grant, observer=404),
    # archives, and leaving for good
    "group_exports_list": Call(given=twice(export), observer=403),
    "group_exports_create": Call(),
    "exports_read": Call(given=export, observer=403),
    "own_exports_list": Call(given=twice(own_export), **OWN),
    "own_exports_create": Call(outsider=201, observer=201),
    "imports_list": Call(given=twice(brought), **OWN),
    "imports_create": Call(says(name="Brought along"), outsider=201, observer=201),
    "imports_read": Call(given=brought, observer=404),
    "people_delete_me": Call(
        says(password=BUYERS_PASSWORD),
        by="buyer",
        given=buyers_password,
        outsider=422,
        observer=422,
        keyed=True,
    ),
    # groups
    "groups_list": Call(**ALL),
    "groups_create": Call(says(name="New group"), outsider=201, observer=201),
    "groups_read": Call(),
    "groups_change": Call(says(name="Renamed")),
    "members_list": Call(),
    "members_read": Call(),
    "members_change": Call(says(role="helper", buys=False)),
    "members_end": Call(),
    "shares_read": Call(),
    "shares_set": Call(lambda w: {"shares": shares(w)}),
    "invitations_list": Call(observer=403),
    "invitations_create": Call(says(role="helper", note="For a friend")),
    "invitations_read": Call(observer=403),
    "invitations_withdraw": Call(),
    "invitations_accept": Call(
        lambda w: {
            "token": w["invitation"],
            "email": "new@example.org",
            "name": w.text("Newcomer"),
            "password": PASSWORD,
        },
        by="nobody",
        nobody=201,
        outsider=201,
        observer=409,
        keyed=True,
    ),
    "programs_list": Call(given=twice(program)),
    "programs_add": Call(says(name="Moisture meter", scopes=["lists:read"])),
    "programs_read": Call(given=program),
    "programs_change": Call(says(enabled=False), given=program),
    "programs_retire": Call(given=program),
    "changes_list": Call(**OWN),
    "webhooks_list": Call(given=twice(webhook), observer=403),
    "webhooks_create": Call(says(url="https://hooks.example.org/in", note="Ours")),
    "webhooks_read": Call(given=webhook, observer=403),
    "webhooks_change": Call(says(enabled=False), given=webhook),
    "webhooks_delete": Call(given=webhook),
    "webhooks_rotate_secret": Call(says(keep_old_hours=1), given=webhook),
    "webhooks_try": Call(given=webhook),
    "deliveries_list": Call(given=delivery, observer=403),
    "deliveries_read": Call(given=delivery, observer=403),
    "deliveries_resend": Call(given=delivery),
    # clubs
    "clubs_list": Call(**ALL),
    "clubs_create": Call(says(name="New club"), outsider=201, observer=201),
    "clubs_read": Call(observer=404),
    "clubs_rename": Call(says(name="Renamed"), **SECRETARY),
    "club_members_list": Call(observer=404),
    "club_members_read": Call(at=CLUB_MEMBER, observer=404),
    "club_members_change": Call(says(role="adviser"), at=CLUB_MEMBER, **SECRETARY),
    "club_members_end": Call(at=CLUB_MEMBER, observer=404, refused=("adviser",)),
    "club_invitations_list": Call(observer=404),
    "club_invitations_create": Call(says(role="member", note="For a friend"), **SECRETARY),
    "group_club_read": Call(),
    "group_club_leave": Call(),
    "club_groups_list": Call(given=club_group, observer=404),
    "club_groups_read": Call(observer=404),
    "club_groups_let_go": Call(**SECRETARY),
    "group_admission_requests_list": Call(at=ASKING, given=twice(admission), observer=404),
    "club_admission_requests_list": Call(given=twice(admission), observer=404),
    "admission_requests_create": Call(
        lambda w: {"club_id": w["club_id"], "note": w.text("We sail there")},
        at=ASKING,
        observer=404,
    ),
    "admission_requests_read": Call(at=ADMISSION, given=admission, observer=404),
    "admission_requests_decide": Call(
        says(state="declined", reason="We are full"), at=ADMISSION, given=admission, **SECRETARY
    ),
    "admission_requests_withdraw": Call(at=ADMISSION, given=admission, observer=404),
    "outcomes_read": Call(observer=404),
    "outcomes_page": Call(observer=404),
    "outcomes_svg": Call(observer=404),
    # yards
    "club_yards_list": Call(observer=404),
    "club_yards_create": Call(yard, observer=404, **NOT_BUYER),
    "group_yards_list": Call(),
    "group_yards_create": Call(yard, by="buyer"),
    "yards_read": Call(),
    "yards_change": Call(says(note="Closed for the winter"), by="buyer"),
    "yards_remove": Call(by="buyer"),
    # lists and boats
    "lists_list": Call(),
    "lists_create": Call(
        lambda w: {
            "name": w.text("New list"),
            "brief": {"currency": "EUR", "budget": money("30000.00"), "own_remedies": ["reseal"]},
        }
    ),
    "lists_read": Call(),
    "lists_change": Call(says(name="Renamed", brief={"travel_km": 300})),
    "candidates_list": Call(),
    "candidates_create": Call(says(name="New boat", loa_m=9.0, keel="full"), by="buyer"),
    "candidates_read": Call(),
    "candidates_change": Call(says(note="Seen from the road", beam_m=3.3), by="buyer"),
    "candidates_import": Call(
        lambda w: {"csv": f"name,loa_m\n{w.text('Dunlin')},9.1\n", "dry_run": False}, by="buyer"
    ),
    "stage_changes_list": Call(),
    "stage_changes_create": Call(says(stage="struck_off", reason="Too far off"), by="buyer"),
    "gates_list": Call(),
    "gates_read": Call(at=GATE),
    "gates_set": Call(says(settled=True, checked_by="the registry", note="Clear"), at=GATE),
    "prices_list": Call(),
    "prices_create": Call(says(asking=money("18000.00"), note="Came down"), by="buyer"),
    # opinions
    "wants_list": Call(),
    "wants_create": Call(says(kind="must", subject="free", text="Headroom"), by="buyer"),
    "wants_read": Call(),
    "wants_change": Call(says(text="A bigger galley"), **NOT_BUYER),
    "wants_withdraw": Call(**NOT_BUYER),
    "judgements_list": Call(),
    "judgements_read": Call(),
    "judgements_give": Call(says(met=False, note="Too small"), **NOT_BUYER),
    "judgements_withdraw": Call(**NOT_BUYER),
    "valuations_read": Call(observer=404),
    "valuations_give": Call(says(valuation=money("23000.00"))),
    "valuations_withdraw": Call(observer=404),
    "valuations_list": Call(),
    "ballots_read": Call(observer=404),
    "ballots_give": Call(lambda w: {"ranks": [[w["second_candidate_id"]], [w["candidate_id"]]]}),
    "ballots_withdraw": Call(observer=404),
    "ballots_list": Call(),
    # the catalogue
    "checkpoints_list": Call(**ALL),
    "checkpoints_read": Call(at=CHECKPOINT, **ALL),
    "remedies_list": Call(**ALL),
    "remedies_read": Call(at=REMEDY, **ALL),
    "cautions_list": Call(**ALL),
    "scales_list": Call(**ALL),
    # a club's and a group's own
    "club_catalogue_read": Call(observer=404),
    "club_catalogue_entries_list": Call(at=ENTRY, observer=404),
    "club_catalogue_entries_read": Call(at=ENTRY, observer=404),
    "club_catalogue_entries_say": Call(entry, at=ENTRY, observer=404, **NOT_BUYER),
    "club_catalogue_entries_take_back": Call(at=ENTRY, observer=404, **NOT_BUYER),
    "club_catalogue_editions_list": Call(observer=404),
    "club_catalogue_differences_list": Call(observer=404),
    "group_catalogue_read": Call(),
    "group_catalogue_entries_list": Call(at=ENTRY),
    "group_catalogue_entries_read": Call(at=ENTRY),
    "group_catalogue_entries_say": Call(entry, at=ENTRY),
    "group_catalogue_entries_take_back": Call(at=ENTRY),
    "group_catalogue_editions_list": Call(),
    "group_catalogue_differences_list": Call(),
    # visits and findings
    "checklist_read": Call(),
    "viewings_list": Call(),
    "viewings_create": Call(
        lambda w: {
            "kind": "sea_trial",
            "starts_at": "2025-04-01T10:00:00Z",
            "conditions": {"mast_state": "stepped", "wind": 4},
            "people": [w["buyer"]],
            "note": w.text("Bring boots"),
        }
    ),
    "viewings_read": Call(),
    "viewings_change": Call(
        lambda w: {"note": w.text("Bring a torch"), "people": [w["organiser"]]}
    ),
    "viewing_submissions_list": Call(),
    "candidate_submissions_list": Call(),
    "submissions_create": Call(
        lambda w: {
            "state": "submitted",
            "supersedes": w["buyers_submission_id"],
            "vote": "query",
            "minutes": 30,
            "note": w.text("A second look"),
            "findings": [
                {**looked(2), "sureness": "guess", "measured": {"value": 1.5, "unit": "mm"}},
                {"checkpoint": "mainsail", "kind": "could_not_look", "reason": "covered"},
            ],
        },
        by="buyer",
    ),
    "submission_batches_create": Call(batch),
    "submissions_read": Call(),
    "submissions_replace": Call(
        lambda w: {"state": "submitted", "findings": [looked(1)]},
        by="buyer",
        at={"submission_id": "draft_id"},
        observer=404,
    ),
    "submissions_discard": Call(by="buyer", at={"submission_id": "draft_id"}, observer=404),
    "gate_documents_list": Call(),
    "gate_documents_create": Call(says(file="photo.jpg", gate="debts", note="The extract")),
    "gate_documents_read": Call(),
    "gate_documents_remove": Call(**NOT_BUYER),
    "seller_photos_list": Call(),
    "seller_photos_create": Call(says(file="photo.jpg", source="advert", note="The saloon")),
    "seller_photos_read": Call(),
    "seller_photos_remove": Call(**NOT_BUYER),
    "seller_questions_list": Call(),
    "seller_answers_list": Call(),
    "seller_answers_create": Call(seller_answer),
    "seller_answers_read": Call(),
    "seller_answers_withdraw": Call(**NOT_BUYER),
    "seller_effect_read": Call(),
    "submission_photos_list": Call(),
    "submission_photos_create": Call(
        says(file="photo.jpg", checkpoint="joint", note="Astern"), **NOT_BUYER
    ),
    "viewing_photos_list": Call(),
    "viewing_photos_create": Call(says(file="photo.jpg", note="In the yard")),
    "candidate_photos_list": Call(),
    "photos_read": Call(),
    "photos_remove": Call(**NOT_BUYER),
    "submission_sounds_list": Call(),
    "submission_sounds_create": Call(
        says(file="taps.wav", checkpoint="joint", purpose="reference", note="By the hatch"),
        **NOT_BUYER,
    ),
    "candidate_sounds_list": Call(),
    "sounds_read": Call(),
    "sounds_remove": Call(**NOT_BUYER),
    # follow-ups and clearances
    "follow_ups_list": Call(),
    "follow_ups_create": Call(
        lambda w: {
            "question": w.text("Is there an invoice?"),
            "asked_of": "seller",
            "assignee": w["buyer"],
            "due_on": "2025-06-01",
        }
    ),
    "follow_ups_read": Call(),
    "follow_ups_change": Call(says(state="answered", answer="In 2019")),
    "clearances_list": Call(),
    "clearances_create": Call(clearance),
    "clearances_read": Call(),
    "clearances_withdraw": Call(refused=("helper",)),
    "quotes_list": Call(),
    "quotes_create": Call(quote),
    "quotes_read": Call(),
    "quotes_withdraw": Call(),
    "bills_list": Call(),
    "bills_create": Call(bill),
    "bills_read": Call(),
    "bills_change": Call(says(note="Twice the work")),
    "bills_withdraw": Call(),
    "offers_list": Call(),
    "offers_create": Call(offer),
    "offers_read": Call(),
    "offers_answer": Call(
        says(state="refused", reason="Too low"), at={"offer_id": "live_offer_id"}, given=offered
    ),
    # surveys
    "survey_votes_list": Call(at=VOTED_ON),
    "survey_votes_open": Call(says(reason="The best of them", quorum="0.75"), by="buyer"),
    "survey_votes_read": Call(),
    "survey_votes_close": Call(says(note="All voted"), refused=("helper",)),
    "survey_ballots_read": Call(observer=404),
    "survey_ballots_give": Call(says(choice="no", note="Too dear"), by="buyer"),
    "surveys_list": Call(),
    "surveys_commission": Call(survey, by="buyer"),
    "surveys_read": Call(),
    "surveys_change": Call(says(note="A week later", planned_on="2025-05-02")),
    "survey_reports_list": Call(),
    "survey_reports_enter": Call(survey_report, **NOT_BUYER),
    "survey_comparisons_read": Call(),
    # common money
    "ledger_read": Call(observer=403),
    "ledger_set": Call(says(currency="EUR")),
    "ledger_csv": Call(observer=403),
    "ledger_entries_list": Call(observer=403),
    "ledger_entries_read": Call(observer=403),
    "ledger_entries_reverse": Call(says(reason="Paid back", on="2025-04-28")),
    "expenses_create": Call(expense_body, by="buyer"),
    "payments_create": Call(
        lambda w: {
            "paid_by": w["buyer"],
            "to": w["organiser"],
            "paid": money("20.00"),
            "paid_on": "2025-05-02",
        }
    ),
    # owning together
    "agreement_read": Call(observer=403),
    "agreement_text": Call(observer=403),
    "agreement_page": Call(observer=403),
    "agreement_paper": Call(observer=403),
    "clauses_read": Call(observer=403),
    "clauses_word": Call(says(text="No sailing after 60 days.")),
    "consents_give": Call(says(wording=1), by="buyer"),
    "handover_read": Call(),
    "handover_set": Call(says(seller="Both owners", note="In two papers")),
    "handover_items_list": Call(),
    "handover_items_add": Call(says(kind="key", what="Key of the engine")),
    "handover_items_add_usual": Call(says(codes=["sails", "cradle"])),
    "handover_items_read": Call(),
    "handover_items_change": Call(says(found=1, where="At the office", note="Bent")),
    "season_read": Call(),
    "season_settings_read": Call(),
    "season_settings_set": Call(says(first_month="2025-11-01", own_hours=30, lift_months=[4, 10])),
    "work_decisions_read": Call(at=REMEDY),
    "work_decisions_set": Call(says(choice="leave", note="Next year"), at=REMEDY),
    "work_decisions_withdraw": Call(at=REMEDY),
    # the record
    "record_list": Call(),
    "record_document": Call(),
    "record_csv": Call(),
    # notifications
    "notifications_list": Call(given=noticed, **OWN),
    "notifications_read": Call(given=noticed, observer=404),
    "notifications_mark": Call(says(read=True), given=noticed, observer=404),
    "notifications_mark_all": Call(says(up_to=1), given=noticed, **OWN),
    "notification_settings_read": Call(**OWN),
    "notification_settings_change": Call(says(rhythm="weekly", weekday=5), **OWN),
    "notification_confirmations_create": Call(outsider=201, observer=201),
    "group_notification_settings_read": Call(),
    "group_notification_settings_change": Call(says(by_mail=["waiting"]), observer=200),
    # second opinions
    "candidate_look_requests_list": Call(given=twice(second_opinion_request)),
    "group_look_requests_list": Call(given=twice(second_opinion_request)),
    "look_requests_create": Call(says(question="Is the deck dry?", checkpoints=["joint"])),
    "look_requests_read": Call(at=ASKED, given=assignment),
    "look_requests_withdraw": Call(at=ASKED, given=assignment),
    "look_request_steps_list": Call(at=ASKED, given=assignment),
    "look_request_assignment_read": Call(at=ASKED, given=assignment),
    "look_request_assignment_end": Call(at=ASKED, given=assignment),
    "club_opinion_settings_read": Call(observer=404),
    "club_opinion_settings_change": Call(says(most_taken=2, currency="EUR"), **SECRETARY),
    "club_opinion_settings_workload": Call(observer=404, **ADVISER),
    "asked_looks_list": Call(given=twice(second_opinion_request), observer=404, **ADVISER),
    "asked_looks_assignment": Call(at=ASKED, given=second_opinion_request, observer=404, **ADVISER),
    "asked_looks_decline": Call(
        says(reason="Too far off"), at=ASKED, given=second_opinion_request, observer=404, **ADVISER
    ),
    "asked_looks_offer": Call(
        lambda w: {"adviser": w["adviser"]},
        at=ASKED,
        given=second_opinion_request,
        observer=404,
        refused=("adviser",),
    ),
    "assignments_list": Call(given=assignments, by="adviser", **OWN),
    "assignments_read": Call(given=assignment, observer=404, **ADVISER),
    "assignment_candidate_read": Call(given=assignment, observer=404, **ADVISER),
    "assignment_checklist_read": Call(given=assignment, observer=404, **ADVISER),
    "assignment_visit_read": Call(given=visited, observer=404, **ADVISER),
    "assignment_visit_set": Call(
        says(starts_at="2025-04-02T10:00:00Z", conditions={"covered": True}),
        given=visited,
        observer=404,
        **ADVISER,
    ),
    "assignment_submissions_list": Call(given=assignment_drafts, observer=404, **ADVISER),
    "assignment_submissions_create": Call(
        lambda w: {"state": "submitted", "findings": [looked(2)]},
        given=visited,
        observer=404,
        **ADVISER,
    ),
    "assignment_submissions_read": Call(
        at=OWN_DRAFT, given=assignment_drafts, observer=404, **ADVISER
    ),
    "assignment_submissions_replace": Call(
        lambda w: {"state": "submitted", "findings": [looked(1)]},
        at=OWN_DRAFT,
        given=assignment_drafts,
        observer=404,
        **ADVISER,
    ),
    "assignment_submissions_discard": Call(
        at=OWN_DRAFT, given=assignment_drafts, observer=404, **ADVISER
    ),
    "assignment_photos_list": Call(at=OWN_DRAFT, given=assignment_photos, observer=404, **ADVISER),
    "assignment_photos_create": Call(
        lambda w: {"file": "photo.jpg", "checkpoint": "joint", "note": "Astern"},
        at=OWN_DRAFT,
        given=assignment_drafts,
        observer=404,
        **ADVISER,
    ),
    "assignment_photos_read": Call(at=OWN_PHOTO, given=assignment_photos, observer=404, **ADVISER),
    "assignment_photos_remove": Call(
        at=OWN_PHOTO, given=assignment_photos, observer=404, **ADVISER
    ),
    "assignments_answer": Call(
        lambda w: {"answer": "Dry."}, given=assignment, observer=404, **ADVISER
    ),
    "assignments_hand_back": Call(
        lambda w: {"reason": "Shut."}, given=assignment, observer=404, **ADVISER
    ),
    # yard days
    "group_opinion_settings_read": Call(),
    "group_opinion_settings_set": Call(says(opens_yard_days=True)),
    "viewing_yard_day_read": Call(at=PLANNED, given=yard_day),
    "viewing_yard_day_set": Call(says(room=3), at=PLANNED, given=yard_day, by="buyer"),
    "viewing_yard_day_close": Call(at=PLANNED, given=yard_day, by="buyer"),
    "yard_days_list": Call(given=twice(yard_day), observer=404, **ADVISER),
    "yard_days_read": Call(given=yard_day, observer=404, **ADVISER),
    "yard_day_requests_create": Call(
        lambda w: {"candidate": w["advisers_boat_id"], "question": "How is her deck?"},
        given=advisers_boat,
        observer=404,
        **ADVISER,
    ),
    "yard_day_asked_looks": Call(given=asked_on_day, by="buyer", observer=404),
    # trips
    "group_trips_list": Call(given=twice(trip)),
    "group_trips_create": Call(trip_body),
    "club_trips_list": Call(given=twice(own_trip), observer=404),
    "club_trips_create": Call(own_trip_body, observer=404),
    "trips_read": Call(given=trip),
    "trips_change": Call(says(name="Another way round", note="Bring boots"), given=trip),
    "trips_plan": Call(given=trip),
    "trips_agree": Call(lambda w: {"boats": [w["candidate_id"]]}, given=planned_trip),
    "trips_map": Call(given=planned_trip),
    "trips_calendar": Call(given=planned_trip),
    # results
    "board_read": Call(),
    "board_csv": Call(),
    "board_page": Call(),
    "board_svg": Call(),
    "board_png": Call(),
    "order_read": Call(),
    "raters_read": Call(),
    "next_looks_read": Call(),
    "what_if": Call(says(budget=money("30000.00")), observer=200),
    "consensus_read": Call(),
    "rollup_read": Call(),
    "reasons_read": Call(),
    "explanation_read": Call(),
    "explanation_svg": Call(),
    "offer_advice_read": Call(),
    # reports
    "decision_brief_page": Call(),
    "decision_brief_paper": Call(),
    "viewing_sheet_page": Call(),
    "viewing_sheet_paper": Call(),
    "trip_sheet_page": Call(given=planned_trip),
    "trip_sheet_paper": Call(given=planned_trip),
}
