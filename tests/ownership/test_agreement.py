"""What the owners of a boat agree, in their own words."""

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from apps.events.models import Event
from apps.groups.models import Membership
from apps.ownership.agreement.topics import topics
from apps.ownership.models import Clause, Consent, Wording
from tests.conftest import pointers


@pytest.fixture
def sheet(cast):
    return f"/groups/{cast.group.id}/agreement"


@pytest.fixture
def at(sheet):
    return f"{sheet}/arrears"


def agreed(who, at, wording=1):
    return who.post(f"{at}/consents", {"wording": wording})


def names(people):
    return {one["name"] for one in people}


def topic_of(answer, code="arrears"):
    return next(one for one in answer.json()["topics"] if one["topic"] == code)


def test_it_works(cast, sheet, at):
    made = cast.ben.put(at, {"text": "Whoever owes for 30 days does not sail."})
    assert made.status_code == 201, made.content
    said = made.json()
    assert (said["wording"]["number"], said["wording"]["written_by"]["name"]) == (1, "Ben")
    assert names(said["missing"]) == {"Ola", "Ben", "Bea"}
    assert Event.objects.latest("number").kind == "clause.worded"
    for who in (cast.ola, cast.ben):
        assert agreed(who, at).status_code == 201
    read = cast.bea.get(sheet)
    assert "No legal advice" in read.json()["caution"]
    assert [one["topic"] for one in read.json()["topics"]] == list(topics())
    clause = topic_of(read)["clause"]
    assert (names(clause["missing"]), clause["agreed"]) == ({"Bea"}, False)
    assert agreed(cast.bea, at).status_code == 201
    assert cast.bea.get(sheet).json()["agreed"] == 1
    assert Event.objects.latest("number").kind == "clause.agreed"


def test_another_wording_is_agreed_to_anew(cast, sheet, at):
    cast.ben.put(at, {"text": "30 days."})
    for who in (cast.ola, cast.ben, cast.bea):
        agreed(who, at)
    said = cast.bea.change("PUT", at, {"text": "60 days."}).json()
    assert (said["wording"]["number"], said["agreed"]) == (2, False)
    assert names(said["missing"]) == {"Ola", "Ben", "Bea"}
    (earlier,) = said["earlier"]
    assert earlier["text"] == "30 days."
    assert names(one["person"] for one in earlier["consents"]) == {"Ola", "Ben", "Bea"}


def test_the_same_words_again_are_no_other_wording(cast, at):
    cast.ben.put(at, {"text": "30 days."})
    agreed(cast.ola, at)
    said = cast.bea.change("PUT", at, {"text": "30 days."})
    assert said.status_code == 200
    assert names(said.json()["missing"]) == {"Ben", "Bea"}
    assert Wording.objects.count() == 1


def test_nobody_agrees_to_words_they_have_not_read(cast, at):
    cast.ben.put(at, {"text": "30 days."})
    cast.bea.change("PUT", at, {"text": "A day."})
    refused = agreed(cast.ola, at, wording=1)
    assert (refused.status_code, refused.json()["code"]) == (409, "other_wording")
    assert agreed(cast.ola, at, wording=3).status_code == 409
    assert agreed(cast.ola, at, wording=2).status_code == 201
    again = agreed(cast.ola, at, wording=2)
    assert (again.status_code, again.json()["code"]) == (409, "agreed_already")
    assert Consent.objects.count() == 1


def test_only_those_who_buy_agree_and_a_newcomer_is_asked(cast, sheet, at):
    cast.ola.put(at, {"text": "30 days."})
    Membership.objects.filter(group=cast.group, person=cast.ola.person).update(
        buys=False, share=None
    )
    assert agreed(cast.ola, at).status_code == 403
    for who in (cast.ben, cast.bea):
        agreed(who, at)
    assert cast.ola.get(sheet).json()["agreed"] == 1
    Membership.objects.filter(group=cast.group, person=cast.ola.person).update(buys=True)
    assert names(topic_of(cast.ben.get(sheet))["clause"]["missing"]) == {"Ola"}


def test_it_is_exported_for_a_lawyer(cast, sheet, at):
    cast.ben.put(at, {"text": "Whoever owes for 30 days\ndoes not sail."})
    agreed(cast.bea, at)
    answer = cast.ola.get(f"{sheet}.txt")
    assert answer["Content-Type"] == "text/plain; charset=utf-8"
    text = answer.content.decode()
    assert "No legal advice" in text
    assert "Whoever owes for 30 days\ndoes not sail." in text
    assert "Bea agreed on 2" in text
    assert "Not yet agreed: Ola, Ben." in text or "Not yet agreed: Ben, Ola." in text
    assert text.count("Nothing is written here yet.") == len(topics()) - 1
    page = cast.ola.get(f"{sheet}.html")
    assert "does not sail." in page.content.decode()
    assert cast.ola.get(f"{sheet}.pdf").content.startswith(b"%PDF")


def test_who_may_and_the_stale_edit(cast, sheet, at):
    assert pointers(cast.ben.put(at, {"text": ""})) == {"/text"}
    assert pointers(cast.ben.put(at, {"text": "x", "words": "y"})) == {"/words"}
    assert cast.ben.put(at, {"text": "30 days."}).status_code == 201
    held = cast.ben.get(at)["ETag"]
    assert cast.ben.put(at, {"text": "x"}).status_code == 428
    assert cast.ben.put(at, {"text": "x"}, If_Match=held).status_code == 200
    assert cast.bea.put(at, {"text": "y"}, If_Match=held).status_code == 412
    for who, status in ((cast.ivy, 403), (cast.hal, 403), (cast.wim, 404), (cast.nobody, 401)):
        assert who.put(at, {"text": "z"}).status_code == status
        assert agreed(who, at, 2).status_code == status
        for form in ("", ".txt", ".pdf", ".html", "/arrears"):
            assert who.get(f"{sheet}{form}").status_code == status
    assert cast.ben.put(f"{sheet}/nonsense", {"text": "z"}).status_code == 404
    assert cast.ben.get(f"{sheet}/berth").status_code == 404
    assert agreed(cast.ben, f"{sheet}/berth").status_code == 404


def test_a_repeat_agrees_once(cast, at):
    cast.ben.put(at, {"text": "30 days."})
    made = [
        cast.ben.post(f"{at}/consents", {"wording": 1}, Idempotency_Key="a-key-of-mine-1")
        for _ in range(2)
    ]
    assert [one.status_code for one in made] == [201, 201]
    assert made[0].json() == made[1].json()


def test_the_database_keeps_one_of_each(cast, at):
    cast.ben.put(at, {"text": "30 days."})
    wording = Wording.objects.get()
    agreed(cast.ben, at)
    for wrong in (
        lambda: Clause.objects.create(group=cast.group, topic="arrears"),
        lambda: Consent.objects.create(wording=wording, person=cast.ben.person),
        lambda: Wording.objects.create(
            clause=wording.clause, number=2, text="", written_by=cast.ben.person
        ),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            wrong()


def test_reading_takes_as_many_queries_for_one_as_for_many(cast, sheet):
    taken = []
    for code in ("arrears", "berth", "use"):
        cast.ben.put(f"{sheet}/{code}", {"text": "As we said."})
        agreed(cast.ben, f"{sheet}/{code}")
        cast.ben.get(sheet)
        with CaptureQueriesContext(connection) as queries:
            cast.ben.get(sheet)
        taken.append(len(queries))
    assert len(set(taken)) == 1


def test_topics_are_whole():
    for topic in topics().values():
        assert topic.question.endswith("?")
        assert topic.mind.endswith(".")
