"""Export, import and export again: the same content, and the same board after computing it."""

import re

from apps.appraisal.jobs import list_recompute
from apps.archives.kinds import KINDS
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.expenses.models import Ledger
from apps.expenses.records import ledger_faults
from apps.groups.models import Club, Group, Membership
from apps.records.checking import record_faults
from apps.records.models import ListRecord
from apps.viewings.media import preparing
from apps.viewings.media.document_models import GateDocument
from apps.viewings.media.models import Photo, SellerPhoto, Sound
from tests.archives.conftest import Opened, archive_of, exported, fetched, imported, unpacked

ID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")


def numbered(archive: Opened) -> dict[str, list]:
    """Rows with each id replaced by its order of appearance: equal for archives with equal content.

    Digests of emails have a new salt in each archive. Records of the ledger keep the ids of the
    service where they were made.
    """
    theirs = ("email_digest", "record", "text")
    seen: dict[str, str] = {}

    def plain(value):
        match value:
            case str():
                return ID.sub(lambda m: seen.setdefault(m[0], f"id {len(seen)}"), value)
            case list():
                return [plain(one) for one in value]
            case dict():
                return {k: plain(v) for k, v in value.items() if k not in theirs}
        return value

    return {name: plain(rows) for name, rows in sorted(archive.rows.items())}


def by_name(archive: Opened) -> Opened:
    """People in the same order in both archives: people with an account keep an older id."""
    archive.rows["people"].sort(key=lambda row: row["name"])
    return archive


def prepare_media() -> None:
    for photo in Photo.objects.filter(state="processing"):
        preparing.photo_prepare(photo_id=photo.pk)
    for shown in SellerPhoto.objects.filter(state="processing"):
        preparing.seller_photo_prepare(photo_id=shown.pk)
    for paper in GateDocument.objects.filter(state="processing"):
        preparing.gate_document_prepare(document_id=paper.pk)
    for sound in Sound.objects.filter(state="processing"):
        preparing.sound_prepare(sound_id=sound.pk)


def test_every_kind_is_in_it(full, cast):
    archive = unpacked(archive_of(cast))
    assert {kind.name for kind in KINDS} < archive.rows.keys()
    assert [name for name, rows in archive.rows.items() if not rows] == []
    assert archive.manifest["counts"] == {n: len(rows) for n, rows in archive.rows.items()}
    assert archive.manifest["left_out"] == {}
    assert "not a survey" in archive.manifest["caution"]
    assert len(archive.files) == 5


def test_out_in_and_out_again_is_the_same(full, cast):
    first = archive_of(cast)
    came = imported(cast.ola, first)
    assert came["state"] == "done", came
    prepare_media()
    second = fetched(exported(cast.ola, f"/groups/{came['group']}/exports"))
    one, other = by_name(unpacked(first)), by_name(unpacked(second))
    assert numbered(one) == numbered(other)
    assert one.manifest["counts"] == other.manifest["counts"]
    assert one.rows["lists"][0]["id"] != other.rows["lists"][0]["id"]
    entries = [[row["record"] for row in a.rows["ledger_entries"]] for a in (one, other)]
    assert entries[0] == entries[1]
    assert ledger_faults(Ledger.objects.get(group=came["group"])) == []
    for of in (cast.group.pk, came["group"]):
        record = ListRecord.objects.get(list__group=of)
        assert record.entries_made > 10
        assert record_faults(record) == []
    # A recording is stored without loss and a PDF as it came; a picture is encoded again, at the
    # same size.
    for ending in (".flac", ".pdf"):
        kept = [[f for name, f in a.files.items() if name.endswith(ending)] for a in (one, other)]
        assert kept[0] == kept[1]
        assert len(kept[0]) == 1


def board_of(who, list_id) -> dict:
    board = who.get(f"/lists/{list_id}/board").json()
    return {
        k: board[k] for k in ("budget", "candidates", "struck_off", "members", "votes", "fresh")
    }


def without_ids(value, ids: dict[str, str]):
    match value:
        case str():
            return ID.sub(lambda m: ids.get(m[0], m[0]), value)
        case list():
            return [without_ids(one, ids) for one in value]
        case dict():
            return {k: without_ids(v, ids) for k, v in value.items()}
    return value


def test_the_board_is_the_same_once_it_is_worked_out_anew(full, cast):
    full.yard.list.refresh_from_db()
    full.yard.recompute()
    before = board_of(cast.ola, full.yard.list.pk)
    assert before["fresh"] is True
    came = imported(cast.ola, archive_of(cast))
    prepare_media()
    new = CandidateList.objects.get(group=came["group"])
    list_recompute(list_id=new.pk)
    after = board_of(cast.ola, new.pk)
    names = {
        str(c.pk): str(full.yard.list.candidates.get(name=c.name).pk) for c in new.candidates.all()
    }
    wants = zip(new.wants.order_by("pk"), full.yard.list.wants.order_by("pk"), strict=True)
    names |= {str(a.pk): str(b.pk) for a, b in wants}
    assert without_ids(after, names) == before


def test_people_who_share_a_group_are_recognised_and_belong(full, cast):
    came = imported(cast.ola, archive_of(cast), name="Spring again")
    members = Membership.objects.filter(group=came["group"], ended_at=None)
    here = {c.person for c in (cast.ola, cast.ben, cast.bea, cast.hal, cast.ivy)}
    assert {m.person for m in members} == here
    assert Group.objects.get(pk=came["group"]).name == "Spring again"
    assert came["notes"] == []


def test_to_a_stranger_people_are_names_only(full, cast):
    """A made-up archive must not put words into anybody's mouth."""
    came = imported(cast.sten, archive_of(cast))
    assert came["state"] == "done"
    members = Membership.objects.filter(group=came["group"], ended_at=None)
    assert {m.person.name for m in members} == {"Ola", "Ben", "Bea", "Hal", "Ivy", "Sten"}
    mine = {m.person for m in members if m.person.is_active}
    assert mine == {cast.sten.person}
    assert members.get(person=cast.sten.person).role == "organiser"
    assert "Ben" in came["notes"][0]
    assert cast.ben.get(f"/groups/{came['group']}").status_code == 404


def test_whoever_brings_it_is_an_organiser_of_it(full, cast):
    came = imported(cast.ben, archive_of(cast))
    membership = Membership.objects.get(group=came["group"], person=cast.ben.person)
    assert (membership.role, membership.buys) == ("organiser", True)


def test_a_clubs_yard_comes_along_as_the_groups_own(full, cast):
    club = Club.objects.create(name="Estuary")
    Group.objects.filter(pk=cast.group.pk).update(club=club)
    club.memberships.create(person=cast.ola.person, role="secretary")
    quay = {"name": "Club quay", "latitude": 54.0, "longitude": 10.0, "time_zone": "Europe/Berlin"}
    for name in ("Club quay", "Nobody's quay"):
        made = cast.ola.post(f"/clubs/{club.pk}/yards", {**quay, "name": name}).json()
        if name == "Club quay":
            place = {"place": {"yard_id": made["id"]}}
            assert (
                cast.ben.change("PATCH", f"/candidates/{full.fulmar.pk}", place).status_code == 200
            )
    came = imported(cast.ola, archive_of(cast))
    yards = cast.ola.get(f"/groups/{came['group']}/yards").json()["results"]
    assert {(yard["name"], yard["group"]) for yard in yards} == {
        ("North Quay", came["group"]),
        ("Club quay", came["group"]),
    }
    boats = Candidate.objects.filter(list__group=came["group"]).exclude(at_yard=None)
    assert {boat.at_yard.name for boat in boats} == {"North Quay", "Club quay"}
