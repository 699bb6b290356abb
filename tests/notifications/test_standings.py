"""Notifications of material changes in a list's results."""

import uuid

import pytest
from django.db import transaction

from apps.appraisal.models import ListAppraisal
from apps.events.services import event_record
from apps.notifications.models import NotifiedStanding
from apps.notifications.rules.standings import (
    Doings,
    Stand,
    advice_differs,
    moved,
    notified_of,
    order_change,
)
from tests.notifications.conftest import everything_read, inbox, told, types


def valuation(who, boat, amount):
    body = {"valuation": {"amount": f"{amount}.00", "currency": "USD"}}
    answer = who.change("PUT", f"/candidates/{boat.pk}/valuation", body)
    assert answer.status_code in (200, 201), answer.content


@pytest.fixture
def known(spring, cast, notify):
    notify()
    everything_read(cast)
    return spring


def test_it_works(known, cast, notify):
    """Ben values Petrel less and Fulmar more: another boat is in front for who may see that."""
    front = known.yard
    for boat in (known.petrel, known.fulmar, known.skua):
        front.valuation(boat, cast.ola.person, 92_000)
    front.recompute()
    notify()
    everything_read(cast)
    first = ListAppraisal.objects.get(pk=front.list.pk).standing["rows"][0]["candidate_id"]
    other = known.fulmar if first == str(known.petrel.pk) else known.petrel
    leader = known.petrel if other is known.fulmar else known.fulmar
    for who in (cast.ben, cast.bea):
        valuation(who, leader, 40_000)
        valuation(who, other, 150_000)
    front.recompute()
    notify()
    found = told(cast.ola, "order_changed", "?read=false")
    assert found["facts"]["now"][0] == str(other.pk)
    assert found["sentence"] == f"Spring: {other.name} is in front now, it was {leader.name}."
    assert found["list"]["name"] == "Spring"
    # Both did a part, and both are notified of the whole, without names.
    assert "order_changed" in types(cast.ben, "?read=false")
    assert found["facts"]["by"] == []


def test_who_may_not_see_valuations_is_not_told_what_they_changed(known, cast, notify):
    """The order changes only for those who may see the valuations."""
    for who in (cast.ben, cast.bea):
        valuation(who, known.petrel, 150_000)
        valuation(who, known.fulmar, 150_000)
        valuation(who, known.skua, 400_000)
    known.yard.recompute()
    notify()
    assert "order_changed" in types(cast.bea, "?read=false")
    for who in (cast.ola, cast.hal, cast.ivy):
        assert not {"order_changed", "advice_changed"} & set(types(who, "?read=false"))


def test_of_what_all_may_see_it_is_told_who_did_it(known, cast, notify):
    cast.bea.post(f"/candidates/{known.petrel.pk}/prices", price(200_000))
    valuation(cast.ben, known.fulmar, 81_000)
    known.yard.recompute()
    notify()
    found = told(cast.ivy, "order_changed", "?read=false")
    assert found["facts"]["by"] == [str(cast.bea.person.pk)]
    assert found["facts"]["now"][0] == str(known.fulmar.pk)


def test_who_alone_did_it_is_not_told(known, cast, notify):
    stored = NotifiedStanding.objects.get(pk=known.yard.list.pk)
    for stand in stored.stands.values():
        stand["order"] = [*stand["order"][1:], stand["order"][0]]
        stand["place"] = {boat: n for n, boat in enumerate(stand["order"], start=1)}
    stored.save()
    cast.ben.post(f"/candidates/{known.tern.pk}/prices", price(30_000))
    known.yard.recompute()
    notify()
    assert "order_changed" not in types(cast.ben, "?read=false")
    assert "order_changed" in types(cast.bea, "?read=false")


def test_doings_are_kept_until_the_results_are_there(known, cast, notify):
    cast.ben.post(f"/candidates/{known.tern.pk}/prices", price(30_000))
    notify()
    assert NotifiedStanding.objects.get().by == [str(cast.ben.person.pk)]
    known.yard.recompute()
    notify()
    assert NotifiedStanding.objects.get().by == []


def test_advice_that_comes_and_goes(known, cast, notify):
    """A doubt on the keel joint of Petrel: it must be judged first; a document settles it."""
    known.yard.look(known.petrel, cast.hal.person, {"keel-joint-line": 4})
    known.yard.recompute()
    notify()
    (found,) = [
        one
        for one in inbox(cast.ola, "?read=false")
        if one["type"] == "advice_changed" and one["candidate"]["name"] == "Petrel"
    ]
    assert found["grave"] is True
    assert found["sentence"] == (
        "Petrel: a professional must judge what somebody saw before anybody buys her."
    )
    clearance = {
        "checkpoint": "keel-joint-line",
        "basis": "professional",
        "profession": "surveyor",
        "level": 0,
        "document": "Report 3",
        "dated_on": found["created_at"][:10],
    }
    cleared = cast.ben.post(f"/candidates/{known.petrel.pk}/clearances", clearance)
    assert cleared.status_code == 201, cleared.content
    known.yard.recompute()
    notify()
    left = [
        one["candidate"]["name"]
        for one in inbox(cast.ola, "?read=false")
        if one["type"] == "advice_changed"
    ]
    assert "Petrel" not in left  # it is as it was when Ola last looked


