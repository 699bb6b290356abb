"""What a group settles before it buys a boat."""

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from apps.boats.gates.models import Gate
from apps.boats.models import StageChange
from apps.events.models import Event
from tests.conftest import pointers


@pytest.fixture
def at(boat_id):
    return f"/candidates/{boat_id}/gates"


def bought(who, boat_id, reason=""):
    body = {"stage": "bought", "reason": reason}
    return who.post(f"/candidates/{boat_id}/stage-changes", body)


def test_it_works(cast, boat_id, at):
    made = cast.ben.put(f"{at}/debts", {"due_on": "2025-05-01", "note": "Ask in May"})
    assert made.status_code == 201, made.content
    said = made.json()
    assert (said["needed"], said["settled"], said["changed_by"]["name"]) == (True, False, "Ben")
    listed = cast.ivy.get(at).json()
    assert "law of the place of sale governs" in listed["local_law"]
    by_code = {one["code"]: one["gate"] for one in listed["gates"]}
    assert by_code["debts"] == said
    assert by_code["title"] is None
    assert all("place of sale governs" in one["local_law"] for one in listed["gates"])
    assert Event.objects.latest("number").kind == "candidate.gate_changed"


def test_the_place_of_sale_says_which_apply(cast, boat_id, at):
    def codes(country):
        answer = cast.ben.get(f"{at}?sold_in={country}" if country else at)
        return {one["code"] for one in answer.json()["gates"]}

    assert {"tax", "conformity"} < codes("DE")
    assert "sales_tax" not in codes("DE")
    assert "sales_tax" in codes("US")
    assert "tax" not in codes("US")
    assert codes("DE") | codes("US") <= codes("")
    # The group's answer to one is shown with the boat, whatever her country.
    cast.ben.put(f"{at}/tax", {"note": "Paid in 1991"})
    assert "tax" in codes("US")
    assert pointers(cast.ben.get(f"{at}?sold_in=QQ")) == {"?sold_in"}


def test_she_is_not_bought_while_a_needed_one_is_open(cast, boat_id, at):
    cast.ben.put(f"{at}/debts", {})
    cast.ben.put(f"{at}/radio", {"needed": False})
    refused = bought(cast.ben, boat_id, "We trust him")
    assert (refused.status_code, refused.json()["code"]) == (409, "gates_open")
    assert "Debts on her" in refused.json()["detail"]
    assert not StageChange.objects.filter(to_stage="bought").exists()
    settled = {"settled": True, "checked_by": "the registry", "document": "Extract of 12 May"}
    assert cast.bea.change("PUT", f"{at}/debts", settled).status_code == 200
    assert bought(cast.ben, boat_id).status_code == 201


def test_an_organiser_goes_on_with_a_reason_on_record(cast, boat_id, at):
    cast.ben.put(f"{at}/debts", {})
    assert pointers(bought(cast.ola, boat_id)) == {"/reason"}
    assert bought(cast.ola, boat_id, "The extract comes on Monday").status_code == 201
    assert StageChange.objects.get(to_stage="bought").reason == "The extract comes on Monday"


def test_settled_says_by_whom(cast, boat_id, at):
    assert pointers(cast.ben.put(f"{at}/debts", {"settled": True})) == {"/checked_by"}
    assert not Gate.objects.exists()
    with pytest.raises(IntegrityError), transaction.atomic():
        Gate.objects.create(
            candidate_id=boat_id, code="debts", settled=True, changed_by=cast.ben.person
        )


def test_who_may_and_the_stale_edit(cast, boat_id, at):
    assert cast.ben.put(f"{at}/debts", {}).status_code == 201
    held = cast.ben.get(f"{at}/debts")["ETag"]
    assert cast.ben.put(f"{at}/debts", {"note": "x"}).status_code == 428
    assert cast.ben.put(f"{at}/debts", {"note": "x"}, If_Match=held).status_code == 200
    assert cast.bea.put(f"{at}/debts", {"note": "y"}, If_Match=held).status_code == 412
    for who, status in (
        (cast.ivy, 403),
        (cast.hal, 403),
        (cast.wim, 404),
        (cast.nobody, 401),
    ):
        assert who.put(f"{at}/title", {}).status_code == status
    assert cast.ben.put(f"{at}/nonsense", {}).status_code == 404
    assert cast.ben.get(f"{at}/title").status_code == 404


def test_reading_takes_as_many_queries_for_one_as_for_many(cast, boat_id, at):
    taken = []
    for code in ("debts", "title", "tax"):
        cast.ben.put(f"{at}/{code}", {})
        cast.ben.get(at)
        with CaptureQueriesContext(connection) as queries:
            cast.ben.get(at)
        taken.append(len(queries))
    assert len(set(taken)) == 1
