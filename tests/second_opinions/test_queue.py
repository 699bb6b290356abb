"""The club's queue: its order, and how little it shows of a request."""

import json
from datetime import date
from decimal import Decimal

import pytest
from geographiclib.geodesic import Geodesic

from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.second_opinions.models import SecondOpinionRequest
from apps.second_opinions.places import distance_km, rough
from apps.second_opinions.queue import coarse
from tests.boats.conftest import queries_of
from tests.conftest import pointers
from tests.second_opinions.conftest import QUESTION, value_known


def ids(rows) -> list[str]:
    return [row["id"] for row in rows]


def test_it_tells_what_is_needed_to_choose_and_no_more(asking):
    value_known(asking.scene.heron, "1234.00")
    request = asking.asked(wanted_by="2099-05-01", checkpoints=[])
    (row,) = asking.seen_by(asking.abe, "?latitude=54&longitude=10")
    created = row.pop("created_at")
    assert created
    assert row == {
        "id": request,
        "question": QUESTION,
        "checkpoints": [],
        "wanted_by": "2099-05-01",
        "loa_m": 10,
        "hull_material": None,
        "keel": "bolted_fin",
        "yard": {"id": str(asking.yard.pk), "name": "North Quay"},
        "place": {"latitude": 54.1, "longitude": 10.2},
        "distance_km": 17,
        "value": {"amount": "1200.00", "currency": "EUR"},
        "value_compared": {"amount": "1200.00", "currency": "EUR"},
        "offered_to_you": False,
        "offered_to": None,
        "suggested": None,
    }
    said = json.dumps(row)
    for kept in (
        "Heron",
        "Ben",
        "Tern",
        str(asking.scene.heron.pk),
        str(asking.cast.group.pk),
    ):
        assert kept not in said


def test_a_groups_own_words_for_the_place_are_kept(asking):
    Candidate.objects.filter(pk=asking.scene.heron.pk).update(
        at_yard=None, yard="Behind Anna's shed", latitude=54.123, longitude=10.234
    )
    asking.asked()
    (row,) = asking.seen_by(asking.abe)
    assert (row["yard"], row["place"]) == (None, {"latitude": 54.1, "longitude": 10.2})


def test_distances_do_not_give_the_exact_place_away(asking):
    """From several points exact distances would: they are taken from the rough place."""
    asking.asked()
    for latitude, longitude in ((54.0, 10.0), (54.2, 10.3), (53.9, 9.7)):
        (row,) = asking.seen_by(asking.abe, f"?latitude={latitude}&longitude={longitude}")
        shown = row["place"]
        from_rough = distance_km((latitude, longitude), (shown["latitude"], shown["longitude"]))
        assert row["distance_km"] == round(from_rough)


def three(asking) -> dict[str, str]:
    """Requests of three groups: Heron in euro, Gannet's in dollars, Plover's in crowns."""
    gannet = asking.another_group("Gannet", asking.cast.sten, currency="USD")
    plover = asking.another_group("Plover", asking.cast.wim, currency="SEK")
    Candidate.objects.filter(pk=gannet.pk).update(latitude=59.3, longitude=18.1)
    Candidate.objects.filter(pk=plover.pk).update(latitude=55.7, longitude=12.6)
    value_known(asking.scene.heron, "500.00")
    value_known(gannet, "600.00")
    value_known(plover, "9000.00")
    return {
        "heron": asking.asked(wanted_by="2099-03-01"),
        "gannet": asking.asked(asking.cast.sten, gannet, wanted_by="2099-01-01"),
        "plover": asking.asked(asking.cast.wim, plover),
    }


def test_by_value_each_group_at_its_own_rate(asking):
    asked = three(asking)
    asking.sef.change(
        "PATCH", f"/clubs/{asking.club.id}/second-opinion-settings", {"currency": "EUR"}
    )
    # One euro is 1.10 dollars in Gannet's brief; Plover's gives no rate for the euro.
    CandidateList.objects.filter(currency="USD").update(exchange_rates={"EUR": "1.10"})
    rows = asking.seen_by(asking.abe)
    assert ids(rows) == [asked["gannet"], asked["heron"], asked["plover"]]
    assert [row["value_compared"] and row["value_compared"]["amount"] for row in rows] == [
        "550.00",
        "500.00",
        None,
    ]
    assert rows[2]["value"] == {"amount": "9000.00", "currency": "SEK"}
    # Eleven crowns to the euro: 818 euro, the most.
    CandidateList.objects.filter(currency="SEK").update(exchange_rates={"EUR": "11"})
    assert ids(asking.seen_by(asking.abe))[0] == asked["plover"]


def test_by_date_and_by_place(asking):
    asked = three(asking)
    by_date = ids(asking.seen_by(asking.abe, "?order=date"))
    assert by_date == [asked["gannet"], asked["heron"], asked["plover"]]
    by_place = ids(asking.seen_by(asking.abe, "?order=place&latitude=55.6&longitude=12.5"))
    assert by_place == [asked["plover"], asked["heron"], asked["gannet"]]
    assert pointers(asking.abe.get(f"{asking.queue}?order=place")) == {"?latitude"}
    assert pointers(asking.abe.get(f"{asking.queue}?latitude=5")) == {"?longitude"}
    assert pointers(asking.abe.get(f"{asking.queue}?latitude=nan&longitude=5")) == {"?latitude"}
    assert pointers(asking.abe.get(f"{asking.queue}?order=size")) == {"?order"}


