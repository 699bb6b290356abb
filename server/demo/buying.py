"""Plays what follows the looks: the survey, the offers, the money, and what owners settle."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from server.demo.client import Client
from server.demo.scenario import Scenario, Table, day, moment


@dataclass(frozen=True)
class Purchase:
    """`people` and `ids` by a person's key, `boats` by a boat's: the ids that the service gave."""

    scenario: Scenario
    now: datetime
    people: Mapping[str, Client]
    ids: Mapping[str, str]
    group: str
    boats: Mapping[str, str]

    def play(self) -> None:
        for key, boat in self.scenario.boats.items():
            at = f"/candidates/{self.boats[key]}"
            if "survey" in boat:
                self.survey(boat, at)
            for offer in boat.get("offers", ()):
                self.offer(offer, at)
        self.share_money()
        self.settle()
        self.agree()
        self.prepare_handover()
        self.plan_season()

    def survey(self, boat: Table, at: str) -> None:
        """The buyers vote, one of them commissions it, another types in its report."""
        vote, survey = boat["survey_vote"], boat["survey"]
        opened = _without(vote, "by", "ballots")
        vote_id = self.people[vote["by"]].post(f"{at}/survey-votes", opened)["id"]
        for ballot in vote["ballots"]:
            given = _without(ballot, "by")
            self.people[ballot["by"]].put(f"/survey-votes/{vote_id}/ballot", given)
        self.people[vote["by"]].post(f"/survey-votes/{vote_id}/closing", {})
        agreed = _without(survey, "by", "report")
        body = {**agreed, "vote": vote_id, "payer": self.ids[survey["payer"]]}
        made = self.people[survey["by"]].post(f"{at}/surveys", body)
        report = _without(survey["report"], "by", "days_ago", "hour")
        zone = self.scenario.yard_of(boat)["time_zone"]
        report["looked_at"] = moment(self.now, survey["report"], zone)
        self.people[survey["report"]["by"]].post(f"/surveys/{made['id']}/reports", report)

    def offer(self, offer: Table, at: str) -> None:
        until = offer.get("conditions_in_days")
        body = {
            **_without(offer, "by", "days_ago", "answer_in_days", "conditions_in_days"),
            "offered_on": day(self.now, ago=offer["days_ago"]),
            "answer_by": day(self.now, ahead=offer["answer_in_days"]),
            "conditions": [
                {"code": code, "until": until and day(self.now, ahead=until)}
                for code in offer["conditions"]
            ],
        }
        self.people[offer["by"]].post(f"{at}/offers", body)

    def share_money(self) -> None:
        """What members paid for each other on the way."""
        currency = self.scenario.candidate_list["brief"]["currency"]
        self.first.put(f"/groups/{self.group}/ledger", {"currency": currency})
        for expense in self.scenario.expenses:
            body = {
                **_without(expense, "boat", "days_ago"),
                "paid_by": self.ids[expense["paid_by"]],
                "paid_on": day(self.now, ago=expense["days_ago"]),
            }
            if "boat" in expense:
                body["candidate"] = self.boats[expense["boat"]]
            self.people[expense["paid_by"]].post(f"/groups/{self.group}/expenses", body)

    def settle(self) -> None:
        """What they want settled before they buy a boat."""
        for gate in self.scenario.gates:
            body = _without(gate, "boat", "code", "by", "days_ahead", "file")
            if "days_ahead" in gate:
                body["due_on"] = day(self.now, ahead=gate["days_ahead"])
            at = f"/candidates/{self.boats[gate['boat']]}/gates/{gate['code']}"
            self.people[gate["by"]].put(at, body)
            if "file" in gate:
                self.add_document(gate)

    def add_document(self, gate: Table) -> None:
        path = f"/candidates/{self.boats[gate['boat']]}/gate-documents"
        file = self.scenario.folder / gate["file"]
        fields = {"gate": gate["code"]}
        self.people[gate["by"]].upload(path, fields, file.name, file.read_bytes())

    def agree(self) -> None:
        """What they agree as owners, and who has agreed to it so far."""
        for clause in self.scenario.agreement:
            path = f"/groups/{self.group}/agreement/{clause['topic']}"
            self.people[clause["by"]].put(path, {"text": clause["text"]})
            for who in clause["agreed"]:
                self.people[who].post(f"{path}/consents", {"wording": 1})

    def prepare_handover(self) -> None:
        """What is to be counted on the day."""
        handover = self.scenario.handover
        at = f"/candidates/{self.boats[handover['boat']]}/handover-items"
        self.first.post(f"{at}/usual", {"codes": handover["usual"]})
        for item in handover["items"]:
            self.first.post(at, item)

    def plan_season(self) -> None:
        """From October on, as if they had bought one of the boats."""
        season = self.scenario.season
        settings = {**season["settings"], "first_month": f"{self.now.year}-10-01"}
        self.first.put(f"/candidates/{self.boats[season['boat']]}/season-settings", settings)

    @property
    def first(self) -> Client:
        return self.people[self.scenario.organiser["key"]]


def _without(table: Table, *names: str) -> Table:
    return {name: value for name, value in table.items() if name not in names}
