"""A list with hidden opinions, made twice with different ones.

Both times the same actions happen in the same order at the same time; only the hidden valuations,
ballots and votes differ. So any difference in an answer reveals something about them.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

from django.apps import apps
from django.test import Client
from django.utils import timezone
from oauth2_provider.models import AccessToken

from apps.accounts.program_services import program_register
from apps.accounts.scopes import SCOPES
from apps.appraisal.jobs import list_recompute
from apps.archives.collecting import group_collect
from apps.boats.list_models import CandidateList
from apps.events.models import Delivery
from apps.groups.models import ClubMembership, Membership
from apps.notifications.jobs import group_notify
from apps.notifications.models import Notification
from apps.planning.jobs import trip_plan
from tests.conftest import Speaker, speaker
from tests.pages.browser import Browser
from tests.system.calls import CALLS
from tests.system.operations import Operation, filled
from tests.system.walk import Walk, undone
from tests.system.world import World, looked, money

BOATS = ("dunlin", "godwit", "plover")
ASKING = {"dunlin": "20000.00", "godwit": "24000.00", "plover": "15000.00"}
UUID_TEXT = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
# Of entries of records, and the random value in each of them.
DIGEST = re.compile(r"\b([0-9a-f]{64}|[0-9a-f]{32})\b")
# Random values without meaning for the reader.
SIGNED = re.compile(r"(token=|client_id\W+|/media/|csrfmiddlewaretoken\" value=\")[\w\-.:%]+")


@dataclass(frozen=True)
class Opinions:
    """The opinions of two buyers: the same on Godwit, different on the other boats."""

    valuations: dict[str, str]
    ballot: tuple[str, ...]
    votes: dict[str, str]


BEFORE = Opinions(
    {"dunlin": "33000.00", "godwit": "36000.00", "plover": "26000.00"},
    ("dunlin", "godwit", "plover"),
    {},
)
ONE = Opinions(
    {"dunlin": "34000.00", "godwit": "36000.00", "plover": "26100.00"},
    ("dunlin", "plover", "godwit"),
    {"dunlin": "keep", "plover": "query"},
)
OTHER = Opinions(
    {"dunlin": "26500.00", "godwit": "36000.00", "plover": "58000.00"},
    ("plover", "godwit", "dunlin"),
    {"dunlin": "strike", "plover": "keep"},
)


@dataclass
class Secret:
    """`who`: readers from whom the opinions are hidden, by role.

    trips: each with the person who plans it. requests: of second opinions. known: ids that are the
    same both times.
    """

    world: World
    tellers: tuple[Speaker, Speaker]
    who: dict[str, Speaker]
    trips: dict[str, Speaker] = field(default_factory=dict)
    requests: list[str] = field(default_factory=list)
    known: set[str] = field(default_factory=set)

    @property
    def list_id(self) -> UUID:
        return UUID(self.world["list_id"])

    # --- Telling ---------------------------------------------------------------------------------

    @contextmanager
    def told(self, opinions: Opinions) -> Iterator[None]:
        """All answers with these opinions; the changes are undone at the end."""
        with undone():
            self.say(opinions)
            self.look(opinions)
            self.work_out()
            yield

    def say(self, opinions: Opinions) -> None:
        for teller in self.tellers:
            for boat, amount in opinions.valuations.items():
                path = f"/candidates/{self.world[boat]}/valuation"
                put(teller, path, {"valuation": money(amount)})
        ranks = [[self.world[boat]] for boat in opinions.ballot]
        put(self.tellers[0], f"/lists/{self.list_id}/ballot", {"ranks": ranks})

    def look(self, opinions: Opinions) -> None:
        for boat, vote in opinions.votes.items():
            for teller, level in zip(self.tellers, (1, 3), strict=True):
                said = {"state": "submitted", "vote": vote, "findings": [looked(level)]}
                at = f"/viewings/{self.world[f'{boat}_viewing']}/submissions"
                self.world.made(teller, "POST", at, said)

    def work_out(self) -> None:
        list_recompute(list_id=self.list_id)
        assert CandidateList.objects.get(pk=self.list_id).appraisal.last_error == ""
        for trip, planner in self.trips.items():
            self.world.made(planner, "POST", f"/trips/{trip}/plans", {})
            trip_plan(trip_id=UUID(trip))
        group_notify(group_id=self.world.group.pk)

    # --- Asking ----------------------------------------------------------------------------------

    def answers(self, operation: Operation, reader: Speaker) -> list[str]:
        """The answers to one reader, for each boat or trip where they are about one."""
        bodies = what_ifs(self.world) if operation.id == "what_if" else [None]
        said = []
        for named in self._about(operation.path):
            path = filled(operation.path, named, CALLS[operation.id].at)
            for body in bodies:
                answer = reader.send(operation.method, path, body)
                content = answer.content.decode(errors="replace")
                said.append(f"{answer.status_code} {self.plain(content)}")
        return said

    def pages(self, path: str, reader: Browser) -> list[str]:
        """The page as one reader sees it, for each boat, trip or request that it is about."""
        shown = (reader.get(path.format(**named)) for named in self._about(path))
        return [f"{one.status_code} {self.plain(one.content.decode())}" for one in shown]

    def _about(self, path: str) -> list[dict[str, str]]:
        named = self.world.named
        if "{trip_id}" in path:
            return [named | {"trip_id": trip} for trip in self.trips]
        if path.startswith("/second-opinions/"):
            return [named | {"request_id": one} for one in self.requests]
        if "{candidate_id}" in path or "{viewing_id}" in path:
            return [
                named | {"candidate_id": named[boat], "viewing_id": named[f"{boat}_viewing"]}
                for boat in BOATS
            ]
        return [named]

    def plain(self, said: str) -> str:
        said = UUID_TEXT.sub(lambda id: id[0] if id[0] in self.known else "a new one", said)
        said = DIGEST.sub("a digest", said)
        return SIGNED.sub(r"\1...", said)

    # --- What is not asked for over HTTP ---------------------------------------------------------

    def beside(self) -> dict[str, list[str]]:
        """Webhook messages to the group, notifications to each reader, and archives."""
        bodies = Delivery.objects.order_by("pk").values_list("body", flat=True)
        found = {"webhook": [self.plain(body) for body in bodies]}
        for name in ("second organiser", "buyer who gave none", "buyer who gave one", "observer"):
            person = self.who[name].person
            told = Notification.objects.filter(person=person).order_by("pk")
            found[f"notifications to {name}"] = [
                self.plain(repr(row)) for row in told.values_list("type", "facts", "value")
            ]
            archive = group_collect(self.world.group, person)
            # Each archive has a new salt.
            archive.email_salt = ""
            for row in archive.rows["people"]:
                del row["email_digest"]
            found[f"archive for {name}"] = [self.plain(repr(archive))]
        return found


def what_ifs(world: World) -> list[dict[str, Any]]:
    """What-ifs with a series of prices, as an attempt to find out a valuation."""
    price = [{"candidate_id": world["dunlin"], "asking": money("90000.00")}]
    cheap = [{"candidate_id": world["plover"], "asking": money("1.00")}]
    finding = [{"candidate_id": world["dunlin"], "checkpoint": "joint", "level": 4}]
    quote = [{"candidate_id": world["dunlin"], "remedy": "reseal", "price": money("9000.00")}]
    return [
        {"budget": money("90000.00")},
        {"quotes": quote},
        {"prices": price},
        {"prices": cheap},
        {"findings": finding},
    ]


def put(who: Speaker, path: str, body: Any) -> None:
    there = who.get(path)
    headers = {"If_Match": there["ETag"]} if there.status_code == 200 else {}
    answer = who.send("PUT", path, body, **headers)
    assert answer.status_code in (200, 201), answer.content


# --- Making it -----------------------------------------------------------------------------------


def secret_made(walk: Walk) -> Secret:
    """A list of three boats in an existing group, after earlier notifications were sent."""
    world = replace(walk.here, ids=dict(walk.here.ids))
    tellers = (walk.who["organiser"], walk.who["buyer"])
    secret = Secret(world, tellers, readers(walk, world))
    listed(world)
    secret.say(BEFORE)
    put(secret.who["buyer who gave one"], f"/candidates/{world['godwit']}/valuation", GODWIT)
    list_recompute(list_id=secret.list_id)
    outings(secret)
    group_notify(group_id=world.group.pk)
    secret.known = {
        str(pk)
        for model in apps.get_models(include_auto_created=True)
        for pk in model._base_manager.values_list("pk", flat=True)
        if isinstance(pk, UUID)
    }
    return secret


GODWIT = {"valuation": money("37000.00")}


def readers(walk: Walk, world: World) -> dict[str, Speaker]:
    """All kinds of readers."""
    group, club = world.group, world["club_id"]
    bea, pia, oda, mo, amy = (speaker(name) for name in ("Bel", "Pia", "Ode", "Mo", "Amy"))
    for who, role in ((bea, "buyer"), (pia, "buyer"), (oda, "organiser")):
        buys = role == "buyer"
        Membership.objects.create(group=group, person=who.person, role=role, buys=buys)
    for who, role in ((mo, "member"), (amy, "adviser")):
        ClubMembership.objects.create(club_id=club, person=who.person, role=role)
    return {
        "observer": walk.who["observer"],
        "helper": walk.who["helper"],
        "buyer who gave none": bea,
        "buyer who gave one": pia,
        "second organiser": oda,
        "program of the group": groups_program(world),
        "program of a member": members_program(bea),
        "adviser": walk.who["adviser"],
        "adviser who took a boat on": amy,
        "member of the club": mo,
        "other group": walk.who["other_group"],
        "stranger": walk.who["stranger"],
    }


def groups_program(world: World) -> Speaker:
    body = {
        "name": "Moisture meter",
        "role": "helper",
        "scopes": [scope for scope in sorted(SCOPES) if scope.endswith(":read")],
    }
    path = f"/groups/{world['group_id']}/programs"
    made = world.made(world.organiser, "POST", path, body)
    sent = {name: made[name] for name in ("client_id", "client_secret")}
    given = Client().post("/oauth/token", {"grant_type": "client_credentials", **sent})
    assert given.status_code == 200, given.content
    return Speaker(None, given.json()["access_token"])


def members_program(member: Speaker) -> Speaker:
    scopes = [scope for scope in sorted(SCOPES) if scope.endswith(":read")]
    program = program_register(
        name="Dock notes", redirect_uris=["https://notes.example.org"], scopes=scopes
    ).program
    token = uuid4().hex
    AccessToken.objects.create(
        user=member.person,
        application=program,
        token=token,
        scope=" ".join(scopes),
        expires=timezone.now() + timedelta(hours=1),
    )
    return Speaker(None, token)


def listed(world: World) -> None:
    brief = {"currency": "EUR", "budget": money("32000.00"), "exchange_rates": {"USD": "0.92"}}
    body = {"name": "The list of secrets", "brief": brief}
    world.add("list_id", world.organiser, f"/groups/{world['group_id']}/lists", body)
    for n, name in enumerate(BOATS):
        boat = {
            "name": name.title(),
            "loa_m": 9.0 + n / 2,
            "hull_material": "grp",
            "keel": "bolted_fin",
            "keel_ballast": "iron",
            "build_year": 1984 + n,
            "asking": money(ASKING[name]),
            "place": {"latitude": 54.1 + n / 10, "longitude": 10.2},
        }
        world.add(name, world.organiser, f"/lists/{world['list_id']}/candidates", boat)
        visit = {"starts_at": "2025-03-01T10:00:00Z", "conditions": {"where": "ashore"}}
        at = f"/candidates/{world[name]}/viewings"
        world.add(f"{name}_viewing", world.organiser, at, visit)
    world.ids |= {"candidate_id": world["dunlin"], "second_candidate_id": world["godwit"]}
    world.ids |= {"viewing_id": world["dunlin_viewing"]}


def outings(secret: Secret) -> None:
    """A trip of the group, requests to the club, and an adviser's trip to one of the boats."""
    world, who = secret.world, secret.who
    trip = {
        "name": "Round the estuary",
        "day": str(timezone.now().date() + timedelta(days=30)),
        "time_zone": "Europe/Berlin",
        "currency": "EUR",
    }
    car = {
        "label": "Our car",
        "start": {"label": "Home", "latitude": 54.32, "longitude": 10.13},
        "leaves_at": "08:00",
        "back_by": "10:00",  # too early to look at all boats
    }
    own = trip | {
        "parties": [car | {"people": [world["buyer"], str(who["helper"].person.pk)]}],
        "boats": [{"candidate": world[boat]} for boat in BOATS],
    }
    made = world.made(world.organiser, "POST", f"/groups/{world['group_id']}/trips", own)
    secret.trips[made["id"]] = world.organiser
    amy, mo = who["adviser who took a boat on"], who["member of the club"]
    for boat in ("godwit", "plover"):
        body = {"question": f"How is {boat}?", "checkpoints": ["joint"] if boat == "godwit" else []}
        at = f"/candidates/{world[boat]}/second-opinion-requests"
        asked = world.made(world.organiser, "POST", at, body)
        secret.requests.append(asked["id"])
    world.made(amy, "POST", f"/second-opinion-queue/{asked['id']}/assignments", None)
    others = trip | {
        "parties": [car | {"people": [str(amy.person.pk), str(mo.person.pk)]}],
        "boats": [{"candidate": world["plover"]}],
    }
    made = world.made(amy, "POST", f"/clubs/{world['club_id']}/trips", others)
    secret.trips[made["id"]] = amy
    hooked = {"url": "https://hooks.example.org/in", "note": "Ours"}
    world.made(world.organiser, "POST", f"/groups/{world['group_id']}/webhooks", hooked)
