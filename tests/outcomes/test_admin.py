"""The admin shows published figures read-only, and not the data behind them."""

from apps.outcomes.models import GroupOutcomes, OutcomesFigure
from apps.purchase.models import Bill
from tests.outcomes.building import CODE
from tests.viewings.test_admin import operator  # noqa: F401


def test_it_works(harbour, operator):  # noqa: F811
    for group in harbour.groups:
        group.surveyed(3, bill=900)
    harbour.experience()
    counts = {
        "outcomes/cluboutcomes": 1,
        "outcomes/outcomesfigure": OutcomesFigure.objects.count(),
        "outcomes/groupoutcomes": 5,
        "purchase/bill": Bill.objects.count(),
    }
    for name, count in counts.items():
        answer = operator.get(f"/admin/{name}/")
        assert answer.status_code == 200
        assert answer.context["cl"].result_count == count, name
    club_outcomes = GroupOutcomes.objects.first()
    at = f"/admin/outcomes/groupoutcomes/{club_outcomes.pk}/change/"
    assert CODE not in operator.get(at).content.decode()
    assert operator.post(at, {"groups": 99}).status_code == 403
    assert operator.get("/admin/outcomes/outcomestable/").status_code == 404
