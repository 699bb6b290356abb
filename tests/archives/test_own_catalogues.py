"""A group's own catalogue is in its archive, and findings keep their words."""

from apps.catalogue.models import CheckpointVersion
from apps.catalogue.own.kinds import checkpoint_read
from apps.catalogue.own.models import CatalogueChange
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.snapshot import digest
from apps.groups.models import Club, ClubMembership, Group
from apps.viewings.doubts import open_doubts
from apps.viewings.models import Finding
from tests.archives.conftest import archive_of, imported, ok, own_words, repacked, unpacked


def in_a_club(cast) -> str:
    """Tern belongs to a club with an own catalogue, whose secretary is Ola."""
    club = Club.objects.create(name="Harbour")
    ClubMembership.objects.create(club=club, person=cast.ola.person, role="secretary")
    Group.objects.filter(pk=cast.group.pk).update(club=club)
    return f"/clubs/{club.pk}/catalogue"


def added(cast, of: str, code: str) -> None:
    whole = dict(ok(cast.ola.get(f"{of}/checkpoints/deck-cracks"))["effective"])
    ok(cast.ola.put(f"{of}/checkpoints/{code}", {"own": {**whole, "title": f"What {code} is"}}))


def test_it_works(full, cast):
    archive = unpacked(archive_of(cast))
    (wording,) = archive.rows["wordings"]
    assert (wording["checkpoint"], wording["own"]["title"]) == (
        "deck-cracks",
        "Cracks, as we say it",
    )
    (change,) = archive.rows["catalogue_changes"]
    assert (change["kind"], change["code"], change["number"]) == ("checkpoints", "deck-cracks", 1)
    came = imported(cast.ola, archive_of(cast))
    assert came["state"] == "done", came
    snapshot = catalogue_snapshot(came["group"])
    assert snapshot.catalogue.checkpoints["deck-cracks"].title == "Cracks, as we say it"
    assert (snapshot.group_edition, snapshot.set_aside) == (1, ())


def test_what_was_found_in_a_clubs_words_keeps_them(full, cast):
    of = in_a_club(cast)
    own_words(cast.ola, of, "keel-joint-line", "The club's joint")
    added(cast, of, "club-worm")
    full.yard.look(full.petrel, cast.hal.person, {"keel-joint-line": 2, "club-worm": 3})
    content = archive_of(cast)
    came = imported(cast.sten, content)
    assert came["state"] == "done", came
    findings = Finding.objects.filter(submission__viewing__candidate__list__group=came["group"])
    worm = findings.get(checkpoint="club-worm")
    assert worm.checkpoint_version.title == "What club-worm is"
    assert str(worm.checkpoint_version.group_id) == came["group"]
    joint = findings.get(checkpoint="keel-joint-line", level=2)
    assert joint.checkpoint_version.title == "The club's joint"
    # The club's changes are the club's and are not in the archive.
    snapshot = catalogue_snapshot(came["group"])
    assert "club-worm" not in snapshot.catalogue.checkpoints
    assert snapshot.catalogue.checkpoints["keel-joint-line"].title != "The club's joint"
    # A doubt stays when its checkpoint is removed.
    doubts = open_doubts(worm.submission.viewing.candidate.list_id)
    assert ("club-worm", 3) in {(doubt.checkpoint, doubt.level) for doubt in doubts}


def test_codes_that_this_service_never_heard_of(full, cast):
    of = f"/groups/{cast.group.pk}/catalogue"
    added(cast, of, "group-worm")
    full.yard.look(full.petrel, cast.hal.person, {"group-worm": 3})

    def renamed(opened):
        wording = next(w for w in opened.rows["wordings"] if w["checkpoint"] == "group-worm")
        said = digest(checkpoint_read("group-gribble", wording["own"]))
        for row in (row for rows in opened.rows.values() for row in rows):
            for name in ("checkpoint", "code"):
                if row.get(name) == "group-worm":
                    row[name] = "group-gribble"
                    row["checkpoint_version"] = said
        del wording["checkpoint_version"]

    came = imported(cast.ola, repacked(archive_of(cast), renamed))
    assert came["state"] == "done", came
    assert "group-gribble" in catalogue_snapshot(came["group"]).catalogue.checkpoints
    assert CheckpointVersion.objects.filter(checkpoint="group-gribble").count() == 1


def changed(of: str, values):
    def change(opened):
        opened.rows[of][0].update(values)

    return change


def test_a_made_up_catalogue_is_refused_where_it_is_wrong(full, cast):
    content = archive_of(cast)
    own = unpacked(content).rows["wordings"][0]["own"]
    remedy = {
        "kind": "remedies",
        "code": "antifoul",
        "own": {"urgency": "later"},
        "checkpoint_version": None,
    }
    assert imported(cast.ola, repacked(content, changed("catalogue_changes", remedy)))["group"]
    for kind, values, at in (
        ("wordings", {"own": {**own, "weight": 99}}, "own"),
        ("wordings", {"own": {**own, "area": "attic"}}, "own"),
        ("wordings", {"own": None}, "own"),
        ("wordings", {"checkpoint": "nothing-like-it"}, "checkpoint"),
        ("catalogue_changes", {**remedy, "code": "nothing-like-it"}, "code"),
        ("catalogue_changes", {"kind": "scales"}, "kind"),
        ("catalogue_changes", {"checkpoint_version": "0" * 64}, "checkpoint_version"),
        ("catalogue_changes", {"currency": "XXZ"}, "currency"),
        ("catalogue_changes", {**remedy, "own": {"hours": 1}}, "own"),
    ):
        refused = imported(cast.ola, repacked(content, changed(kind, values)))
        assert refused["state"] == "refused", (kind, values)
        told = {(fault["file"], fault["field"]) for fault in refused["faults"]}
        assert (f"{kind}.jsonl", at) in told, (kind, values, refused)
    assert Group.objects.filter(name="Tern").count() == 2


def test_a_made_up_catalogue_takes_no_safety_away(full, cast):
    content = archive_of(cast)
    own = unpacked(content).rows["wordings"][0]["own"]
    mild = {**own, "concerns": ["value"], "cautions": [], "professional_only": False}
    base = catalogue_snapshot().catalogue.checkpoints["deck-cracks"]

    def milder(opened):
        opened.rows["wordings"][0]["own"] = mild
        opened.rows["catalogue_changes"][0].update(state="left_out", checkpoint_version=None)
        for row in opened.rows["findings"]:
            if row["checkpoint"] == "deck-cracks":
                row["checkpoint_version"] = "0" * 64

    came = imported(cast.ola, repacked(content, milder))
    assert came["state"] == "done", came
    kept = catalogue_snapshot(came["group"]).catalogue.checkpoints["deck-cracks"]
    assert set(base.cautions) <= set(kept.cautions)
    assert base.guarded is kept.guarded is True


def test_an_archive_from_before_there_were_own_catalogues(full, cast):
    def without(opened):
        for name in ("wordings", "catalogue_changes"):
            del opened.rows[name]
        for row in opened.rows["findings"]:
            row["checkpoint_version"] = "0" * 64

    came = imported(cast.ola, repacked(archive_of(cast), without))
    assert came["state"] == "done", came
    assert not CatalogueChange.objects.filter(group=came["group"]).exists()
