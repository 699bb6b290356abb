"""The effective catalogue: the base, the club's layer over it, the group's over both."""

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from apps.boats.list_models import CandidateList
from apps.boats.list_services import list_create
from apps.catalogue.models import CatalogueChange, CheckpointVersion
from apps.catalogue.own import safety
from apps.catalogue.selectors import catalogue_snapshot, club_snapshot
from apps.catalogue.services import catalogue_load
from apps.events.models import Event
from tests.catalogue.own import JOINT, NEW_REMEDY, WARM, said


def tern(waters):
    return catalogue_snapshot(waters.cast.group.pk)


def joint(waters, who, path, **changed):
    return said(who, f"{path}/checkpoints/joint", {**JOINT, **changed})


# --- Layers --------------------------------------------------------------------------------------


def test_without_anything_of_ones_own_the_base_holds(waters):
    assert tern(waters) is catalogue_snapshot()
    assert club_snapshot(waters.club.pk) is catalogue_snapshot()


def test_the_groups_of_a_club_share_what_they_say_alike(waters):
    joint(waters, waters.sue, waters.of_club, weight=5)
    assert tern(waters) is catalogue_snapshot(waters.gull.pk) is club_snapshot(waters.club.pk)
    assert catalogue_snapshot(waters.cast.other_group.pk) is catalogue_snapshot()


def test_constant_queries(waters, django_assert_num_queries):
    joint(waters, waters.sue, waters.of_club, weight=5)
    joint(waters, waters.cast.ola, waters.of_tern, weight=4)
    tern(waters)
    with django_assert_num_queries(2):  # the base's edition, both layers
        tern(waters)
    for n in range(20):
        said(waters.sue, f"{waters.of_club}/checkpoints/club-{n}", {**WARM, "title": f"Worm {n}"})
    with django_assert_num_queries(2 + 1):  # and the club's new layer, once, under the group's
        assert len(tern(waters).catalogue.checkpoints) == 23
    with django_assert_num_queries(2):
        tern(waters)


def test_what_was_undone_is_not_kept(waters):
    try:
        with transaction.atomic():
            joint(waters, waters.sue, waters.of_club, weight=5)
            assert tern(waters).catalogue.checkpoints["joint"].weight == 5
            raise ValueError  # whatever else goes wrong
    except ValueError:
        pass
    assert tern(waters).catalogue.checkpoints["joint"].weight == 4.5
    joint(waters, waters.sue, waters.of_club, weight=3)
    assert tern(waters).catalogue.checkpoints["joint"].weight == 3


# --- When the underlying layer changes -----------------------------------------------------------


def test_safety_that_the_base_gains_later_holds_at_once(waters, files):
    joint(waters, waters.sue, waters.of_club, weight=5)
    files.change("cautions.toml", "[[caution]]", '[[caution]]\ncode = "ice"\ntitle = "Ice"\n'
                 'text = "Mind the ice."\ndefer_to = "the yard"\n\n[[caution]]')  # fmt: skip
    keel = "checkpoints/keel.toml"
    files.change(keel, 'cautions = ["stands"]', 'cautions = ["ice", "stands"]')
    files.change(keel, "professional_only = false", "professional_only = true")
    files.change(keel, "walk_away_level = 4", "walk_away_level = 2")
    catalogue_load(folder=files.folder)
    found = tern(waters).catalogue.checkpoints["joint"]
    assert (found.cautions, found.professional_only) == (("ice", "stands"), True)
    assert (found.walk_away_level, found.weight) == (2, 5)


def without_reseal(files):
    """The base without a remedy that one of its checkpoints needed."""
    trigger = (
        '  { code = "reseal", probability = [0, 0.1, 0.8, 0.2, 0], extent = [0, 1, 1, 1, 0] },'
    )
    files.change("checkpoints/keel.toml", trigger, "")
    text = (files.folder / "remedies.toml").read_text()
    before, _, after = text.partition('[[remedy]]\ncode = "reseal"')
    files.write("remedies.toml", before + "[[remedy]]" + after.split("[[remedy]]", 1)[1])