def test_a_look_at_single_checks_is_worth_the_best_of_them(asking):
    value_known(asking.scene.heron, "500.00", joint="70.00", mainsail="20.00")
    asking.asked(checkpoints=["joint", "mainsail"])
    asking.asked(checkpoints=["terminals"])
    rows = asking.seen_by(asking.abe)
    assert [row["value"]["amount"] for row in rows] == ["70.00", "0.00"]


@pytest.mark.parametrize("order", ["value", "date", "place"])
def test_pages_miss_nothing_that_others_take_on_meanwhile(asking, order):
    asked = set(three(asking).values())
    query = f"?order={order}&latitude=55&longitude=12&limit=1"
    seen = []
    while query:
        page = asking.abe.get(f"{asking.queue}{query}").json()
        (row,) = page["results"]
        seen.append(row["id"])
        asking.assignment(asking.amy, row["id"])  # what the cursor stands on is gone
        query = page["next"] and "?" + page["next"].partition("?")[2]
    assert len(seen) == 3
    assert set(seen) == asked


@pytest.mark.parametrize("cursor", ["x", "WyJkYXRlIiwgW11d", "W10", "WyJkYXRlIiwgWzEsIDJdXQ"])
def test_a_cursor_made_elsewhere_is_refused(asking, cursor):
    asking.asked()
    refused = asking.abe.get(f"{asking.queue}?order=date&cursor={cursor}")
    assert pointers(refused) == {"?cursor"}


def test_who_sees_it(asking):
    asking.asked()
    assert asking.cast.nobody.get(asking.queue).status_code == 401
    assert asking.cast.sten.get(asking.queue).status_code == 404
    assert asking.mo.get(asking.queue).status_code == 403
    assert asking.abe.get(f"{asking.queue}?whole=true").status_code == 403
    assert len(asking.seen_by(asking.sef)) == 1


def test_the_secretary_sees_all_that_waits(asking):
    request = asking.asked()
    asking.sef.post(
        f"/second-opinion-queue/{request}/offers", {"adviser": str(asking.amy.person.pk)}
    )
    assert asking.seen_by(asking.sef) == []
    (row,) = asking.seen_by(asking.sef, "?whole=true")
    assert (row["offered_to"]["name"], row["suggested"]) == ("Amy", None)


def test_settled_boats_wait_for_nobody(asking):
    asking.asked()
    Candidate.objects.filter(pk=asking.scene.heron.pk).update(
        stage="struck_off", stage_reason="Too far"
    )
    assert asking.seen_by(asking.abe) == []


def test_constant_queries(asking):
    def queries():
        return [
            queries_of(lambda path=path: asking.sef.get(path))
            for path in (asking.queue, f"{asking.queue}?whole=true")
        ]

    asking.asked()
    few = queries()
    for n in range(8):
        boat = asking.another_group(f"Group {n}", asking.cast.sten)
        value_known(boat, "10.00")
        asking.asked(asking.cast.sten, boat)
    assert queries() == few
    assert len(asking.seen_by(asking.sef)) == 9


# --- Figures -------------------------------------------------------------------------------------


def test_distances_are_those_of_published_geodesics():
    """40.6N 73.8W to 51.6N 0.5W, 5551759.400 m on WGS 84: the example of an inverse geodesic in the
    documentation of GeographicLib (Karney 2013, Algorithms for geodesics); from memory."""
    assert distance_km((40.6, -73.8), (51.6, -0.5)) == pytest.approx(5551.759, abs=0.001)


def test_a_degree_along_the_equator_and_the_quarter_meridian():
    """The equator's radius of WGS 84 is 6378137 m; its quarter meridian is 10001965.729 m
    (from memory; the same to the millimetre as what the library's ellipsoid gives)."""
    assert distance_km((0, 0), (0, 1)) == pytest.approx(6378.137 * 3.141592653589793 / 180)
    assert distance_km((0, 0), (90, 0)) == pytest.approx(10001.965729, abs=1e-5)
    assert Geodesic.WGS84.a == 6378137


@pytest.mark.parametrize(
    ("amount", "told"),
    [
        ("0", "0"),
        ("-3", "0"),
        ("1234", "1200"),
        ("1250", "1200"),
        ("99.6", "100"),
        ("0.456", "0.46"),
    ],
)
def test_values_are_given_to_two_figures(amount, told):
    assert coarse(Decimal(amount)) == Decimal(told)


def test_a_place_is_told_to_a_tenth_of_a_degree():
    assert rough(None) is None
    place = rough((54.17, -10.26))
    assert (place.latitude, place.longitude) == (54.2, -10.3)


def test_what_has_no_date_comes_last(asking):
    asking.asked(question="When you like")
    asking.asked(question="Soon", wanted_by=date(2099, 1, 1))
    rows = asking.seen_by(asking.abe, "?order=date")
    assert [row["question"] for row in rows] == ["Soon", "When you like"]
    assert SecondOpinionRequest.objects.count() == 2
