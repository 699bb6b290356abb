"""One boat: what is known of her, what it comes to, and the forms that say more."""

import uuid
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from apps.appraisal.board.candidate_answer import RollupRead
from apps.appraisal.board.candidate_selectors import consensus_read, reasons_read, rollup_read
from apps.appraisal.looks.looks_selectors import explanation_read
from apps.appraisal.stored.candidates import Driver
from apps.boats.api.candidate_serializers import ratios_serialized
from apps.boats.gates.kinds import LOCAL_LAW
from apps.boats.models import Candidate
from apps.boats.selectors import candidate_for, list_for, prices_of, stage_changes_of
from apps.boats.vocabulary import Stage
from apps.boats.yards.selectors import yards_of_group
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.snapshot import Catalogue
from apps.pages.base import PageView
from apps.pages.boats import particulars
from apps.pages.boats.boat_findings import (
    by_area,
    by_judge,
    has_looked,
    notes_on,
    photos_of,
    seller_photos_of,
)
from apps.pages.lists.boards import looks_shown, may
from apps.pages.lists.cost_bars import BarScale, CostBar
from apps.pages.lists.votes import BoatVotes, votes_on
from apps.pages.purchase.gates import gates_shown
from apps.pages.visits.own_visits import zone_at
from apps.purchase import selectors as purchase
from apps.purchase.models import Bill, Quote
from apps.reports.looks import known_of
from apps.second_opinions.selectors import requests_of_candidate
from apps.viewings.media.models import SellerPhoto
from apps.viewings.models import Finding, FollowUp, Submission
from apps.viewings.selectors import viewings_of

DRIVERS_SHOWN = 6


class NewBoatView(PageView):
    def get(self, request: HttpRequest, list_id: uuid.UUID) -> HttpResponse:
        candidate_list = list_for(self.person, list_id)
        return self.page(
            "pages/new_boat.html",
            list=candidate_list,
            may=may(self.person, candidate_list.group_id),
            form=particulars.form_for(candidate_list),
        )


class BoatView(PageView):
    def get(self, request: HttpRequest, candidate_id: uuid.UUID) -> HttpResponse:
        boat = candidate_for(self.person, candidate_id)
        catalogue = catalogue_snapshot(boat.list.group_id).catalogue
        allowed = may(self.person, boat.list.group_id)
        return self.page(
            "pages/boat.html",
            boat=boat,
            list=boat.list,
            may=allowed,
            gates=gates_shown(self.person, boat, "manage" in allowed),
            seller_photos=seller_photos_of(self.person, boat, "manage" in allowed),
            form=particulars.form_for(boat.list, boat),
            **self.stated(boat, catalogue),
            **self.results(boat),
            **self.findings(boat, catalogue),
            **self.choices(catalogue),
        )

    def stated(self, boat: Candidate, catalogue: Catalogue) -> dict[str, Any]:
        """What people said of her."""
        person = self.person
        return {
            "particulars": list(particulars.known_of(boat)),
            "unknown": particulars.unknown_of(boat, catalogue),
            "ratios": ratios_of(boat),
            "prices": prices_of(boat).order_by("-asked_on", "-pk"),
            "stage_changes": stage_changes_of(boat).order_by("-pk"),
            "local_law": LOCAL_LAW,
            "zone": zone_at(boat),
            "viewings": viewings_of(person, boat.pk).order_by("-starts_at"),
            "quotes": purchase.of_candidate(Quote, person, boat.pk, live_only=True).order_by(
                "-dated_on", "pk"
            ),
            "bills": purchase.of_candidate(Bill, person, boat.pk, live_only=True).order_by(
                "-dated_on", "pk"
            ),
            "second_opinions": requests_of_candidate(person, boat.pk).order_by("-pk"),
            "yards": yards_of_group(person, boat.list.group_id).order_by("name", "pk"),
            "yard_zone": timezone.get_current_timezone_name(),
            "to_ask": known_of([boat])[boat.pk].to_ask,
        }

    def results(self, boat: Candidate) -> dict[str, Any]:
        """What was worked out, from the opinions that the reader may see."""
        rollup = rollup_read(self.person, boat.pk)
        cost = rollup["rollup"]
        reasons = reasons_read(self.person, boat.pk)["reasons"]
        return {
            "result": rollup,
            "cost": cost,
            "bar": bar_of(cost),
            "drivers": drivers_of(cost),
            "reasons": reasons,
            "judges": by_judge(reasons["doubts"] if reasons else ()),
            "explanation": explanation_read(self.person, boat.pk),
            "looks": looks_shown(self.person, boat.list_id, str(boat.pk)),
        }

    def findings(self, boat: Candidate, catalogue: Catalogue) -> dict[str, Any]:
        consensus = consensus_read(self.person, boat.pk)["consensus"]
        checkpoints = consensus["checkpoints"] if consensus else ()
        return {
            "consensus": consensus,
            "areas": by_area(checkpoints, catalogue, notes_on(self.person, boat)),
            "has_looked": has_looked(self.person, boat),
            "photos": photos_of(self.person, boat, catalogue),
            "votes": votes_on(self.person, boat.list).get(boat.pk, BoatVotes()),
            "vote_choices": Submission.Vote.choices,
        }

    def choices(self, catalogue: Catalogue) -> dict[str, Any]:
        """What the forms offer to choose from."""
        remedies = sorted(catalogue.remedies.values(), key=lambda one: one.title)
        return {
            "stages": Stage.choices,
            "photo_sources": SellerPhoto.Source.choices,
            "remedies": [(one.code, one.title) for one in remedies],
            "firmness": Quote.Firmness.choices,
            "done_by": Bill.DoneBy.choices,
            "asked_of": FollowUp.AskedOf.choices,
            "levels": Finding.Level.choices,
        }


def drivers_of(cost: RollupRead | None) -> list[Driver]:
    """The work that counts most. What makes the cost surer by a hair adds nothing to the doubt."""
    drivers = cost.get("drivers", ())[:DRIVERS_SHOWN] if cost else ()
    return [{**one, "share_of_doubt": max(one["share_of_doubt"], 0.0)} for one in drivers]


def bar_of(cost: RollupRead | None) -> CostBar | None:
    if not cost or "upfront" not in cost or "budget" not in cost:
        return None
    return BarScale.of(cost["budget"], [cost["upfront"]]).bar(cost["upfront"])


def ratios_of(boat: Candidate) -> list[dict[str, Any]]:
    """The design ratios that her particulars allow, as the trade reads them."""
    return [
        {"label": particulars.heading(name), **ratio}
        for name, ratio in ratios_serialized(boat).items()
        if ratio
    ]
