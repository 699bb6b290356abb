"""The change feed: exactly the changes that a reader may see, in order and once."""

import re
import uuid
from datetime import timedelta

import pytest
from django.conf import settings
from django.db import transaction
from django.utils import timezone

from apps.accounts.models import Token
from apps.accounts.scopes import SCOPES
from apps.accounts.services import token_create
from apps.events.feed import cursor_of, positions_of
from apps.events.models import Event, EventSequence
from apps.events.services import event_record, events_at_the_end
from apps.groups.changes import SCOPE_OF_THING
from apps.groups.models import Group, Membership
from tests.conftest import Speaker, pointers


def happen(group: Group, kind: str = "candidate.changed", **facts) -> Event:
    facts.setdefault("thing", kind.partition(".")[0])
    facts.setdefault("thing_id", uuid.uuid4())
    with transaction.atomic():
        return event_record(group_id=group.id, kind=kind, **facts)


def ask(who: Speaker, cursor: str = "", **parameters) -> dict:
    query = "&".join(f"{name}={value}" for name, value in parameters.items())
    since = f"since={cursor}&" if cursor else ""
    answer = who.get(f"/changes?{since}{query}")
    assert answer.status_code == 200, answer.content
    return answer.json()


def walk(who: Speaker, cursor: str, **parameters) -> tuple[list[dict], str]:
    """All changes after the cursor, page by page."""
    found, more = [], True
    while more:
        answer = ask(who, cursor, **parameters)
        found += answer["results"]
        cursor, more = answer["cursor"], answer["more"]
    return found, cursor


def kinds(changes: list[dict]) -> list[str]:
    return [change["kind"] for change in changes]


def test_it_works(cast):
    cursor = ask(cast.ben)["cursor"]
    brief = {"currency": "USD", "budget": {"amount": "40000.00", "currency": "USD"}}
    listed = cast.ola.post(f"/groups/{cast.group.id}/lists", {"name": "Spring", "brief": brief})
    answer = ask(cast.ben, cursor)
    assert not answer["more"]
    (change,) = answer["results"]
    assert change == {
        "kind": "list.created",
        "group": str(cast.group.id),
        "number": 1,
        "thing": "list",
        "thing_id": listed.json()["id"],
        "thing_version": 1,
        "deleted": False,
        "by": str(cast.ola.person.id),
        "at": change["at"],
        "facts": {},
    }
    assert ask(cast.ben, answer["cursor"]) == {
        "results": [],
        "cursor": answer["cursor"],
        "more": False,
    }


def test_at_first_each_group_shows_as_access_gained(cast):
    happen(cast.group)
    answer = ask(cast.ben)
    (change,) = answer["results"]
    assert (change["kind"], change["thing_id"]) == ("access.gained", str(cast.group.id))
    assert positions_of(answer["cursor"]) == {cast.group.id: 1}
    # What happens after the answer follows, though the group is read only afterwards.
    happen(cast.group, "quote.added")
    assert kinds(ask(cast.ben, answer["cursor"])["results"]) == ["quote.added"]


def test_nobody_else_s_group_shows(cast):
    start = [(who, ask(who)["cursor"]) for who in (cast.wim, cast.sten)]
    happen(cast.group)
    for who, cursor in start:
        assert ask(who, cursor)["results"] == []
    # Neither does an invented cursor, or another person's, open it.
    stolen = ask(cast.sten, cursor_of({cast.group.id: 0}))
    assert kinds(stolen["results"]) == ["access.lost"]
    assert str(cast.group.id) == stolen["results"][0]["thing_id"]
    assert positions_of(stolen["cursor"]) == {}


def test_deletions_show(cast):
    cursor = ask(cast.ben)["cursor"]
    gone = uuid.uuid4()
    happen(cast.group, "want.withdrawn", thing_id=gone, thing_version=3, deleted=True)
    (change,) = ask(cast.ben, cursor)["results"]
    assert (change["deleted"], change["thing_id"], change["thing_version"]) == (True, str(gone), 3)


