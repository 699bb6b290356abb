"""The admin pages open, and changes there have the same effects as a member's."""

import pytest
from django.urls import reverse

from apps.accounts.models import Person
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.events.models import Event
from tests.boats.conftest import revision, usd
from tests.boats.test_wants import FREE


@pytest.fixture
def operator(client, db):
    client.force_login(Person.objects.create_superuser("op@example.org", "x", name="Op"))
    return client


@pytest.fixture
def full(cast, list_id, boat_id):
    cast.ben.post(f"/lists/{list_id}/wants", FREE)
    cast.ben.put(f"/candidates/{boat_id}/valuation", {"valuation": usd("30000.00")})
    cast.ben.put(f"/lists/{list_id}/ballot", {"ranks": [[boat_id]]})
    cast.ben.post(f"/candidates/{boat_id}/stage-changes", {"stage": "viewing"})
    cast.ben.post(f"/candidates/{boat_id}/prices", {"asking": usd("20000.00")})


@pytest.mark.parametrize("model", ["candidatelist", "candidate", "want", "valuation", "ballot"])
def test_pages_open(operator, full, model):
    listing = operator.get(reverse(f"admin:boats_{model}_changelist"), {"q": "e"})
    assert listing.status_code == 200
    ids = listing.context["cl"].queryset.values_list("pk", flat=True)
    assert ids
    assert operator.get(reverse(f"admin:boats_{model}_change", args=[ids[0]])).status_code == 200


def filled(page) -> dict[str, str]:
    """The page's form, as a browser would send it back."""
    values = {}
    form = page.context["adminform"].form
    for field in form:
        value = field.value()
        if value is not None and value is not False:
            values[field.html_name] = value
    for inline in page.context["inline_admin_formsets"]:
        for field in inline.formset.management_form:
            values[field.html_name] = field.value()
    return values


def test_a_change_counts_and_is_told(operator, cast, list_id, boat_id):
    before = revision(list_id)
    address = reverse("admin:boats_candidate_change", args=[boat_id])
    sent = {**filled(operator.get(address)), "name": "Golden plover"}
    answer = operator.post(address, sent)
    assert answer.status_code == 302, answer.context["errors"]
    boat = Candidate.objects.get(pk=boat_id)
    assert (boat.name, boat.version) == ("Golden plover", 2)
    assert revision(list_id) == before + 1
    assert Event.objects.filter(kind="candidate.changed", thing_id=boat_id).exists()


def test_the_database_refuses_nonsense_there_too(operator, boat_id):
    address = reverse("admin:boats_candidate_change", args=[boat_id])
    sent = {**filled(operator.get(address)), "lwl_m": "12"}
    answer = operator.post(address, sent)
    assert answer.status_code == 200
    assert "candidate_lwl_at_most_loa" in str(answer.context["errors"])


def test_a_deletion_counts_and_is_told(operator, cast, list_id, boat_id):
    before = revision(list_id)
    address = reverse("admin:boats_candidate_delete", args=[boat_id])
    assert operator.post(address, {"post": "yes"}).status_code == 302
    assert not Candidate.objects.exists()
    assert revision(list_id) == before + 1
    told = Event.objects.get(kind="candidate.deleted", deleted=True)
    assert str(told.thing_id) == boat_id


def test_a_whole_list_can_go(operator, cast, full, list_id):
    address = reverse("admin:boats_candidatelist_delete", args=[list_id])
    assert operator.post(address, {"post": "yes"}).status_code == 302
    assert not CandidateList.objects.exists()
