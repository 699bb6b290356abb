"""Members' ballots, and who sees them when."""

import pytest
from uuid_utils.compat import uuid7

from apps.boats.models import Ballot
from apps.events.models import Event
from tests.boats.conftest import add_boat, events, queries_of, revision
from tests.conftest import pointers


@pytest.fixture
def boats(cast, list_id) -> list[str]:
    return [add_boat(cast, list_id, name=name) for name in ("Plover", "Ruff", "Knot", "Dunlin")]


@pytest.fixture
def path(list_id) -> str:
    return f"/lists/{list_id}/ballot"


def give(cast, who, path, *ranks, **headers):
    return getattr(cast, who).put(path, {"ranks": list(ranks)}, **headers)


def test_it_works(cast, list_id, boats, path):
    before = revision(list_id)
    ranks = [[boats[2]], [boats[0], boats[1]]]  # Dunlin is left out
    made = give(cast, "ben", path, *ranks)
    assert made.status_code == 201, made.content
    assert made.json()["ranks"] == ranks
    assert made.json()["person"]["name"] == "Ben"
    read = cast.ben.get(path)
    assert read.json() == made.json()
    assert read["ETag"] == made["ETag"]
    assert revision(list_id) == before + 1
    assert events(cast.group.id)[-1] == "ballot.given"


def test_another_one_takes_its_place(cast, boats, path):
    give(cast, "ben", path, [boats[0]])
    changed = cast.ben.change("PUT", path, {"ranks": [[boats[1]]]})
    assert changed.status_code == 200
    assert Ballot.objects.get().ranks == [[boats[1]]]


def test_withdraw(cast, list_id, boats, path):
    give(cast, "ben", path, [boats[0]])
    before = revision(list_id)
    assert cast.ben.change("DELETE", path).status_code == 204
    assert cast.ben.get(path).status_code == 404
    assert cast.ben.delete(path).status_code == 404
    assert revision(list_id) == before + 1


def seen_by(cast, who, list_id):
    answer = getattr(cast, who).get(f"/lists/{list_id}/ballots").json()
    return [row["person"]["name"] for row in answer["results"]], answer["hidden"]


def test_others_are_hidden_until_own_is_given_or_opened(cast, list_id, boats, path):
    give(cast, "ben", path, [boats[0]])
    assert seen_by(cast, "bea", list_id) == ([], 1)
    give(cast, "bea", path, [boats[1]])
    assert seen_by(cast, "bea", list_id) == (["Ben", "Bea"], 0)
    assert seen_by(cast, "ivy", list_id) == ([], 2)
    cast.ola.change("PATCH", f"/lists/{list_id}", {"opinions_open": True})
    assert seen_by(cast, "ivy", list_id) == (["Ben", "Bea"], 0)


def test_the_event_is_its_owners_alone(cast, boats, path):
    give(cast, "ben", path, [boats[0]])
    assert Event.objects.get(kind="ballot.given").only_for == cast.ben.person.pk


def test_versions(cast, boats, path):
    first = give(cast, "ben", path, [boats[0]], If_None_Match="*")
    assert first.status_code == 201
    assert give(cast, "ben", path, [boats[1]]).status_code == 428
    assert give(cast, "ben", path, [boats[1]], If_None_Match="*").status_code == 412
    assert give(cast, "ben", path, [boats[1]], If_Match=first["ETag"]).status_code == 200
    assert give(cast, "ben", path, [boats[2]], If_Match=first["ETag"]).status_code == 412
    assert cast.ben.delete(path).status_code == 428
    assert Ballot.objects.get().ranks == [[boats[1]]]


def test_bad_fields_are_named(cast, boats, path):
    unknown = str(uuid7())
    assert pointers(give(cast, "ben", path, [boats[0]], [unknown])) == {"/ranks/1/0"}
    assert pointers(give(cast, "ben", path, [boats[0]], [boats[1], boats[0]])) == {"/ranks/1/1"}
    assert pointers(give(cast, "ben", path, [boats[0]], [])) == {"/ranks/1"}
    assert pointers(give(cast, "ben", path, ["Plover"])) == {"/ranks/0/0"}
    assert pointers(cast.ben.put(path, {})) == {"/ranks"}
    assert not Ballot.objects.exists()


def test_a_candidate_of_another_list(cast, foreign_list_id, path):
    other = cast.wim.post(f"/lists/{foreign_list_id}/candidates", {"name": "Skua"}).json()["id"]
    assert pointers(give(cast, "ben", path, [other])) == {"/ranks/0/0"}


def test_it_does_not_exist_for_strangers(cast, list_id, boats, path):
    for stranger in ("sten", "wim"):
        assert give(cast, stranger, path, [boats[0]]).status_code == 404
        assert getattr(cast, stranger).get(path).status_code == 404
        assert getattr(cast, stranger).get(f"/lists/{list_id}/ballots").status_code == 404


@pytest.mark.parametrize("who", ["ivy", "hal"])
def test_only_who_buys_votes(cast, boats, path, who):
    assert give(cast, who, path, [boats[0]]).status_code == 403


def test_constant_queries(cast, list_id, boats, path):
    rows = f"/lists/{list_id}/ballots"
    give(cast, "ben", path, [boats[0]])
    one = queries_of(lambda: cast.ben.get(rows))
    give(cast, "bea", path, [boats[1]])
    give(cast, "ola", path, [boats[2]])
    assert queries_of(lambda: cast.ben.get(rows)) == one == 4  # token, list, given?, ballots
