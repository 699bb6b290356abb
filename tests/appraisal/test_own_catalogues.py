"""Results use the group's catalogue, and name its edition."""

import pytest

from apps.appraisal.jobs import lists_due
from apps.appraisal.models import ListAppraisal
from apps.boats.list_models import CandidateList
from apps.catalogue.services import catalogue_load
from apps.groups.models import Club, ClubMembership, Group
from tests.appraisal.building import Yard
from tests.catalogue.conftest import small_files
from tests.catalogue.own import said
from tests.conftest import Speaker

DECK = "deck-cracks"


@pytest.fixture
def of_club(cast) -> str:
    club = Club.objects.create(name="Harbour")
    ClubMembership.objects.create(club=club, person=cast.ola.person, role="secretary")
    Group.objects.filter(pk=cast.group.pk).update(club=club)
    return f"/clubs/{club.pk}/catalogue"


def entry(who: Speaker, of: str, where: str) -> dict:
    return dict(who.get(f"{of}/{where}").json()["effective"])


def all_in(cast, spring) -> float:
    board = cast.ben.get(f"{spring.path}/board").json()
    return float(spring.row(board, spring.fulmar)["all_in"]["mean"])


def due(spring) -> bool:
    return lists_due().filter(pk=spring.yard.list.pk).exists()


def test_a_club_where_work_is_dear_makes_boats_dear(spring, cast, of_club):
    before = all_in(cast, spring)
    for code in ("drop-and-rebed-keel", "renew-keel-bolts", "reseal-keel-joint"):
        beneath = entry(cast.ola, of_club, f"remedies/{code}")
        own = {"parts": [3 * part for part in beneath["parts"]], "source": "our yard"}
        said(cast.ola, f"{of_club}/remedies/{code}", own)
        assert due(spring)
    board = cast.ben.get(f"{spring.path}/board").json()
    assert (board["fresh"], board["editions"]) == (False, {"base": 1, "club": 0, "group": 0})
    spring.yard.recompute()
    assert all_in(cast, spring) > before
    board = cast.ben.get(f"{spring.path}/board").json()
    assert (board["fresh"], board["editions"]) == (True, {"base": 1, "club": 3, "group": 0})
    stored = ListAppraisal.objects.get(pk=spring.yard.list.pk)
    assert (stored.edition, stored.club_edition, stored.group_edition) == (1, 3, 0)


def test_taken_back_the_board_is_what_it_was(spring, cast, of_club):
    before = all_in(cast, spring)
    path = f"{of_club}/remedies/drop-and-rebed-keel"
    parts = entry(cast.ola, of_club, "remedies/drop-and-rebed-keel")["parts"]
    said(cast.ola, path, {"parts": [5 * part for part in parts]})
    spring.yard.recompute()
    assert all_in(cast, spring) != before
    cast.ola.delete(path, If_Match=cast.ola.get(path)["ETag"])
    spring.yard.recompute()
    assert all_in(cast, spring) == before


def test_the_consensus_is_in_the_groups_words(spring, cast):
    of = f"/groups/{cast.group.pk}/catalogue/checkpoints/{DECK}"
    own = {**cast.ola.get(of).json()["effective"], "title": "Cracks, as Tern says it"}
    said(cast.ola, of, own)
    spring.yard.recompute()
    consensus = cast.ben.get(f"/candidates/{spring.petrel.pk}/consensus").json()["consensus"]
    titles = {one["checkpoint"]: one["title"] for one in consensus["checkpoints"]}
    assert titles[DECK] == "Cracks, as Tern says it"


def test_running_costs_of_the_clubs_waters(spring, cast, of_club):
    at = f"/candidates/{spring.petrel.pk}/rollup"

    def berth() -> float:
        lines = cast.ben.get(at).json()["rollup"]["running_year"]["lines"]
        line = next(line for line in lines if line["code"] == "berth")
        return float(line["expected"]["amount"])

    before = berth()
    figures = {name: 2 * v for name, v in entry(cast.ola, of_club, "running-costs/berth").items()
               if name in ("low", "likely", "high")}  # fmt: skip
    said(cast.ola, f"{of_club}/running-costs/berth", figures)
    spring.yard.recompute()
    assert berth() == pytest.approx(2 * before, rel=0.01)


def test_what_is_left_out_counts_no_more(spring, cast, of_club):
    rows = cast.ola.get(f"{of_club}/checkpoints").json()["results"]
    code = next(
        row["code"]
        for row in rows
        if not {"structural", "safety", "flooding"} & set(row["effective"]["concerns"])
        and not row["effective"].get("applies")
    )
    left_out = cast.ola.put(f"{of_club}/checkpoints/{code}", {"left_out": True})
    assert left_out.status_code == 201
    spring.yard.recompute()
    consensus = cast.ben.get(f"/candidates/{spring.petrel.pk}/consensus").json()["consensus"]
    assert code not in {one["checkpoint"] for one in consensus["checkpoints"]}


# --- What a new list starts from ------------------------------------------------------------------


def new_list(cast, **brief) -> CandidateList:
    body = {
        "name": "Autumn",
        "brief": {"budget": {"amount": "9000.00", "currency": "USD"}, **brief},
    }
    body["brief"].setdefault("currency", "USD")
    body["brief"]["budget"]["currency"] = body["brief"]["currency"]
    made = cast.ola.post(f"/groups/{cast.group.pk}/lists", body)
    assert made.status_code == 201, made.content
    return CandidateList.objects.get(pk=made.json()["id"])


def test_a_new_list_starts_from_the_clubs_rates(yard: Yard, cast, of_club):
    assert new_list(cast).yard_hourly_rate == 120
    said(cast.ola, f"{of_club}/rates/yard-hour", {"hour": [60, 80, 100]})
    said(cast.ola, f"{of_club}/fees/survey", {"low": 50, "likely": 60, "high": 70})
    made = new_list(cast)
    assert (made.yard_hourly_rate, made.survey_fee_per_m) == (80, 60)
    said_so = {"amount": "95.00", "currency": "USD"}
    assert new_list(cast, yard_hourly_rate=said_so).yard_hourly_rate == 95
    in_euro = new_list(cast, currency="EUR", exchange_rates={"USD": "0.5"})
    assert (in_euro.yard_hourly_rate, in_euro.survey_fee_per_m) == (40, 30)
    assert new_list(cast, currency="EUR").yard_hourly_rate is None  # nobody knows it in euro
    before = CandidateList.objects.get(pk=yard.list.pk)
    assert before.yard_hourly_rate == 120  # a list keeps the brief that it has


def test_the_bases_next_edition_makes_everybodys_lists_stale(spring, cast, tmp_path):
    assert not due(spring)
    catalogue_load(folder=small_files(tmp_path).folder)
    assert due(spring)