def test_what_is_one_person_s_alone_shows_to_nobody_else(cast):
    start = ask(cast.ben)["cursor"]
    happen(cast.group, "worth.given", only_for=cast.ben.person.id)
    happen(cast.group, "quote.added")
    happen(cast.group, "worth.withdrawn", only_for=cast.ben.person.id, deleted=True)
    bens, _ = walk(cast.ben, start)
    beas, cursor = walk(cast.bea, start)
    assert kinds(bens) == ["worth.given", "quote.added", "worth.withdrawn"]
    assert kinds(beas) == ["quote.added"]
    # It is skipped for ever, so that it can be deleted without making her cursor too old.
    assert positions_of(cursor) == {cast.group.id: 3}


@pytest.mark.parametrize("limit", [1, 2, 3, 50])
def test_pages_hold_each_change_once_in_order(cast, limit):
    second = Group.objects.create(name="Plover")
    Membership.objects.create(group=second, person=cast.ben.person, role="buyer")
    _, cursor = walk(cast.ben, "", limit=limit)
    groups = [cast.group, second]
    written = [happen(groups[n % 3 == 0], facts={"n": n}) for n in range(11)]
    happen(second, only_for=cast.bea.person.id)
    read, last = walk(cast.ben, cursor, limit=limit)
    for group in groups:
        assert [change["facts"]["n"] for change in read if change["group"] == str(group.id)] == [
            event.facts["n"] for event in written if event.group == group.id
        ]
    assert len(read) == len(written)
    # Bea's own, unseen by Ben, is behind his cursor too.
    sequences = dict(EventSequence.objects.values_list("group", "last"))
    assert positions_of(last) == {group.id: sequences[group.id] for group in groups}


def test_no_page_is_longer_than_asked_for(cast):
    for name in ("Plover", "Dunlin", "Knot"):
        cast.ben.post("/groups", {"name": name})
    answer, seen = ask(cast.ben, limit=2), []
    while answer["more"]:
        assert len(answer["results"]) <= 2
        seen += answer["results"]
        answer = ask(cast.ben, answer["cursor"], limit=2)
    seen += answer["results"]
    assert kinds(seen) == ["access.gained"] * 4
    assert len({change["group"] for change in seen}) == 4


def test_joining_shows_as_access_gained(cast):
    cursor = ask(cast.sten)["cursor"]
    happen(cast.group)
    Membership.objects.create(
        group=cast.group, person=cast.sten.person, role="observer", buys=False
    )
    answer = ask(cast.sten, cursor)
    assert kinds(answer["results"]) == ["access.gained"]
    happen(cast.group, "viewing.added")
    assert kinds(ask(cast.sten, answer["cursor"])["results"]) == ["viewing.added"]


def test_leaving_shows_as_access_lost_and_ends_the_changes(cast):
    cursor = ask(cast.bea)["cursor"]
    happen(cast.group)
    assert cast.bea.change("DELETE", f"/members/{cast.membership(cast.bea).id}").status_code == 204
    happen(cast.group)
    answer = ask(cast.bea, cursor)
    (change,) = answer["results"]
    assert (change["kind"], change["deleted"]) == ("access.lost", True)
    assert change["thing_id"] == str(cast.group.id)
    assert ask(cast.bea, answer["cursor"])["results"] == []
    assert kinds(ask(cast.ola, cursor)["results"]) == [
        "candidate.changed",
        "member.left",
        "candidate.changed",
    ]


def test_who_left_and_came_back_misses_nothing(cast):
    cursor = ask(cast.bea)["cursor"]
    cast.bea.change("DELETE", f"/members/{cast.membership(cast.bea).id}")
    happen(cast.group, "quote.added")
    Membership.objects.create(group=cast.group, person=cast.bea.person, role="buyer")
    assert kinds(ask(cast.bea, cursor)["results"]) == ["member.left", "quote.added"]


def test_a_cursor_too_old_is_gone(cast):
    cursor = ask(cast.ben)["cursor"]
    for _ in range(3):
        happen(cast.group)
    after_two = cursor_of({cast.group.id: 2})
    EventSequence.objects.filter(group=cast.group.id).update(pruned=2)
    refused = cast.ben.get(f"/changes?since={cursor}")
    assert (refused.status_code, refused.json()["code"]) == (410, "cursor_too_old")
    assert len(ask(cast.ben, after_two)["results"]) == 1


