"""Plays the story: each person acts through the API, with an account of their own."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime

from server.demo.buying import Purchase
from server.demo.client import Client, Transport
from server.demo.scenario import Scenario, Table, day, moment, submission_body

# The same for all, and shown at the end, so that the user can sign in as any of them.
PASSWORD = "four-on-a-saturday"  # noqa: S105


@dataclass
class Played:
    """Ids of the created records, by the story's keys."""

    group: str
    list_id: str = ""
    boats: dict[str, str] = field(default_factory=dict)
    viewings: int = 0
    submissions: int = 0
    findings: int = 0
    not_looked: int = 0


class Player:
    """Plays a scenario once. The organiser's account and group exist already."""

    def __init__(
        self, scenario: Scenario, transport: Transport, say: Callable[[str], None]
    ) -> None:
        self.scenario = scenario
        self.say = say
        self.now = datetime.now(UTC)
        self.nobody = Client(transport)
        self.people: dict[str, Client] = {}
        self.ids: dict[str, str] = {}
        self.yards: dict[str, str] = {}  # ids by name
        self.wants: dict[str, str] = {}
        self.named_submissions: dict[str, str] = {}

    def play(self) -> Played:
        played = self.gather()
        self.make_list(played)
        self.say_wants(played)
        for key in self.scenario.boats:
            self.look_at(key, played)
        self.give_opinions(played)
        Purchase(self.scenario, self.now, self.people, self.ids, played.group, played.boats).play()
        return played

    # --- Who ---------------------------------------------------------------------------------

    def gather(self) -> Played:
        """The organiser signs in and invites the others, who accept; then the shares are set."""
        organiser = self.scenario.organiser
        first = self._sign_in(organiser)
        name = self.scenario.group["name"]
        group = next(g["id"] for g in first.pages("/groups") if g["name"] == name)
        for person in self.scenario.people[1:]:
            invitation = first.post(
                f"/groups/{group}/invitations", {"role": person["role"], "note": person["name"]}
            )
            acceptance = {
                "token": invitation["token"],
                "email": person["email"],
                "name": person["name"],
                "password": PASSWORD,
            }
            self.nobody.post("/acceptances", acceptance)
            self._sign_in(person)
        shares = [
            {"person": self.ids[person["key"]], "share": person["share"]}
            for person in self.scenario.people
            if "share" in person
        ]
        first.change("PUT", f"/groups/{group}/shares", {"shares": shares})
        parts = ", ".join(
            f"{person['name']} ({person['role']}{_share(person)})"
            for person in self.scenario.people
        )
        self.say(f"{name}: {parts}.")
        return Played(group)

    def _sign_in(self, person: Table) -> Client:
        client = self.nobody.signed_in(person["email"], PASSWORD)
        self.people[person["key"]] = client
        self.ids[person["key"]] = client.get("/people/me")["id"]
        return client

    @property
    def first(self) -> Client:
        return self.people[self.scenario.organiser["key"]]

    # --- What --------------------------------------------------------------------------------

    def make_list(self, played: Played) -> None:
        for yard in self.scenario.yards:
            made = self.first.post(f"/groups/{played.group}/yards", yard)
            self.yards[yard["name"]] = made["id"]
        played.list_id = self.first.post(
            f"/groups/{played.group}/lists", self.scenario.candidate_list
        )["id"]
        for key, boat in self.scenario.boats.items():
            place = boat["candidate"]["place"]
            body = {
                **boat["candidate"],
                "place": {**place, "yard_id": self.yards[place["yard"]]},
            }
            made = self.first.post(f"/lists/{played.list_id}/candidates", body)
            played.boats[key] = made["id"]
            for price in boat.get("prices", ()):
                asked = {name: price[name] for name in ("asking", "note") if name in price}
                asked["asked_on"] = day(self.now, ago=price["days_ago"])
                self.first.post(f"/candidates/{made['id']}/prices", asked)
        self.say(f"{len(played.boats)} boats on the list.")

    def say_wants(self, played: Played) -> None:
        for want in self.scenario.wants:
            body = {name: value for name, value in want.items() if name not in ("by", "name")}
            made = self.people[want["by"]].post(f"/lists/{played.list_id}/wants", body)
            if "name" in want:
                self.wants[want["name"]] = made["id"]
        for judgement in self.scenario.judgements:
            at = f"/wants/{self.wants[judgement['want']]}/judgements"
            by = next(w["by"] for w in self.scenario.wants if w.get("name") == judgement["want"])
            for met, keys in ((True, judgement["met"]), (False, judgement["not_met"])):
                for key in keys:
                    self.people[by].put(f"{at}/{played.boats[key]}", {"met": met})

    def look_at(self, key: str, played: Played) -> None:
        boat, at = self.scenario.boats[key], f"/candidates/{played.boats[key]}"
        self._ask_seller(boat, at)
        for viewing in boat["viewings"]:
            body = {
                "starts_at": moment(self.now, viewing, self.scenario.yard_of(boat)["time_zone"]),
                "state": "made",
                "people": [self.ids[person] for person in viewing["people"]],
                "conditions": viewing["conditions"],
                "note": viewing.get("note", ""),
            }
            made = self.people[viewing["people"][0]].post(f"{at}/viewings", body)
            played.viewings += 1
            for submission in viewing["submissions"]:
                self._submit(submission, made["id"], played)
        self._follow(boat, at)

    def _ask_seller(self, boat: Table, at: str) -> None:
        """What her seller answered before anybody travelled."""
        for answer in boat.get("answers", ()):
            body = {n: v for n, v in answer.items() if n not in ("by", "days_ago")}
            body["said_on"] = day(self.now, ago=answer["days_ago"])
            self.people[answer["by"]].post(f"{at}/seller-answers", body)

    def _submit(self, submission: Table, viewing: str, played: Played) -> None:
        body = submission_body(submission)
        if "supersedes" in submission:
            body["supersedes"] = self.named_submissions[submission["supersedes"]]
        made = self.people[submission["by"]].post(f"/viewings/{viewing}/submissions", body)
        if "name" in submission:
            self.named_submissions[submission["name"]] = made["id"]
        played.submissions += 1
        played.findings += len(made["findings"])
        played.not_looked += sum(f["kind"] == "could_not_look" for f in made["findings"])

    def _follow(self, boat: Table, at: str) -> None:
        """What follows the looks: quotes, questions and their answers, another stage."""
        for quote in boat.get("quotes", ()):
            body = {n: v for n, v in quote.items() if n not in ("by", "days_ago")}
            body["dated_on"] = day(self.now, ago=quote["days_ago"])
            self.people[quote["by"]].post(f"{at}/quotes", body)
        for question in boat.get("follow_ups", ()):
            body = {n: question[n] for n in ("checkpoint", "question", "asked_of")}
            body["assignee"] = self.ids[question["assignee"]]
            if "due_in_days" in question:
                body["due_on"] = day(self.now, ahead=question["due_in_days"])
            asked = self.people[question["by"]].post(f"{at}/follow-ups", body)
            if "answer" in question:
                answer = {n: question[n] for n in ("answer", "changed") if n in question}
                self.people[question["assignee"]].change(
                    "PATCH", f"/follow-ups/{asked['id']}", {"state": "answered", **answer}
                )
        for stage in boat.get("stages", ()):
            body = {n: stage[n] for n in ("stage", "reason") if n in stage}
            self.people[stage["by"]].post(f"{at}/stage-changes", body)

    def give_opinions(self, played: Played) -> None:
        """Valuations and ballots. When everybody has given theirs, the organiser opens them."""
        currency = self.scenario.candidate_list["brief"]["currency"]
        for key, boat in self.scenario.boats.items():
            for person, amount in boat["valuations"].items():
                valuation = {"amount": f"{amount:.2f}", "currency": currency}
                at = f"/candidates/{played.boats[key]}/valuation"
                self.people[person].put(at, {"valuation": valuation})
        for ballot in self.scenario.ballots:
            ranks = [[played.boats[key] for key in tier] for tier in ballot["ranks"]]
            self.people[ballot["by"]].put(f"/lists/{played.list_id}/ballot", {"ranks": ranks})
        self.first.change("PATCH", f"/lists/{played.list_id}", {"opinions_open": True})
        self.say(
            f"{played.viewings} viewings, {played.submissions} submissions with "
            f"{played.findings} findings; {played.not_looked} times somebody could not look."
        )


def _share(person: Table) -> str:
    return f", {float(person['share']):.0%}" if "share" in person else ""
