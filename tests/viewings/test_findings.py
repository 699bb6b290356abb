"""Accepted findings, and pointers of refusals."""

import pytest

from apps.catalogue.services import catalogue_load
from apps.viewings.models import Finding
from tests.conftest import pointers
from tests.viewings.conftest import could_not, look


def faults(answer) -> dict[str, str]:
    """Code of the fault by its pointer."""
    pointers(answer)
    return {fault["pointer"]: fault["code"] for fault in answer.json()["errors"]}


def refused(scene, finding, **more) -> dict[str, str]:
    found = faults(scene.post(scene.cast.ben, finding, **more))
    assert not Finding.objects.exists(), "nothing is half written"
    return found


@pytest.mark.parametrize(
    ("finding", "expected"),
    [
        (look("bowsprit", 1), {"checkpoint": "unknown"}),
        (look("joint", 5), {"level": "max_value"}),
        (look("joint", -1), {"level": "min_value"}),
        (look("joint", None), {"level": "required"}),
        ({"checkpoint": "joint", "kind": "looked"}, {"level": "required"}),
        ({"checkpoint": "joint", "kind": "glanced"}, {"kind": "invalid_choice"}),
        (look("joint", 1, reason="locked"), {"reason": "not_prevented"}),
        (look("joint", 1, sureness="very"), {"sureness": "invalid_choice"}),
        (look("joint", 1, levle=2), {"levle": "unknown_field"}),
        (could_not("joint", None), {"reason": "required"}),
        (could_not("joint", "lazy"), {"reason": "invalid_choice"}),
        (could_not("joint", "growth", level=0), {"level": "not_looked"}),
        (
            could_not("joint", "growth", measured={"value": 1, "unit": "mm"}),
            {"measured": "not_looked"},
        ),
        ({"checkpoint": "joint", "kind": "does_not_apply", "level": 0}, {"level": "not_looked"}),
        (look("iron", 1, measured={"value": 1, "unit": "mm"}), {"measured": "no_measure"}),
        (look("joint", 1, measured={"value": 1}), {"measured/unit": "required"}),
        (
            look("joint", 1, measured={"value": "nan", "unit": "mm"}),
            {"measured/value": "not_a_number"},
        ),
        (look("joint", 1, measured={"value": 1, "unit": "kg"}), {"measured/unit": "wrong_unit"}),
        (
            look("joint", 1, measured={"value": 1, "unit": "span"}),
            {"measured/unit": "unknown_unit"},
        ),
        (
            look("joint", 1, measured={"value": 101, "unit": "mm"}),
            {"measured/value": "out_of_range"},
        ),
        (look("joint", 1, tags=["x" * 61]), {"tags/0": "max_length"}),
    ],
)
def test_what_is_wrong_is_named(scene, finding, expected):
    assert refused(scene, finding) == {f"/findings/0/{at}": code for at, code in expected.items()}


def test_everything_wrong_is_told_at_once(scene):
    answer = scene.post(
        scene.cast.ola,
        look("joint", 1),
        look("joint", 2),
        look("bowsprit", 1, reason="locked"),
        could_not("iron", None),
        look("terminals", 1, measured={"value": 1, "unit": "mm"}),
        capacity="professional",
        supersedes="01920000-0000-7000-8000-000000000000",
    )
    assert faults(answer) == {
        "/findings/1/checkpoint": "named_twice",
        "/findings/2/checkpoint": "unknown",
        "/findings/2/reason": "not_prevented",
        "/findings/3/reason": "required",
        "/findings/4/measured": "no_measure",
        "/profession": "required",
        "/supersedes": "unknown",
    }
    assert not Finding.objects.exists()


def test_a_call_of_who_does_not_buy_is_told_with_the_rest(scene):
    answer = scene.post(scene.cast.hal, look("bowsprit", 1), vote="keep")
    assert faults(answer) == {"/findings/0/checkpoint": "unknown", "/vote": "does_not_buy"}
    assert not Finding.objects.exists()


@pytest.mark.parametrize("kind", ["looked", "could_not_look"])
def test_what_she_cannot_have_is_refused(scene, kind):
    finding = {"checkpoint": "joint", "kind": kind}
    finding |= {"looked": {"level": 1}, "could_not_look": {"reason": "growth"}}[kind]
    dunlin = scene.visit(scene.dunlin)
    assert refused(scene, finding, viewing=dunlin) == {"/findings/0/checkpoint": "does_not_apply"}
    assert scene.post(scene.cast.ben, finding).status_code == 201, "on Heron it is accepted"


def test_that_she_does_not_have_it_agrees_with_her_particulars(scene):
    """Somebody says it on a phone without signal while somebody else sets her particulars."""
    finding = {"checkpoint": "joint", "kind": "does_not_apply"}
    scene.posted(scene.cast.ben, finding, viewing=scene.visit(scene.dunlin))


def test_what_she_may_have_is_accepted(scene):
    # Nobody said of which metal Dunlin's ballast is.
    scene.posted(scene.cast.ben, look("iron", 1), viewing=scene.visit(scene.dunlin))


def test_what_left_the_catalogue_is_refused_but_stays_on_record(scene):
    made = scene.posted(scene.cast.ben, look("iron", 2))
    scene.catalogue.without_checkpoint("checkpoints/keel.toml", "iron")
    catalogue_load(folder=scene.catalogue.folder)
    answer = scene.post(scene.cast.bea, look("iron", 1))
    assert faults(answer) == {"/findings/0/checkpoint": "retired"}
    kept = scene.cast.ivy.get(f"/submissions/{made['id']}").json()["findings"]
    assert kept == made["findings"]


def test_it_keeps_the_version_it_was_made_against(scene):
    made = scene.posted(scene.cast.ben, look("joint", 2))
    draft = scene.posted(scene.cast.ben, look("joint", 2), state="draft")
    scene.catalogue.change(
        "checkpoints/keel.toml", 'title = "Line where', 'title = "The line where'
    )
    catalogue_load(folder=scene.catalogue.folder)
    kept = scene.cast.ben.get(f"/submissions/{made['id']}").json()["findings"][0]
    assert (kept["version"], kept["title"]) == (1, "Line where keel meets hull")
    # A draft is submitted against what the catalogue says then.
    at = f"/submissions/{draft['id']}"
    body = {"state": "submitted", "findings": [look("joint", 2)]}
    now = scene.cast.ben.change("PUT", at, body).json()["findings"][0]
    assert (now["version"], now["title"]) == (2, "The line where keel meets hull")


def measured_level(scene, value, unit="mm", **more):
    finding = {
        "checkpoint": "joint",
        "kind": "looked",
        "measured": {"value": value, "unit": unit},
        **more,
    }
    return scene.posted(scene.cast.ben, finding)["findings"][0]


# The scale's breaks are 0.2, 1, 2 and 5 mm.
@pytest.mark.parametrize(
    ("value", "level"), [(0, 0), (0.2, 0), (0.21, 1), (1, 1), (2, 2), (4.9, 3), (5.1, 4)]
)
def test_a_measured_value_gives_the_level(scene, value, level):
    found = measured_level(scene, value)
    assert (found["level"], found["measured"]) == (level, {"value": value, "unit": "mm"})


def test_it_is_converted_and_kept_as_it_was_read(scene):
    found = measured_level(scene, 0.125, "inch")  # 3.175 mm, by the agreement of 1959
    assert (found["level"], found["measured"]) == (3, {"value": 0.125, "unit": "inch"})


def test_what_the_person_says_outranks_the_scale(scene):
    assert measured_level(scene, 0.5, level=3)["level"] == 3
