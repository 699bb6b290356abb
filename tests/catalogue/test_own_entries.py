"""A club's or a group's changes of one entry."""

import pytest

from apps.catalogue.models import CatalogueChange, CheckpointVersion
from apps.catalogue.own import services
from apps.catalogue.selectors import catalogue_snapshot
from tests.catalogue.own import JOINT, NEW_REMEDY, WARM, said
from tests.conftest import pointers

DARKER = {**JOINT, "levels": ["None.", "Hair.", "Gap.", "Weeps.", "Shifts."], "weight": 5}


def codes(answer) -> list[str]:
    assert answer.status_code == 422, answer.content
    return [fault["code"] for fault in answer.json()["errors"]]


def tern(waters):
    return catalogue_snapshot(waters.cast.group.pk)


def test_it_works(waters):
    path = f"{waters.of_club}/checkpoints/joint"
    before = waters.adam.get(path)
    assert before.json()["state"] == "as_underlying"
    # Their own entries do not say what to ask, so that is as underlying.
    asked = {"ask": "When was the keel last off, and is there an invoice?"}
    base, darker = {**JOINT, **asked}, {**DARKER, **asked}
    assert before.json()["effective"] == before.json()["underlying"] == base
    made = waters.adam.put(path, {"own": DARKER, "note": "Our water is murky."})
    assert made.status_code == 201, made.content
    entry = made.json()
    assert (entry["whose"], entry["state"], entry["edition"]) == ("club", "own", 1)
    assert (entry["effective"], entry["underlying"]) == (darker, base)
    assert (entry["by"]["name"], entry["note"]) == ("Adam", "Our water is murky.")
    assert waters.mia.get(path).json() == entry
    for_tern = waters.cast.ivy.get(f"{waters.of_tern}/checkpoints/joint").json()
    assert (for_tern["whose"], for_tern["state"], for_tern["effective"]) == (
        "club",
        "as_underlying",
        darker,
    )
    assert tern(waters).catalogue.checkpoints["joint"].weight == 5
    assert catalogue_snapshot().catalogue.checkpoints["joint"].weight == 4.5


def test_a_group_says_it_on_top_of_its_club(waters):
    said(waters.sue, f"{waters.of_club}/checkpoints/joint", DARKER)
    own = {**DARKER, "weight": 3}
    entry = said(waters.cast.ola, f"{waters.of_tern}/checkpoints/joint", own)
    assert (entry["whose"], entry["underlying"]["weight"], entry["effective"]["weight"]) == (
        "group",
        5,
        3,
    )
    assert catalogue_snapshot(waters.gull.pk).catalogue.checkpoints["joint"].weight == 5
    assert tern(waters).editions == {"base": 1, "club": 1, "group": 1}


def test_what_is_added_begins_with_whose_it_is(waters):
    path = f"{waters.of_club}/checkpoints"
    for code in ("worm", "group-worm", "club_worm", "Club-worm"):
        refused = waters.adam.put(f"{path}/{code}", {"own": WARM})
        assert (refused.status_code, refused.json()["code"]) == (409, "not_own_code")
    entry = said(waters.adam, f"{path}/club-worm", WARM)
    assert (entry["underlying"], entry["whose"]) == (None, "club")
    assert list(tern(waters).catalogue.checkpoints) == ["joint", "iron", "mainsail", "club-worm"]
    assert waters.cast.ben.get("/checkpoints/club-worm").status_code == 404
    assert waters.cast.wim.get(f"{waters.of_tern}/checkpoints/club-worm").status_code == 404


def test_a_remedy_follows_what_lies_underlying_but_for_what_is_said(waters, files):
    from apps.catalogue.services import catalogue_load

    path = f"{waters.of_club}/remedies/reseal"
    said(waters.adam, path, {"parts": [110, 210, 410], "source": "our yard"})
    files.change("remedies.toml", "hours = [6, 12, 24]", "hours = [7, 13, 25]")
    catalogue_load(folder=files.folder)
    entry = waters.mia.get(path).json()
    assert entry["own"] == {"parts": [110, 210, 410], "source": "our yard"}
    assert (entry["effective"]["hours"], entry["effective"]["parts"]) == (
        [7, 13, 25],
        [110, 210, 410],
    )
    assert tern(waters).catalogue.remedies["reseal"].parts.high == 410


