"""What an adviser finds counts in the group's results like a member's, under their name."""

from apps.appraisal.looks.look_values import look_values
from apps.groups.models import Club, ClubMembership, Group
from tests.appraisal.conftest import _few_draws, spring, yard  # noqa: F401
from tests.conftest import speaker


def test_an_adviser_is_one_who_sees_in_their_own_way(spring, cast):  # noqa: F811
    club = Club.objects.create(name="Estuary Club")
    Group.objects.filter(pk=cast.group.pk).update(club=club)
    abe = speaker("Abe")
    ClubMembership.objects.create(club=club, person=abe.person, role="adviser")
    question = {"question": "How bad is the keel joint?", "checkpoints": ["keel-joint-line"]}
    asked = cast.ben.post(f"/candidates/{spring.fulmar.pk}/second-opinion-requests", question)
    assert asked.status_code == 201, asked.content
    (row,) = abe.get(f"/clubs/{club.pk}/second-opinion-queue").json()["results"]
    # The highest value of the checks asked about, from the list's stored looks.
    value = look_values([spring.fulmar.pk])[spring.fulmar.pk]
    assert float(row["value"]["amount"]) == float(f"{float(value.of(['keel-joint-line'])):.1e}")
    taken = abe.post(f"/second-opinion-queue/{row['id']}/assignments").json()
    assignment = f"/assignments/{taken['id']}"
    abe.put(f"{assignment}/visit", {"starts_at": "2025-03-08T10:00:00Z"})
    findings = [{"checkpoint": "keel-joint-line", "kind": "looked", "level": 3}]
    sent = abe.post(f"{assignment}/submissions", {"state": "submitted", "findings": findings})
    assert sent.status_code == 201, sent.content
    spring.yard.list.refresh_from_db()
    spring.yard.recompute()
    raters = cast.ola.get(f"{spring.path}/raters").json()["raters"]
    assert "Abe" in {one["name"] for one in raters}
    said = cast.ola.get(f"/candidates/{spring.fulmar.pk}/consensus").content.decode()
    assert "somebody" not in said.lower()