def test_an_entry_that_fits_no_more_is_set_aside_and_said_so(waters, files):
    joint(waters, waters.sue, waters.of_club, weight=5)
    said(waters.sue, f"{waters.of_club}/remedies/new-main", {"parts": [1, 2, 3]})
    without_reseal(files)
    catalogue_load(folder=files.folder)
    snapshot = tern(waters)
    assert snapshot.catalogue.checkpoints["joint"].weight == 4.5
    assert snapshot.catalogue.remedies["new-main"].parts.high == 3
    assert [(one.owner, one.kind, one.code) for one in snapshot.set_aside] == [
        ("club", "checkpoints", "joint")
    ]
    shown = waters.mia.get(waters.of_club).json()
    assert shown["set_aside"][0]["code"] == "joint"
    entry = waters.mia.get(f"{waters.of_club}/checkpoints/joint").json()
    assert "reseal" in entry["set_aside"]
    assert (entry["effective"]["weight"], entry["own"]["weight"]) == (4.5, 5)
    # It blocks nothing else, and can be corrected.
    said(waters.sue, f"{waters.of_club}/remedies/new-main", {"parts": [1, 2, 4]})
    mended = {**JOINT, "remedies": JOINT["remedies"][1:], "weight": 5}
    assert said(waters.sue, f"{waters.of_club}/checkpoints/joint", mended)["set_aside"] is None


def test_figures_in_other_money_are_set_aside(waters, files):
    said(waters.sue, f"{waters.of_club}/remedies/reseal", {"parts": [1, 2, 3]})
    joint(waters, waters.sue, waters.of_club, weight=5)
    files.change("remedies.toml", '"USD"', '"EUR"')
    catalogue_load(folder=files.folder)
    assert tern(waters).catalogue.remedies["reseal"].parts.high == 400
    assert tern(waters).catalogue.checkpoints["joint"].weight == 5
    assert "currency" in tern(waters).set_aside[0].why


def test_a_part_of_what_the_base_lost_is_set_aside(waters, files):
    said(waters.sue, f"{waters.of_club}/running-costs/insurance", {"likely": 0.018})
    files.change("running.toml", 'code = "insurance"', 'code = "cover"')
    catalogue_load(folder=files.folder)
    assert list(tern(waters).catalogue.running) == ["cover"]
    assert "no longer" in tern(waters).set_aside[0].why


def test_what_became_a_matter_of_safety_is_looked_at_again(waters, files):
    said_out = waters.sue.put(f"{waters.of_club}/checkpoints/iron", {"left_out": True})
    assert said_out.status_code == 201
    files.change("checkpoints/keel.toml", 'concerns = ["value"]', 'concerns = ["structural"]')
    catalogue_load(folder=files.folder)
    assert "iron" in tern(waters).catalogue.checkpoints
    assert "safety" in tern(waters).set_aside[0].why


def test_what_the_club_takes_back_the_group_keeps_as_its_own(waters):
    path = f"{waters.of_club}/checkpoints/club-worm"
    said(waters.sue, path, WARM)
    said(waters.cast.ola, f"{waters.of_tern}/checkpoints/club-worm", {**WARM, "weight": 1})
    waters.sue.delete(path, If_Match=waters.sue.get(path)["ETag"])
    assert tern(waters).catalogue.checkpoints["club-worm"].weight == 1
    assert "club-worm" not in catalogue_snapshot(waters.gull.pk).catalogue.checkpoints


def test_a_groups_entry_on_a_remedy_that_its_club_took_back_is_set_aside(waters):
    path = f"{waters.of_club}/remedies/club-copper"
    said(waters.sue, path, NEW_REMEDY)
    triggers = [*JOINT["remedies"], {"code": "club-copper", "probability": [0, 0, 0, 0.1, 0.2], "extent": [0, 0, 0, 1, 1]}]  # fmt: skip  # noqa: E501
    joint(waters, waters.cast.ola, waters.of_tern, remedies=triggers)
    waters.sue.delete(path, If_Match=waters.sue.get(path)["ETag"])
    assert [one.owner for one in tern(waters).set_aside] == ["group"]
    assert tern(waters).catalogue.checkpoints["joint"].remedies[-1].code == "rebed"


def test_the_files_may_not_use_codes_that_clubs_and_groups_give(files):
    from apps.catalogue.reading import CatalogueInvalid, read_catalogue

    files.change("running.toml", 'code = "insurance"', 'code = "club-insurance"')
    files.change("checkpoints/keel.toml", 'code = "iron"', 'code = "group-iron"')
    with pytest.raises(CatalogueInvalid) as refused:
        read_catalogue(files.folder)
    assert refused.value.faults == [
        "running.toml: club-insurance: code: begins as only a club's or a group's own do",
        "checkpoints/keel.toml: group-iron: code: begins as only a club's or a group's own do",
    ]


# --- What depends on it ---------------------------------------------------------------------------