def test_fees_running_costs_enabling_work_and_the_yards_hour(waters):
    for where, own in (
        ("running-costs/insurance", {"likely": 0.018}),
        ("fees/survey", {"low": 70, "likely": 90, "high": 120}),
        ("enabling-work/lift-out", {"parts": [500, 600, 900]}),
        ("rates/yard-hour", {"hour": [80, 100, 130]}),
    ):
        said(waters.sue, f"{waters.of_club}/{where}", own)
    catalogue = tern(waters).catalogue
    assert catalogue.running["insurance"].cost.likely == 0.018
    assert catalogue.running["insurance"].cost.high == 0.02
    assert catalogue.fees["survey"].cost.low == 70
    assert catalogue.enabling["lift-out"].parts.high == 900
    assert catalogue.money.yard_rate.likely == 100
    assert tern(waters).club_edition == 4


def test_a_caution_is_added_to_never_replaced(waters):
    path = f"{waters.of_club}/cautions/stands"
    entry = said(waters.adam, path, {"text": "On our slope stands slip.", "defer_to": "our rules"})
    assert entry["effective"]["text"] == "Never touch a stand. On our slope stands slip."
    assert entry["effective"]["defer_to"] == "the yard; our rules"
    refused = waters.adam.put(
        path, {"own": {"title": "Mild"}}, If_Match=waters.adam.get(path)["ETag"]
    )
    assert codes(refused) == ["unknown_field"]


def test_one_added_caution_and_a_checkpoint_that_names_it(waters):
    tide = {"title": "Tide", "text": "The hard floods fast.", "defer_to": "the harbour master"}
    said(waters.adam, f"{waters.of_club}/cautions/club-tide", tide)
    own = {**DARKER, "cautions": ["club-tide", "stands"]}
    said(waters.adam, f"{waters.of_club}/checkpoints/joint", own)
    assert tern(waters).catalogue.checkpoints["joint"].cautions == ("club-tide", "stands")
    at = f"{waters.of_club}/cautions/club-tide"
    refused = waters.adam.delete(at, If_Match=waters.adam.get(at)["ETag"])
    assert (refused.status_code, refused.json()["code"]) == (409, "still_named")


@pytest.mark.parametrize(
    ("field", "value", "at"),
    [
        ("cautions", [], "/own/cautions"),
        ("concerns", ["value"], "/own/concerns"),
        ("professional", "lawyer", "/own/professional"),
        ("professional_from", 3, "/own/professional_from"),
        ("walk_away_level", None, "/own/walk_away_level"),
        ("receipt_clears", True, "/own/receipt_clears"),
        ("applies", {"keel": ["full"]}, "/own/applies"),
        ("applies", {**JOINT["applies"], "hull_material": ["wood"]}, "/own/applies"),
    ],
)
def test_safety_can_only_be_added_to(waters, field, value, at):
    own = {name: said for name, said in {**JOINT, field: value}.items() if said is not None}
    refused = waters.adam.put(f"{waters.of_club}/checkpoints/joint", {"own": own})
    assert (pointers(refused), codes(refused)) == ({at}, ["safety_kept"])
    assert not CatalogueChange.objects.exists()


def test_safety_can_be_added_to(waters):
    own = {
        **JOINT,
        "concerns": ["structural", "flooding", "safety"],
        "professional_only": True,
        "professional_from": 0,
        "walk_away_level": 3,
        "applies": {},
    }
    said(waters.adam, f"{waters.of_club}/checkpoints/joint", own)
    assert tern(waters).catalogue.checkpoints["joint"].professional_only is True
    # A group cannot take back what its club added either.
    refused = waters.cast.ola.put(f"{waters.of_tern}/checkpoints/joint", {"own": JOINT})
    assert set(codes(refused)) == {"safety_kept"}


def test_a_professionals_job_stays_one(waters):
    refused = waters.adam.put(f"{waters.of_club}/remedies/rebed", {"own": {"own_work": True}})
    assert (pointers(refused), codes(refused)) == ({"/own/own_work"}, ["safety_kept"])


def test_a_worse_level_never_costs_less(waters):
    refused = waters.adam.put(f"{waters.of_club}/remedies/reseal", {"own": {"parts": [1, 2, 9e4]}})
    assert pointers(refused) == {"/own"}
    assert set(codes(refused)) == {"worse_costs_less"}
    assert "Line where keel meets hull" in refused.json()["errors"][0]["detail"]
    triggers = [{"code": "reseal", "probability": [0, 0, 1, 0.2, 0], "extent": [0, 0, 1, 1, 0]}]
    refused = waters.adam.put(
        f"{waters.of_club}/checkpoints/joint", {"own": {**JOINT, "remedies": triggers}}
    )
    assert pointers(refused) == {"/own/remedies"}
    assert set(codes(refused)) == {"worse_costs_less"}


