"""A boat of another group on a day sheet: her particulars, her place, her checklist, no more."""

from datetime import UTC, date, datetime

import pytest

from apps.boats.models import Candidate
from apps.reports.content import texts
from apps.reports.day_sheet import sheet_of
from apps.reports.looks import Visit, looks_read
from apps.reports.outings import Drive, Outing
from apps.viewings.models import Viewing
from tests.desk.conftest import QUESTION, desk, files, scene  # noqa: F401
from tests.viewings.conftest import look

DAY = date(2026, 7, 4)
MADE_AT = datetime(2026, 5, 1, 10, tzinfo=UTC)
STARTS_AT = datetime(2026, 7, 4, 10, tzinfo=UTC)
SECRET = "Nobody outside hears of this"


@pytest.fixture
def looked_at(desk) -> Candidate:  # noqa: F811
    """The group found something, asks something, and wrote things down."""
    boat, cast = desk.scene.heron, desk.cast
    findings = [look("joint", 3, note=SECRET)]
    said = {"state": "submitted", "note": SECRET, "findings": findings, "call": "strike"}
    visit = Viewing.objects.create(
        candidate=boat, starts_at=MADE_AT, state="made", added_by=cast.ben.person, note=SECRET
    )
    for path, body in (
        (f"/viewings/{visit.pk}/submissions", said),
        (f"/candidates/{boat.pk}/follow-ups", {"question": SECRET, "asked_of": "seller"}),
    ):
        answer = cast.ben.post(path, body)
        assert answer.status_code == 201, answer.content
    Candidate.objects.filter(pk=boat.pk).update(note=SECRET)
    desk.yard.note = SECRET
    desk.yard.save()
    return Candidate.objects.select_related("list__group", "at_yard").get(pk=boat.pk)


def said_to(who, boat) -> str:
    looks = looks_read(who.person, [Visit(boat, DAY, "UTC", STARTS_AT)])
    drive = Drive("One car", (who.person.name,), (), looks)
    outing = Outing("Out", "Club", DAY, "UTC", "", (drive,), (), "", None)
    return "\n".join(texts(sheet_of(outing)))


def test_who_took_her_on_reads_what_is_asked_and_the_checklist(desk, looked_at):  # noqa: F811
    desk.taken()
    said = said_to(desk.abe, looked_at)
    assert "They ask:" in said
    assert QUESTION in said
    assert "In walking order" in said
    assert looked_at.name in said


def test_nothing_that_her_group_found_wrote_or_wants(desk, looked_at):  # noqa: F811
    desk.taken()
    theirs, own = said_to(desk.abe, looked_at), said_to(desk.cast.ben, looked_at)
    assert SECRET in own
    assert SECRET not in theirs
    for words in ("To settle", "To ask", "as she lay on", "must judge:", "Ben"):
        assert words not in theirs
    assert "must be judged by the professional named" in theirs


def test_what_is_asked_goes_when_the_group_ends_the_access(desk, looked_at):  # noqa: F811
    take = desk.taken()
    request = desk.request_of(take)
    ended = desk.cast.ben.change("DELETE", f"/look-requests/{request}/take")
    assert ended.status_code < 300, ended.content
    assert QUESTION not in said_to(desk.abe, looked_at)
