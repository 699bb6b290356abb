"""The record of a boat: what is in it, who may read which of it, and that it can be checked."""

import csv
import hashlib
import io
import json
from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from apps.accounts.erasing import person_erase
from apps.boats.list_models import CandidateList
from apps.events.models import Event
from apps.records.checking import record_faults
from apps.records.models import ListRecord, RecordEntry
from apps.viewings.models import Finding
from tests.conftest import Speaker
from tests.viewings.conftest import look


def record_of(who, boat, query="limit=200"):
    answer = who.get(f"/candidates/{boat.pk}/record?{query}")
    assert answer.status_code == 200, answer.content
    return answer.json()["results"]


def told(who, boat) -> list[str | None]:
    """The kinds of the entries; None where one is withheld."""
    return [one["content"] and one["content"]["kind"] for one in record_of(who, boat)]


def euros(scene, amount):
    return {"amount": amount, "currency": scene.list.currency}


def checked(document) -> str:
    """The last digest, worked out as the document itself says, by nothing of the service."""
    before = ""
    for number, entry in enumerate(document["entries"], 1):
        assert entry["number"] == number
        if entry["text"] is not None:
            assert hashlib.sha256(entry["text"].encode()).hexdigest() == entry["text_digest"]
        before = hashlib.sha256(f"{before}\n{entry['text_digest']}".encode()).hexdigest()
        assert before == entry["digest"]
    return before


@pytest.fixture
def heron(scene):
    """A boat that was looked at, with a question asked and a stage changed."""
    visit = {"starts_at": "2025-03-01T10:00:00Z", "conditions": {"where": "ashore"}}
    at = f"/candidates/{scene.heron.pk}"
    made = scene.cast.ola.post(f"{at}/viewings", visit)
    assert made.status_code == 201, made.content
    said = {"state": "submitted", "vote": "keep", "findings": [look("terminals", 2)]}
    posted = scene.cast.ben.post(f"/viewings/{made.json()['id']}/submissions", said)
    assert posted.status_code == 201, posted.content
    moved = scene.cast.ben.post(
        f"{at}/stage-changes", {"stage": "struck_off", "reason": "The wire is old"}
    )
    assert moved.status_code == 201, moved.content
    return scene.heron


def test_it_works(scene, heron):
    found = {one["content"]["kind"]: one for one in record_of(scene.cast.ben, heron)}
    visit = found["viewing.added"]["content"]["facts"]
    assert (visit["where"], visit["state"]) == ("ashore", "planned")
    looked = found["submission.submitted"]
    assert looked["by"]["name"] == "Ben"
    assert looked["content"]["facts"]["conditions"]["where"] == "ashore"
    assert len(looked["content"]["facts"]["digest"]) == 64
    moved = found["candidate.stage_changed"]["content"]
    assert moved["words"] == "She was moved from “listed” to “struck off”. The wire is old"
    assert moved["facts"] == {"from": "listed", "to": "struck_off", "reason": "The wire is old"}
    assert record_faults(ListRecord.objects.get(list=scene.list)) == []
    call_command("verify_chains")


def test_entries_are_in_the_order_of_the_events(scene, heron):
    entries = record_of(scene.cast.ben, heron)
    assert [one["number"] for one in entries] == list(range(1, len(entries) + 1))
    kinds = [kind for kind in told(scene.cast.ben, heron) if kind != "submission.vote_given"]
    events = Event.objects.filter(group=scene.cast.group.pk).order_by("number")
    assert kinds == list(events.values_list("kind", flat=True))


def test_who_may_not_see_the_boat_sees_no_record(scene, heron):
    for form in ("", ".json", ".csv"):
        path = f"/candidates/{heron.pk}/record{form}"
        assert scene.cast.ivy.get(path).status_code == 200
        assert scene.cast.wim.get(path).status_code == 404
        assert scene.cast.sten.get(path).status_code == 404
        assert scene.cast.nobody.get(path).status_code == 401