@pytest.mark.parametrize(
    ("change", "at", "code"),
    [
        ({"levels": ["Only one."]}, "/own/levels", "wrong_count"),
        ({"weight": 9}, "/own/weight", "out_of_bounds"),
        ({"concerns": ["luck"]}, "/own/concerns/0", "invalid_choice"),
        ({"colour": "red"}, "/own/colour", "unknown_field"),
        ({"belief": {"mu": 1}}, "/own/belief/sd", "required"),
        ({"look": 7}, "/own/look", "invalid"),
        ({"position": 10**400}, "/own/position", "out_of_bounds"),
        ({"weight": 10**400}, "/own/weight", "invalid"),
        ({"weight": True}, "/own/weight", "invalid"),
        ({"weight": "3"}, "/own/weight", "invalid"),
        ({"walk_away_level": None}, "/own/walk_away_level", "invalid"),
        ({"measure": None}, "/own/measure", "invalid"),
        ({"tools": ["torch", "torch"]}, "/own/tools", "wrong_count"),
        ({"remedies": [{"code": "reseal"}]}, "/own/remedies/0/extent", "required"),
        ({"applies": {"colour": ["red"]}}, "/own/applies/colour", "unknown_field"),
        ({"area": "attic"}, "/own/area", "unknown_reference"),
        ({"cautions": ["stands", "bears"]}, "/own/cautions", "unknown_reference"),
        (
            {"measure": {"name": "g", "unit": "cm", "scale": "gap-mm"}},
            "/own/measure",
            "contradiction",
        ),
        (
            {"measure": {"name": "g", "unit": "mm", "scale": "gip"}},
            "/own/measure/scale",
            "unknown_reference",
        ),
    ],
)
def test_bad_input_points_to_its_field(waters, change, at, code):
    refused = waters.adam.put(f"{waters.of_club}/checkpoints/joint", {"own": {**JOINT, **change}})
    faults = {(fault["pointer"], fault["code"]) for fault in refused.json()["errors"]}
    assert (at, code) in faults, refused.content
    assert not CatalogueChange.objects.exists()


def test_points_out_of_order(waters):
    refused = waters.adam.put(f"{waters.of_club}/rates/yard-hour", {"own": {"hour": [3, 2, 1]}})
    assert (pointers(refused), codes(refused)) == ({"/own/hour"}, ["out_of_order"])
    refused = waters.adam.put(f"{waters.of_club}/fees/survey", {"own": {"low": 900}})
    assert codes(refused) == ["out_of_order"]


@pytest.mark.parametrize("body", [{}, {"left_out": False}, {"own": {}, "left_out": True}])
def test_it_is_either_said_or_left_out(waters, body):
    refused = waters.adam.put(f"{waters.of_club}/checkpoints/iron", body)
    assert codes(refused) == ["either_or"]


def test_leaving_out_and_taking_back(waters):
    path = f"{waters.of_club}/checkpoints/iron"
    out = waters.adam.put(path, {"left_out": True, "note": "No iron here."})
    assert out.status_code == 201, out.content
    assert (out.json()["state"], out.json()["effective"]) == ("left_out", None)
    assert "iron" not in tern(waters).catalogue.checkpoints
    assert waters.adam.delete(path, If_Match=out["ETag"]).status_code == 204
    assert "iron" in tern(waters).catalogue.checkpoints
    assert waters.adam.get(path).json()["state"] == "as_underlying"
    assert waters.adam.delete(path, If_Match=out["ETag"]).status_code == 404
    assert tern(waters).club_edition == 2


@pytest.mark.parametrize("where", ["checkpoints/joint", "cautions/stands", "rates/yard-hour"])
def test_what_keeps_people_safe_is_not_left_out(waters, where):
    refused = waters.adam.put(f"{waters.of_club}/{where}", {"left_out": True})
    assert (pointers(refused), codes(refused)) == ({"/left_out"}, ["safety_kept"])


@pytest.mark.parametrize("where", ["remedies/new-main", "enabling-work/lift-out"])
def test_what_is_called_for_is_not_left_out(waters, where):
    refused = waters.adam.put(f"{waters.of_club}/{where}", {"left_out": True})
    assert pointers(refused) == {"/left_out"}
    assert set(codes(refused)) == {"still_called_for"}


def test_what_does_not_lie_underlying_cannot_be_left_out(waters):
    path = f"{waters.of_club}/checkpoints/club-worm"
    assert waters.adam.put(path, {"left_out": True}).status_code == 404