@pytest.fixture
def lists(waters) -> dict[str, CandidateList]:
    made = {}
    for name, group, who in (
        ("tern", waters.cast.group, waters.cast.ola),
        ("gull", waters.gull, waters.gus),
        ("other", waters.cast.other_group, waters.cast.wim),
    ):
        brief = {"currency": "USD", "budget": 50_000}
        made[name] = list_create(group_id=group.pk, by=who.person, name=name, brief=brief)
    return made


def revisions(lists) -> dict[str, int]:
    now = dict(CandidateList.objects.values_list("pk", "inputs_revision"))
    return {name: now[one.pk] for name, one in lists.items()}


def test_a_change_makes_the_lists_of_the_groups_stale_and_no_others(waters, lists):
    before = revisions(lists)
    joint(waters, waters.sue, waters.of_club, weight=5)
    after = revisions(lists)
    assert {name for name in lists if after[name] > before[name]} == {"tern", "gull"}
    joint(waters, waters.cast.ola, waters.of_tern, weight=4)
    assert {name for name, now in revisions(lists).items() if now > after[name]} == {"tern"}


def test_what_is_refused_or_the_same_makes_nothing_stale(waters, lists):
    joint(waters, waters.sue, waters.of_club, weight=5)
    before, events = revisions(lists), Event.objects.count()
    joint(waters, waters.sue, waters.of_club, weight=5)
    waters.sue.put(f"{waters.of_club}/checkpoints/iron", {"own": {}})
    assert (revisions(lists), Event.objects.count()) == (before, events)


def test_each_group_hears_of_it(waters):
    joint(waters, waters.sue, waters.of_club, weight=5)
    events = Event.objects.filter(kind="catalogue.changed")
    assert {event.group for event in events} == {waters.cast.group.pk, waters.gull.pk}
    assert events[0].facts == {
        "owner": "club",
        "edition": 1,
        "kind": "checkpoints",
        "code": "joint",
        "state": "own",
    }


def test_marking_takes_as_many_queries_for_many_lists_as_for_few(waters, lists):
    def queries(n: int) -> int:
        with CaptureQueriesContext(connection) as taken:
            joint(waters, waters.sue, waters.of_club, title=f"Joint {n}")
        return len(taken)

    queries(0)
    few = queries(1)
    for n in range(10):
        list_create(
            group_id=waters.gull.pk,
            by=waters.gus.person,
            name=f"More {n}",
            brief={"currency": "USD", "budget": 1},
        )
    assert queries(2) == few


# --- What the database holds ----------------------------------------------------------------------


def change(**changed):
    said = {
        "number": 1,
        "kind": "remedies",
        "code": "reseal",
        "state": "own",
        "own": {"urgency": "later"},
        "base_year": 2024,
        "currency": "USD",
        "reference_loa_m": 10,
    }
    return CatalogueChange.objects.create(**{**said, **changed})


@pytest.mark.parametrize(
    "changed",
    [
        {"club": None},
        {"both": True},
        {"number": 0},
        {"kind": "scales"},
        {"own": None},
        {"state": "left_out"},
        {"kind": "checkpoints"},
        {"reference_loa_m": 0},
    ],
)
def test_changes_that_contradict_themselves_are_not_kept(waters, changed):
    owner = {"club": waters.club, "by": waters.sue.person}
    if changed.pop("both", False):
        changed["group"] = waters.gull
    with pytest.raises(IntegrityError), transaction.atomic():
        change(**{**owner, **changed})
    change(**owner)


def test_an_edition_begins_once(waters):
    owner = {"club": waters.club, "by": waters.sue.person}
    change(**owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        change(**owner)
    change(group=waters.gull, by=waters.sue.person)


def test_a_version_is_the_bases_or_one_owners(waters):
    joint(waters, waters.sue, waters.of_club, weight=5)
    own = CheckpointVersion.objects.get(club=waters.club)
    for changed in ({"club": None}, {"group": waters.gull}, {"own": None}):
        with pytest.raises(IntegrityError), transaction.atomic():
            CheckpointVersion.objects.filter(pk=own.pk).update(**changed)


def test_safety_kept_only_ever_adds(waters):
    """A property of the floor: overlaid on itself it changes nothing, and twice is once."""
    snapshot = catalogue_snapshot()
    for checkpoint in snapshot.catalogue.checkpoints.values():
        assert safety.kept(checkpoint, checkpoint) == checkpoint
        for other in snapshot.catalogue.checkpoints.values():
            once = safety.kept(other, checkpoint)
            assert safety.kept(once, checkpoint) == once
            assert not list(safety.lost(once, checkpoint))