def test_another_boats_entries_are_not_in_it(scene, heron):
    about = {"question": "Is the mast down?", "asked_of": "seller"}
    scene.cast.ben.post(f"/candidates/{scene.dunlin.pk}/follow-ups", about)
    assert "follow_up.added" not in told(scene.cast.ben, heron)
    assert told(scene.cast.ben, scene.dunlin) == ["follow_up.added"]
    document = scene.cast.ben.get(f"/candidates/{heron.pk}/record.json").json()
    assert document["entries"][-1]["text"] is None
    assert checked(document) == document["digest"]


def test_what_is_about_the_list_is_about_each_boat(scene, heron):
    budget = {"brief": {"budget": euros(scene, "41000.00")}}
    scene.cast.ola.change("PATCH", f"/lists/{scene.list.pk}", budget)
    for boat in (heron, scene.dunlin):
        last = record_of(scene.cast.ben, boat)[-1]
        assert (last["of_list"], last["content"]["kind"]) == (True, "list.changed")
        assert last["content"]["facts"]["values"]["budget"] == "41000.00"


# --- Hidden opinions -----------------------------------------------------------------------------


def test_a_hidden_opinion_is_withheld_until_one_gave_ones_own(scene, heron):
    at = f"/candidates/{heron.pk}/valuation"
    scene.cast.ben.put(at, {"valuation": euros(scene, "20000.00")})
    scene.cast.ben.put(f"/lists/{scene.list.pk}/ballot", {"ranks": [[str(heron.pk)]]})
    own = told(scene.cast.ben, heron)
    assert own[-2:] == ["valuation.given", "ballot.given"]
    assert "submission.vote_given" in own
    hidden = record_of(scene.cast.ivy, heron)
    assert [one["content"] for one in hidden[-2:]] == [None, None]
    assert [one["by"] for one in hidden[-2:]] == [None, None]
    assert "submission.vote_given" not in told(scene.cast.ivy, heron)
    scene.cast.bea.put(at, {"valuation": euros(scene, "21000.00")})
    assert told(scene.cast.bea, heron)[-3:] == ["valuation.given", None, "valuation.given"]
    scene.cast.ola.change("PATCH", f"/lists/{scene.list.pk}", {"opinions_open": True})
    assert None not in told(scene.cast.ivy, heron)


def test_the_digest_of_a_hidden_opinion_does_not_tell_what_it_is(scene, heron):
    """Whoever tries all amounts finds none that has the digest: a random value stands beside."""
    at = f"/candidates/{heron.pk}/valuation"
    scene.cast.ben.put(at, {"valuation": euros(scene, "20000.00")})
    entry = RecordEntry.objects.latest("number")
    content = json.loads(entry.text)
    assert content["facts"]["amount"] == "20000.00"
    assert len(content["salt"]) == 32
    scene.cast.ben.change("PUT", at, {"valuation": euros(scene, "20000.00")})
    again = json.loads(RecordEntry.objects.latest("number").text)
    assert again["salt"] != content["salt"]


def test_the_withheld_are_not_in_a_document_or_a_table(scene, heron):
    at = f"/candidates/{heron.pk}"
    scene.cast.ben.put(f"{at}/valuation", {"valuation": euros(scene, "20123.00")})
    for form in ("record.json", "record.csv"):
        assert b"20123" in scene.cast.ben.get(f"{at}/{form}").content
        assert b"20123" not in scene.cast.ivy.get(f"{at}/{form}").content
    document = scene.cast.ivy.get(f"{at}/record.json").json()
    assert checked(document) == document["digest"]


def test_a_token_reads_only_what_its_scopes_open(scene, heron):
    ends = timezone.now() + timedelta(days=1)
    body = {"name": "Lists", "scopes": ["lists:read"], "expires_at": ends.isoformat()}
    made = scene.cast.ben.post("/tokens", body).json()
    narrow = Speaker(None, made["token"])
    kinds = told(narrow, heron)
    assert "candidate.stage_changed" in kinds
    assert "submission.submitted" not in kinds


# --- Checking ------------------------------------------------------------------------------------


