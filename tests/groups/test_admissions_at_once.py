"""Several people decide, withdraw and leave at the same moment."""

import pytest

from apps.events.models import Event
from apps.groups.models import AdmissionRequest, Group
from tests.groups.test_admissions import Asking, asking  # noqa: F401
from tests.together import SEVERAL_WRITERS, at_once, statuses_at_once

pytestmark = SEVERAL_WRITERS


def warm(*speakers) -> None:
    for who in speakers:
        who.get("/people/me")  # a token's first use is noted


def test_two_secretaries_decide_once(asking: Asking, cast):  # noqa: F811
    path = asking.asked()
    warm(asking.sef, asking.sue)
    seen = {"If_Match": asking.sef.get(path)["ETag"]}
    codes = statuses_at_once(
        lambda: asking.sef.patch(path, {"state": "accepted"}, **seen),
        lambda: asking.sue.patch(path, {"state": "accepted"}, **seen),
    )
    assert codes == [200, 412]
    assert Event.objects.filter(kind="group.joined_club").count() == 1


@pytest.mark.parametrize("turn", range(4))
def test_accepted_and_withdrawn_at_once(asking: Asking, cast, turn):  # noqa: F811
    """Either is done, and the group is in the club if and only if it was accepted."""
    path = asking.asked()
    warm(asking.sef, cast.ola)
    seen = {"If_Match": asking.sef.get(path)["ETag"]}
    accepted, withdrawn = at_once(
        lambda: asking.sef.patch(path, {"state": "accepted"}, **seen),
        lambda: cast.ola.delete(path, **seen),
    )
    assert sorted((accepted.status_code // 100, withdrawn.status_code // 100)) == [2, 4]
    state = AdmissionRequest.objects.get().state
    assert (asking.club_now() is not None) is (state == "accepted") is (accepted.status_code == 200)


def test_the_group_asks_once(asking: Asking, cast):  # noqa: F811
    warm(cast.ola)
    assert statuses_at_once(*(asking.ask for _ in range(4))) == [201, 409, 409, 409]


def test_left_and_let_go_at_once(asking: Asking, cast):  # noqa: F811
    asking.decide(asking.asked())
    own, clubs = f"/groups/{cast.group.pk}/club", f"/clubs/{asking.club.pk}/groups/{cast.group.pk}"
    seen = {"If_Match": cast.ola.get(own)["ETag"]}
    warm(asking.sef)
    codes = statuses_at_once(
        lambda: cast.ola.delete(own, **seen), lambda: asking.sef.delete(clubs, **seen)
    )
    assert codes[0] == 204
    assert codes[1] in (404, 412)
    assert Event.objects.filter(kind="group.left_club").count() == 1
    assert Group.objects.get(pk=cast.group.pk).club is None


def test_leaving_and_agreeing_at_once(asking: Asking, cast):  # noqa: F811
    """Nothing is agreed with a club that the group is not in."""
    asking.decide(asking.asked())
    group, warmed = f"/groups/{cast.group.pk}", cast.ola.get(f"/groups/{cast.group.pk}")
    seen = {"If_Match": warmed["ETag"]}
    codes = statuses_at_once(
        lambda: cast.ola.delete(f"{group}/club", **seen),
        lambda: cast.ola.patch(group, {"pools_with_club": True}, **seen),
    )
    assert codes in ([200, 412], [204, 412])
    stored = Group.objects.get(pk=cast.group.pk)
    assert stored.pools_with_club is (stored.club is not None)
