"""The operator sees what is told, not what it rests on, and changes nothing."""

from apps.memory.models import GroupMemory, MemoryFigure
from apps.purchase.models import Bill
from tests.memory.building import CODE
from tests.viewings.test_admin import operator  # noqa: F401


def test_it_works(harbour, operator):  # noqa: F811
    for group in harbour.groups:
        group.surveyed(3, bill=900)
    harbour.remembered()
    counts = {
        "memory/clubmemory": 1,
        "memory/memoryfigure": MemoryFigure.objects.count(),
        "memory/groupmemory": 5,
        "purchase/bill": Bill.objects.count(),
    }
    for name, count in counts.items():
        answer = operator.get(f"/admin/{name}/")
        assert answer.status_code == 200
        assert answer.context["cl"].result_count == count, name
    memory = GroupMemory.objects.first()
    at = f"/admin/memory/groupmemory/{memory.pk}/change/"
    assert CODE not in operator.get(at).content.decode()
    assert operator.post(at, {"groups": 99}).status_code == 403
    assert operator.get("/admin/memory/memorytable/").status_code == 404
