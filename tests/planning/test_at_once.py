"""Simultaneous changes of one trip, on a database with several writers."""

import pytest

from apps.planning.models import TripStop
from apps.viewings.models import Viewing
from tests.planning.conftest import planned
from tests.together import SEVERAL_WRITERS, at_once

pytestmark = SEVERAL_WRITERS


@pytest.mark.parametrize("turn", range(3))
def test_stops_are_agreed_once(cast, trip_id, turn):
    planned(cast, trip_id)
    path = f"/trips/{trip_id}/viewings"
    for who in (cast.ben, cast.hal):
        who.get("/people/me")  # a token's first use is noted
    answers = at_once(*(lambda who=who: who.post(path) for who in (cast.ben, cast.hal)))
    assert [answer.status_code for answer in answers] == [201, 201]
    stops = TripStop.objects.exclude(viewing=None)
    assert Viewing.objects.count() == stops.count() == 4