def test_a_document_says_how_to_check_it_and_is_checked_so(scene, heron):
    document = scene.cast.ben.get(f"/candidates/{heron.pk}/record.json").json()
    assert checked(document) == document["digest"]
    assert document["entries_made"] == len(document["entries"])
    assert document["people"][str(scene.cast.ben.person.pk)] == "Ben"
    assert "not a survey" in document["caution"]
    document["entries"][1]["text_digest"] = "0" * 64
    document["entries"][1]["text"] = None
    with pytest.raises(AssertionError):
        checked(document)


def test_the_table_has_a_row_for_each_entry(scene, heron):
    answer = scene.cast.ben.get(f"/candidates/{heron.pk}/record.csv")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode())))
    assert [row["kind"] for row in rows] == told(scene.cast.ben, heron)
    assert json.loads(rows[-1]["facts"])["to"] == "struck_off"
    assert rows[-1]["by"] == "Ben"


def entries(**of):
    return RecordEntry.objects.filter(**of)


@pytest.mark.parametrize(
    "tamper",
    [
        lambda: entries(number=2).update(text="{}"),
        lambda: entries(number=2).update(kind="candidate.added"),
        lambda: entries(number=2).update(by=None),
        lambda: entries(number=2).update(text_digest="0" * 64),
        lambda: entries(number=2).update(digest="0" * 64),
        lambda: entries(number=2).delete(),
        lambda: entries(number=ListRecord.objects.get().entries_made).delete(),
        lambda: ListRecord.objects.update(digest="0" * 64),
        lambda: Finding.objects.update(level=0),
        lambda: Finding.objects.all().delete(),
    ],
)
def test_what_was_changed_is_found(scene, heron, tamper):
    assert record_faults(ListRecord.objects.get()) == []
    tamper()
    assert record_faults(ListRecord.objects.get())
    with pytest.raises(CommandError):
        call_command("verify_chains")


def test_a_person_who_is_erased_leaves_the_chain_whole(scene, heron):
    person = scene.cast.ben.person
    person.refresh_from_db()
    person_erase(person=person)
    assert record_faults(ListRecord.objects.get()) == []
    document = scene.cast.ivy.get(f"/candidates/{heron.pk}/record.json").json()
    assert checked(document) == document["digest"]
    assert "Ben" not in document["people"].values()
    assert '"Ben"' not in json.dumps(document)


def test_a_boat_or_a_list_that_is_deleted(scene, heron):
    scene.dunlin.delete()
    heron.delete()
    assert record_faults(ListRecord.objects.get()) == []
    CandidateList.objects.get(pk=scene.list.pk).delete()
    assert not RecordEntry.objects.exists()


def test_a_page_of_it_costs_the_same_for_many(scene, heron):
    def queries():
        with CaptureQueriesContext(
            connection,
        ) as found:
            record_of(scene.cast.ben, heron)
        return len(found)

    before = queries()
    for n in range(4):
        about = {"question": f"Is it {n}?", "asked_of": "seller"}
        scene.cast.ben.post(f"/candidates/{heron.pk}/follow-ups", about)
    assert queries() == before


def test_an_undone_change_leaves_no_entry(scene, heron):
    before = ListRecord.objects.get()
    refused = scene.cast.ben.post(f"/candidates/{heron.pk}/stage-changes", {"stage": "struck_off"})
    assert refused.status_code == 422
    after = ListRecord.objects.get()
    assert (before.digest, before.entries_made) == (after.digest, after.entries_made)


def test_a_ballot_on_a_survey_is_withheld_until_the_vote_is_closed(scene, heron):
    cast = scene.cast
    back = {"stage": "listed", "reason": ""}
    cast.ben.post(f"/candidates/{heron.pk}/stage-changes", back)
    opened = cast.ben.post(f"/candidates/{heron.pk}/survey-votes", {"reason": "Is she it?"})
    assert opened.status_code == 201, opened.content
    vote = f"/survey-votes/{opened.json()['id']}"
    given = cast.ben.put(f"{vote}/ballot", {"choice": "yes"})
    assert given.status_code in (200, 201), given.content
    assert told(cast.ben, heron)[-1] == "survey_ballot.given"
    assert told(cast.bea, heron)[-1] is None
    closed = cast.ola.post(f"{vote}/closing", {"note": "All said"})
    assert closed.status_code == 200, closed.content
    assert None not in told(cast.bea, heron)[-2:]