def price(amount):
    return {"asking": {"amount": f"{amount}.00", "currency": "USD"}}


@pytest.mark.parametrize(
    ("before", "now", "notified_of"),
    [
        ("abcd", "abcd", None),
        ("abcd", "abdc", ("abc", "abd")),
        ("abcd", "acbd", None),  # the same three, the same in front
        ("abcd", "bacd", ("abc", "bac")),
        ("abcd", "bcd", None),  # people struck off the first: they know
        ("abcd", "eabcd", ("abc", "eab")),
        ("", "abc", None),  # the first results are no change
        ("abc", "", None),
    ],
)
def test_which_changes_of_order_type(before, now, notified_of):
    found = order_change(Stand(list(before), {}), Stand(list(now), {}))
    assert (found and ("".join(found.before), "".join(found.now))) == notified_of


def standing(order, *places):
    return Stand(list(order), {}, dict(zip(order, places, strict=True)))


@pytest.mark.parametrize(
    ("before", "now", "news"),
    [
        # Two share the first place: the notification names the one listed first.
        (standing("abc", 1, 1, 3), standing("bac", 1, 1, 3), None),
        (standing("abc", 1, 2, 3), standing("bac", 1, 1, 3), None),
        (standing("abc", 1, 1, 3), standing("bac", 1, 2, 3), None),  # b led before too
        (standing("abc", 1, 2, 3), standing("bac", 1, 2, 3), ("abc", "bac", 1)),
        (standing("abc", 1, 2, 3), standing("bca", 1, 1, 3), ("abc", "bca", 2)),
        # Among the first three, only a boat that passed one of them counts.
        (standing("abcd", 1, 2, 3, 4), standing("abdc", 1, 2, 3, 3), None),
        (standing("abcd", 1, 2, 3, 4), standing("abdc", 1, 2, 3, 4), ("abc", "abd", 1)),
        (standing("abcd", 1, 2, 3, 3), standing("abdc", 1, 2, 3, 4), ("abc", "abd", 1)),
        # Named after the one that leads as before.
        (standing("abcd", 1, 2, 3, 4), standing("badc", 1, 1, 3, 4), ("abc", "abd", 2)),
        (standing(""), standing("a", 1), None),
    ],
)
def test_who_is_but_level_is_no_change(before, now, news):
    found = order_change(before, now)
    assert (found and ("".join(found.before), "".join(found.now), found.level)) == news


def test_small_steps_add_up():
    """Each step is too small; together, since the last notification, they are not."""
    person, others = uuid.uuid4(), Doings(frozenset({"x"}))
    steps = [
        (standing("abc", 1, 1, 3), False),
        (standing("bac", 1, 2, 3), True),
    ]
    told = notified_of(uuid.uuid4(), None, {person: standing("abc", 1, 2, 3)}, others)
    for step, news in steps:
        drafts = list(moved(told.list_id, told, {person: step}, others, 1))
        assert bool(drafts) is news
        told = notified_of(told.list_id, told, {person: step}, others)
    assert told.stands[str(person)]["order"] == list("bac")


def test_who_did_it_alone_knows_it():
    person = uuid.uuid4()
    told = notified_of(uuid.uuid4(), None, {person: standing("abc", 1, 2, 3)}, Doings())
    alone = Doings(frozenset({str(person)}))
    told = notified_of(told.list_id, told, {person: standing("abc", 1, 1, 3)}, alone)
    assert told.stands[str(person)]["place"] == {"a": 1, "b": 1, "c": 3}


@pytest.mark.parametrize(
    ("before", "now", "differs"),
    [
        ([], ["over_budget"], True),
        (["over_budget"], [], True),
        (["over_budget"], ["dominated", "over_budget"], False),  # advised as before
        (["over_budget"], ["open_doubt", "over_budget"], True),  # what may sink or hurt is told
        (["open_doubt", "over_budget"], ["over_budget"], False),
        ([], ["to_be_judged"], True),
        (["to_be_judged"], [], True),
        (["over_budget"], ["over_budget", "to_be_judged"], True),
        (["to_be_judged"], ["over_budget", "to_be_judged"], True),  # and now it is advised
        (["over_budget", "to_be_judged"], ["to_be_judged"], True),
    ],
)
def test_which_changes_of_advice_type(before, now, differs):
    assert advice_differs(before, now) is differs


def test_a_list_that_is_gone_is_passed_over(known, cast, notify):
    with transaction.atomic():
        event_record(
            group_id=cast.group.id,
            kind="results.ready",
            thing="list_appraisal",
            thing_id=uuid.uuid4(),
        )
    assert notify() == 1