def test_the_stranger_the_member_the_observer_and_the_other_group(waters):
    path = f"{waters.of_club}/checkpoints/joint"
    for who in (waters.cast.sten, waters.cast.wim, waters.cast.ola):
        for method in ("GET", "PUT", "DELETE"):
            assert who.send(method, path, {"own": DARKER}).status_code == 404
    refused = waters.mia.put(path, {"own": DARKER})
    assert (refused.status_code, refused.json()["roles"]) == (403, ["adviser", "secretary"])
    path = f"{waters.of_tern}/checkpoints/joint"
    for who in (waters.cast.sten, waters.gus, waters.sue):
        for method in ("GET", "PUT", "DELETE"):
            assert who.send(method, path, {"own": DARKER}).status_code == 404
    for who in (waters.cast.ivy, waters.cast.ben, waters.cast.hal):
        assert who.get(path).status_code == 200
        refused = who.put(path, {"own": DARKER})
        assert (refused.status_code, refused.json()["roles"]) == (403, ["organiser"])
    assert not CatalogueChange.objects.exists()


def test_two_edits_at_once_are_a_conflict(waters):
    path = f"{waters.of_club}/checkpoints/joint"
    first = waters.adam.put(path, {"own": DARKER})
    assert waters.sue.put(path, {"own": JOINT}).status_code == 428
    assert waters.sue.put(path, {"own": JOINT}, If_Match='"another"').status_code == 412
    assert waters.sue.put(path, {"own": JOINT}, If_Match=first["ETag"]).status_code == 200
    assert waters.adam.put(path, {"own": DARKER}, If_Match=first["ETag"]).status_code == 412
    assert waters.adam.delete(path).status_code == 428
    other = f"{waters.of_club}/checkpoints/iron"
    assert waters.adam.put(other, {"left_out": True}, If_Match=first["ETag"]).status_code == 412


def test_the_same_again_changes_nothing(waters):
    path = f"{waters.of_club}/checkpoints/joint"
    first = waters.adam.put(path, {"own": DARKER})
    again = waters.adam.put(path, {"own": DARKER}, If_Match=first["ETag"])
    assert (again.status_code, again["ETag"]) == (200, first["ETag"])
    assert (
        CatalogueChange.objects.count(),
        CheckpointVersion.objects.exclude(club=None).count(),
    ) == (1, 1)


def test_a_kind_or_a_thing_that_is_not_there(waters):
    for path in ("checkpoints/nothing", "scales/gap-mm", "remedies/joint", "checkpoints/club-x"):
        assert waters.adam.get(f"{waters.of_club}/{path}").status_code == 404
    assert waters.adam.put(f"{waters.of_club}/scales/gap-mm", {"own": {}}).status_code == 404
    refused = waters.adam.put(f"{waters.of_club}/rates/club-hour", {"own": {"hour": [1, 2, 3]}})
    assert refused.json()["code"] == "not_own_code"


def test_two_clubs_add_the_same_code_without_knowing_of_one_another(waters):
    from apps.groups.models import Club, ClubMembership

    other = Club.objects.create(name="Lagoon")
    ClubMembership.objects.create(club=other, person=waters.cast.wim.person, role="secretary")
    said(waters.adam, f"{waters.of_club}/remedies/club-copper", NEW_REMEDY)
    said(waters.adam, f"{waters.of_club}/checkpoints/club-worm", WARM)
    path = f"/clubs/{other.pk}/catalogue"
    assert waters.cast.wim.get(f"{path}/checkpoints/club-worm").status_code == 404
    entry = said(waters.cast.wim, f"{path}/checkpoints/club-worm", {**WARM, "title": "Gribble"})
    assert (entry["title"], entry["edition"]) == ("Gribble", 1)
    assert tern(waters).catalogue.checkpoints["club-worm"].title == WARM["title"]


def test_the_same_words_again_are_the_same_version(waters):
    path = f"{waters.of_club}/checkpoints/joint"
    said(waters.adam, path, DARKER)
    first = tern(waters).checkpoint_version_ids["joint"]
    waters.adam.delete(path, If_Match=waters.adam.get(path)["ETag"])
    assert tern(waters).checkpoint_version_ids["joint"] != first
    said(waters.adam, path, DARKER)
    assert tern(waters).checkpoint_version_ids["joint"] == first
    said(waters.adam, path, {**DARKER, "weight": 1})
    numbers = CheckpointVersion.objects.filter(club=waters.club).values_list("number", flat=True)
    assert sorted(numbers) == [1, 2]


def test_there_is_an_end_to_what_one_says(waters, monkeypatch):
    monkeypatch.setattr(services, "MOST_ENTRIES", 2)
    for n in (1, 2):
        said(waters.adam, f"{waters.of_club}/checkpoints/club-{n}", WARM)
    refused = waters.adam.put(f"{waters.of_club}/checkpoints/club-3", {"own": WARM})
    assert (refused.status_code, refused.json()["code"]) == (409, "too_many_entries")
    said(waters.adam, f"{waters.of_club}/checkpoints/club-2", {**WARM, "weight": 1})
