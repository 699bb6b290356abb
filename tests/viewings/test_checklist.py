"""The checklist of a boat in given conditions."""

from django.conf import settings

from apps.catalogue.services import catalogue_load
from apps.catalogue.vocabulary import CONDITIONS
from apps.viewings.checklists import HINDRANCES, NOT_UNDER_WAY
from apps.viewings.models import Viewing
from tests.conftest import pointers
from tests.viewings.conftest import look


def read(scene, query="", boat=None, who=None):
    answer = (who or scene.cast.ivy).get(f"/candidates/{(boat or scene.heron).id}/checklist{query}")
    assert answer.status_code == 200, answer.content
    return answer.json()


def codes(checklist, part):
    return [check["code"] for place in checklist["places"] for check in place[part]]


def reasons(checklist):
    return {
        check["code"]: [reason["code"] for reason in check["reasons"]]
        for place in checklist["places"]
        for check in place["not_possible"]
    }


def test_it_works(scene):
    found = read(scene, f"?viewing={scene.viewing.id}")
    assert [place["place"] for place in found["places"]] == ["ground", "deck"]
    assert found["places"][0]["title"] == "From the ground or the dock"
    assert codes(found, "possible") == ["joint", "iron", "terminals"]
    assert (found["minutes"], found["to_ask"], found["later"]) == (2 + 1 + 2, [], [])
    assert reasons(found) == {"mainsail": ["covered"]}
    assert found["places"][1]["not_possible"][0]["reasons"][0]["detail"] == "a tight cover is on"
    assert found["conditions"]["covered"] is True
    assert "not a survey" in found["caution"]
    joint = found["places"][0]["possible"][0]
    assert (joint["area"], joint["priority"], joint["minutes"]) == ("keel", 1, 2)
    assert joint["look"] == "Follow the line all round."
    assert joint["tools"] == ["torch"]
    assert joint["levels"][2] == {"level": 2, "name": "tired", "description": "A gap."}
    assert joint["cautions"] == [
        {
            "code": "stands",
            "title": "Stands",
            "text": "Never touch a stand.",
            "defer_to": "the yard",
        }
    ]
    assert (joint["professional"], joint["professional_from"], joint["guarded"]) == (
        "surveyor",
        2,
        True,
    )
    assert joint["measure"] == {"name": "gap", "unit": "mm", "scale": "gap-mm"}


def test_a_place_tells_its_cautions_before_its_first_check(scene):
    catalogue_load(folder=settings.BASE_DIR / "fixtures" / "catalogue")
    for query in ("?where=ashore", "?where=ashore&minutes=15"):
        places = {place["place"]: place for place in read(scene, query)["places"]}
        told = {at: [one["code"] for one in place["cautions"]] for at, place in places.items()}
        for at, place in places.items():
            carried = {c["code"] for check in place["possible"] for c in check["cautions"]}
            assert set(told[at]) == carried
            assert len(told[at]) == len(carried)
        assert "stands" in told["ground"]
        assert {"ladders", "gas-petrol-co"} <= set(told["deck"])
        assert {"ladders", "gas-petrol-co", "closed-spaces"} <= set(told["hatch"])
        assert {"open-boards", "consent"} <= set(told["below"])
        assert "engine-shaft" in told["engine"]


def test_a_cover_to_walk_under_hampers_what_a_tight_one_prevents(scene):
    tight = read(scene, "?covered=true")
    assert codes(tight, "not_possible") == ["mainsail"]
    found = read(scene, "?walk_under_cover=true&weather=wet")
    assert codes(found, "possible") == ["joint", "iron", "mainsail", "terminals"]
    told = {c["code"]: c["hampered"] for place in found["places"] for c in place["possible"]}
    assert told == {
        "joint": [],
        "iron": [],
        "terminals": [
            {"code": "wet", "detail": "it is wet"},
            {"code": "walk_under_cover", "detail": "she stands under a cover to walk under"},
        ],
        "mainsail": [],
    }
    assert found["conditions"]["walk_under_cover"] is True


def test_what_she_cannot_have_is_left_out(scene):
    found = read(scene, boat=scene.dunlin)
    assert codes(found, "possible") == ["iron", "mainsail", "terminals"]


def test_a_condition_in_the_query_outranks_the_viewing(scene):
    found = read(scene, f"?viewing={scene.viewing.id}&covered=false&where=afloat")
    assert reasons(found) == {"joint": ["afloat"]}
    assert "mainsail" in codes(found, "possible")


def test_conditions_alone(scene):
    assert reasons(read(scene, "?mast_state=elsewhere&light=poor")) == {
        "mainsail": ["mast_down"],
        "terminals": ["mast_elsewhere", "poor_light"],
    }
    assert reasons(read(scene)) == {}, "what nobody knows rules nothing out"


def test_every_hindrance_of_the_catalogue_can_be_stated():
    assert {*HINDRANCES.values(), NOT_UNDER_WAY} == set(CONDITIONS)
    for name, value in HINDRANCES:
        words = Viewing._meta.get_field(name).choices
        assert value in (dict(words) if words else (True, False)), (name, value)


def test_all_of_the_full_catalogues_checklist_can_be_submitted(scene):
    catalogue_load(folder=settings.BASE_DIR / "fixtures" / "catalogue")
    possible = codes(read(scene, "?where=ashore&covered=true&mast_state=on_deck"), "possible")
    assert len(possible) >= 40
    scene.posted(scene.cast.ben, *(look(code, 1) for code in possible))


def test_bad_parameters_are_named(scene):
    at = f"/candidates/{scene.heron.id}/checklist"
    assert pointers(scene.cast.ivy.get(f"{at}?where=aloft")) == {"?where"}
    assert pointers(scene.cast.ivy.get(f"{at}?viewing=soon")) == {"?viewing"}
    assert pointers(scene.cast.ivy.get(f"{at}?tide=low")) == {"?tide"}


def test_the_viewing_is_of_this_boat(scene):
    at = f"/candidates/{scene.dunlin.id}/checklist?viewing={scene.viewing.id}"
    assert scene.cast.ivy.get(at).status_code == 404


def test_it_does_not_exist_for_strangers(scene):
    at = f"/candidates/{scene.heron.id}/checklist"
    assert scene.cast.sten.get(at).status_code == 404
    assert scene.cast.wim.get(at).status_code == 404
    assert scene.cast.nobody.get(at).status_code == 401


def test_constant_queries(scene, django_assert_num_queries):
    at = f"/candidates/{scene.heron.id}/checklist?viewing={scene.viewing.id}"
    scene.cast.ivy.get(at)  # a token's first use is noted, the edition is read
    # token, candidate, viewing, edition, what the group and its club say otherwise
    with django_assert_num_queries(5):
        scene.cast.ivy.get(at)
    scene.catalogue.write(
        "checkpoints/sails.toml",
        (scene.catalogue.folder / "checkpoints/sails.toml").read_text()
        + "".join(
            f"""
[[checkpoint]]
code = "sail-{n}"
title = "Sail {n}"
position = {20 + n}
place = "deck"
priority = 3
minutes = 1
look = "Take it out of its bag."
levels = ["a", "b", "c", "d", "e"]
concerns = ["value"]
weight = 1
professional = ""
professional_from = 0
professional_only = false
belief = {{ mu = 1, age = 0.3, care = 0.4, sd = 0.9, ages_with = "sails" }}
source = "project's own estimate"
"""
            for n in range(20)
        ),
    )
    catalogue_load(folder=scene.catalogue.folder)
    assert len(codes(scene.cast.ivy.get(at).json(), "possible")) == 23
    with django_assert_num_queries(5):
        scene.cast.ivy.get(at)
