"""Pages by cursor."""

import pytest

from tests.conftest import pointers


@pytest.fixture
def groups(cast):
    for n in range(5):
        cast.sten.post("/groups", {"name": f"Group {n}"})


def walk(who, path):
    names = []
    while path:
        answer = who.get(path.removeprefix("http://testserver")).json()
        names += [row["name"] for row in answer["results"]]
        path = answer["next"]
    return names


def test_pages_hold_each_row_once(cast, groups):
    forward = walk(cast.sten, "/groups?limit=2")
    assert forward == [f"Group {n}" for n in range(5)]
    assert walk(cast.sten, "/groups?limit=2&order=newest") == forward[::-1]


def test_a_row_added_meanwhile_shifts_nothing(cast, groups):
    first = cast.sten.get("/groups?limit=2&order=newest").json()
    cast.sten.post("/groups", {"name": "Late"})
    second = cast.sten.get(first["next"].removeprefix("http://testserver")).json()
    assert [row["name"] for row in second["results"]] == ["Group 2", "Group 1"]


@pytest.mark.parametrize(
    "query", ["cursor=!!", "cursor=abc", "limit=0", "limit=201", "order=random"]
)
def test_bad_parameters_are_named(cast, query):
    assert pointers(cast.sten.get(f"/groups?{query}")) == {f"?{query.split('=')[0]}"}
