"""The inputs of results, and the events of their changes."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.appraisal import messages
from apps.boats.exchange_rates import rate
from apps.boats.list_models import CandidateList
from apps.boats.revisions import inputs_changed
from apps.boats.selectors import list_inputs
from apps.events.subscriptions import subscribe, unsubscribe
from tests.boats.conftest import add_boat, revision, usd
from tests.boats.test_wants import FREE, SHALLOW


def fill(cast, list_id, boats):
    for n in range(boats):
        boat = add_boat(cast, list_id, name=f"Boat {n}")
        for who in (cast.ben, cast.bea):
            who.put(f"/candidates/{boat}/valuation", {"valuation": usd("30000.00")})
            want = who.post(f"/lists/{list_id}/wants", FREE).json()["id"]
            who.put(f"/wants/{want}/judgements/{boat}", {"met": True})
    for who in (cast.ben, cast.bea):
        held = who.get(f"/lists/{list_id}/ballot")
        match = {"If_Match": held["ETag"]} if held.status_code == 200 else {}
        assert who.put(f"/lists/{list_id}/ballot", {"ranks": [[boat]]}, **match).status_code < 300


def queries(list_id) -> int:
    with CaptureQueriesContext(connection) as captured:
        inputs = list_inputs(list_id)
        [judgement.met for want in inputs.wants for judgement in want.judgements.all()]
        [(buyer.person.name, inputs.candidate_list.group.name) for buyer in inputs.buyers]
    return len(captured)


def test_it_works(cast, list_id):
    fill(cast, list_id, 2)
    cast.ben.post(f"/lists/{list_id}/wants", SHALLOW)
    inputs = list_inputs(list_id)
    assert str(inputs.candidate_list.pk) == list_id
    assert inputs.revision == revision(list_id)
    assert [boat.name for boat in inputs.candidates] == ["Boat 0", "Boat 1"]
    assert len(inputs.wants) == 5
    assert sum(len(want.judgements.all()) for want in inputs.wants) == 4
    assert {valuation.amount for valuation in inputs.valuations} == {Decimal(30000)}
    assert len(inputs.valuations) == 4
    assert [ballot.ranked for ballot in inputs.ballots] == [[[inputs.candidates[1].pk]]] * 2
    assert {buyer.person.name for buyer in inputs.buyers} == {"Ola", "Ben", "Bea"}
    assert sum(inputs.shares.values()) == pytest.approx(1)


def test_queries_do_not_grow_with_the_list(cast, list_id):
    fill(cast, list_id, 1)
    few = queries(list_id)
    fill(cast, list_id, 5)
    # list, buyers, candidates, wants, judgements, valuations, ballots
    assert queries(list_id) == few == 7


def test_who_no_longer_buys_no_longer_counts(cast, list_id):
    fill(cast, list_id, 1)
    membership = cast.membership(cast.bea)
    body = {"role": "helper", "buys": False}
    assert cast.ola.change("PUT", f"/members/{membership.pk}", body).status_code == 200
    inputs = list_inputs(list_id)
    for opinions in (inputs.wants, inputs.valuations, inputs.ballots):
        assert {opinion.person_id for opinion in opinions} == {cast.ben.person.pk}


def test_shares_and_members_count(cast, list_id):
    before = revision(list_id)
    people = {who: str(getattr(cast, who).person.pk) for who in ("ola", "ben", "bea")}
    shares = [
        {"person": people[who], "share": share}
        for who, share in (("ola", "0.2"), ("ben", "0.5"), ("bea", "0.3"))
    ]
    cast.ola.change("PUT", f"/groups/{cast.group.id}/shares", {"shares": shares})
    assert list_inputs(list_id).shares[cast.ben.person.pk] == Decimal("0.5")
    shared = revision(list_id)
    assert shared > before
    joins(cast, cast.sten)
    assert revision(list_id) > shared


def test_other_groups_lists_are_not_touched(cast, list_id, foreign_list_id):
    before = revision(foreign_list_id)
    joins(cast, cast.sten)
    add_boat(cast, list_id)
    assert revision(foreign_list_id) == before


def joins(cast, who) -> None:
    token = cast.ola.post(f"/groups/{cast.group.id}/invitations", {"role": "buyer"}).json()["token"]
    assert who.post("/acceptances", {"token": token}).status_code == 201


def test_the_worker_hears_after_the_commit(
    cast, list_id, django_capture_on_commit_callbacks, monkeypatch
):
    sent, heard = [], []
    monkeypatch.setattr(messages, "send_recompute", sent.append)

    @subscribe("list.inputs_changed")
    def listen(event):
        heard.append((str(event.thing_id), event.facts["revision"]))

    try:
        with django_capture_on_commit_callbacks(execute=True):
            add_boat(cast, list_id)
            assert sent == []
    finally:
        unsubscribe(listen)
    assert heard == [(list_id, revision(list_id))]
    assert [str(one) for one in sent] == [list_id]


@pytest.mark.django_db(transaction=True)
def test_the_revision_belongs_to_a_transaction(cast, list_id):
    with pytest.raises(RuntimeError, match="transaction"):
        inputs_changed(list_id)


def test_money_of_other_currencies(cast, list_id):
    listed = CandidateList.objects.get(pk=list_id)
    listed.exchange_rates = {"EUR": "1.08"}
    assert rate(listed, "USD") == 1
    assert rate(listed, "EUR") == Decimal("1.08")
    assert rate(listed, "GBP") is None