def test_a_cursor_from_before_older_data_was_put_back_is_gone(cast):
    happen(cast.group)
    assert cast.ben.get(f"/changes?since={cursor_of({cast.group.id: 9})}").status_code == 410


@pytest.mark.parametrize("cursor", ["!", "abc", "AQ==x", "AgAA", "A" * 30, "é"])
def test_a_cursor_that_was_never_given_is_refused(cast, cursor):
    assert pointers(cast.ben.get(f"/changes?since={cursor}")) == {"?since"}


def test_cursors_are_read_back():
    positions = {uuid.uuid4(): 0, uuid.uuid4(): 2**40}
    assert positions_of(cursor_of(positions)) == positions
    assert positions_of(cursor_of({})) == {}


@pytest.mark.parametrize("query", ["limit=0", "limit=201", "limit=x", "before=1"])
def test_bad_parameters_are_named(cast, query):
    assert pointers(cast.ben.get(f"/changes?{query}")) == {f"?{query.partition('=')[0]}"}


def test_a_stranger_is_asked_to_sign_in(cast):
    assert cast.nobody.get("/changes").status_code == 401


def test_a_limited_token_is_told_only_of_what_it_may_read(cast):
    _, secret = token_create(
        person=cast.ben.person,
        kind=Token.Kind.PERSONAL,
        scopes=["lists:read", "results:read"],
        expires_at=timezone.now() + timedelta(days=1),
    )
    script = Speaker(cast.ben.person, secret)
    cursor = ask(script)["cursor"]
    for kind in ("submission.submitted", "want.added", "list.changed", "unheard_of.added"):
        happen(cast.group, kind)
    assert kinds(ask(script, cursor)["results"]) == ["list.changed"]
    assert len(ask(cast.ben, cursor)["results"]) == 4


def test_every_kind_of_record_that_is_told_of_has_its_scope():
    """Each way in which the apps' code names the thing of an event."""
    source = "".join(path.read_text() for path in (settings.BASE_DIR / "apps").rglob("*.py"))
    named = (
        re.findall(r'\bthing ?= ?"(\w+)"', source)
        + re.findall(r'\b_?record_event\(\s*"(\w+)\.', source)
        + re.findall(r'_?record_event\([^"]*"\w+\.[\w.]+", "(\w+)"', source)
    )
    assert {"submission", "valuation", "membership", "quote"} <= set(named) <= SCOPE_OF_THING.keys()
    assert set(SCOPE_OF_THING.values()) <= SCOPES.keys()


def test_the_queries_do_not_grow(cast, django_assert_num_queries):
    cursor = ask(cast.ben)["cursor"]
    happen(cast.group)
    with django_assert_num_queries(4):  # the token, memberships, clocks, events
        ask(cast.ben, cursor)
    for name in ("Plover", "Dunlin", "Knot"):
        cast.ben.post("/groups", {"name": name})
    _, cursor = walk(cast.ben, cursor)
    for membership in Membership.objects.filter(person=cast.ben.person):
        for _ in range(20):
            happen(membership.group)
    with django_assert_num_queries(4):
        assert len(ask(cast.ben, cursor)["results"]) == 80


def test_events_of_a_block_are_written_when_it_ends(cast):
    """Group by group, each in the order in which things happened; none if the block fails."""

    def record(group, kind):
        event_record(group_id=group.pk, kind=kind, thing="list", thing_id=group.pk)

    def fail():
        record(cast.group, "c")
        raise LookupError

    groups = (cast.group, cast.other_group)
    with transaction.atomic():
        with events_at_the_end():
            for kind in ("a", "b"):
                for group in groups:
                    record(group, kind)
            assert not Event.objects.exists()
        with pytest.raises(LookupError), events_at_the_end():
            fail()
        record(cast.group, "d")
    for group, kinds in zip(groups, ("abd", "ab"), strict=True):
        found = Event.objects.filter(group=group.pk).values_list("number", "kind")
        assert list(found) == list(enumerate(kinds, start=1))
