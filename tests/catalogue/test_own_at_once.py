"""Simultaneous changes of one club's catalogue, on a database with several writers."""

from apps.catalogue.models import CatalogueChange
from apps.catalogue.selectors import club_snapshot
from tests.catalogue.own import WARM
from tests.together import SEVERAL_WRITERS, statuses_at_once

pytestmark = SEVERAL_WRITERS


def test_each_change_begins_an_edition_of_its_own(waters):
    def adding(n: int):
        who = (waters.sue, waters.adam)[n % 2]
        path = f"{waters.of_club}/checkpoints/club-{n}"
        return lambda: who.put(path, {"own": {**WARM, "title": f"Worm {n}"}})

    assert statuses_at_once(*map(adding, range(5))) == [201] * 5
    numbers = CatalogueChange.objects.order_by("number").values_list("number", flat=True)
    assert list(numbers) == [1, 2, 3, 4, 5]
    snapshot = club_snapshot(waters.club.pk)
    assert snapshot.club_edition == 5
    assert {f"club-{n}" for n in range(5)} <= snapshot.catalogue.checkpoints.keys()


def test_of_two_who_change_the_same_thing_one_is_told(waters):
    path = f"{waters.of_club}/remedies/reseal"
    first = waters.sue.put(path, {"own": {"parts": [110, 210, 410]}})

    def changing(who, high: int):
        own = {"parts": [110, 210, high]}
        return lambda: who.put(path, {"own": own}, If_Match=first["ETag"])

    answers = statuses_at_once(changing(waters.sue, 420), changing(waters.adam, 430))
    assert answers == [200, 412]
    assert CatalogueChange.objects.count() == 2
