"""What waits at the desk: in which order, and how little is told before somebody takes it."""

import json
from datetime import date
from decimal import Decimal

import pytest
from geographiclib.geodesic import Geodesic

from apps.boats.models import Candidate, CandidateList
from apps.second_opinions.models import SecondOpinionRequest
from apps.second_opinions.places import distance_km, rough
from apps.second_opinions.queue import coarse
from tests.boats.conftest import queries_of
from tests.conftest import pointers
from tests.second_opinions.conftest import QUESTION, value_known


def ids(rows) -> list[str]:
    return [row["id"] for row in rows]


def test_it_tells_what_is_needed_to_choose_and_no_more(opinion_settings):
    value_known(opinion_settings.scene.heron, "1234.00")
    request = opinion_settings.asked(wanted_by="2099-05-01", checkpoints=[])
    (row,) = opinion_settings.seen_by(opinion_settings.abe, "?latitude=54&longitude=10")
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
        "yard": {"id": str(opinion_settings.yard.pk), "name": "North Quay"},
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
        str(opinion_settings.scene.heron.pk),
        str(opinion_settings.cast.group.pk),
    ):
        assert kept not in said


def test_a_groups_own_words_for_the_place_are_kept(opinion_settings):
    Candidate.objects.filter(pk=opinion_settings.scene.heron.pk).update(
        at_yard=None, yard="Behind Anna's shed", latitude=54.123, longitude=10.234
    )
    opinion_settings.asked()
    (row,) = opinion_settings.seen_by(opinion_settings.abe)
    assert (row["yard"], row["place"]) == (None, {"latitude": 54.1, "longitude": 10.2})


def test_distances_do_not_give_the_exact_place_away(opinion_settings):
    """From several points exact distances would: they are taken from the rough place."""
    opinion_settings.asked()
    for latitude, longitude in ((54.0, 10.0), (54.2, 10.3), (53.9, 9.7)):
        (row,) = opinion_settings.seen_by(
            opinion_settings.abe, f"?latitude={latitude}&longitude={longitude}"
        )
        shown = row["place"]
        from_rough = distance_km((latitude, longitude), (shown["latitude"], shown["longitude"]))
        assert row["distance_km"] == round(from_rough)


def three(opinion_settings) -> dict[str, str]:
    """Requests of three groups: Heron in euro, Gannet's in dollars, Plover's in crowns."""
    gannet = opinion_settings.another_group("Gannet", opinion_settings.cast.sten, currency="USD")
    plover = opinion_settings.another_group("Plover", opinion_settings.cast.wim, currency="SEK")
    Candidate.objects.filter(pk=gannet.pk).update(latitude=59.3, longitude=18.1)
    Candidate.objects.filter(pk=plover.pk).update(latitude=55.7, longitude=12.6)
    value_known(opinion_settings.scene.heron, "500.00")
    value_known(gannet, "600.00")
    value_known(plover, "9000.00")
    return {
        "heron": opinion_settings.asked(wanted_by="2099-03-01"),
        "gannet": opinion_settings.asked(
            opinion_settings.cast.sten, gannet, wanted_by="2099-01-01"
        ),
        "plover": opinion_settings.asked(opinion_settings.cast.wim, plover),
    }


def test_by_worth_each_group_at_its_own_rate(opinion_settings):
    asked = three(opinion_settings)
    opinion_settings.sef.change(
        "PATCH", f"/clubs/{opinion_settings.club.id}/second-opinion-settings", {"currency": "EUR"}
    )
    # One euro is 1.10 dollars in Gannet's brief; Plover's gives no rate for the euro.
    CandidateList.objects.filter(currency="USD").update(exchange_rates={"EUR": "1.10"})
    rows = opinion_settings.seen_by(opinion_settings.abe)
    assert ids(rows) == [asked["gannet"], asked["heron"], asked["plover"]]
    assert [row["value_compared"] and row["value_compared"]["amount"] for row in rows] == [
        "550.00",
        "500.00",
        None,
    ]
    assert rows[2]["value"] == {"amount": "9000.00", "currency": "SEK"}
    # Eleven crowns to the euro: 818 euro, the most.
    CandidateList.objects.filter(currency="SEK").update(exchange_rates={"EUR": "11"})
    assert ids(opinion_settings.seen_by(opinion_settings.abe))[0] == asked["plover"]


def test_by_date_and_by_place(opinion_settings):
    asked = three(opinion_settings)
    by_date = ids(opinion_settings.seen_by(opinion_settings.abe, "?order=date"))
    assert by_date == [asked["gannet"], asked["heron"], asked["plover"]]
    by_place = ids(
        opinion_settings.seen_by(opinion_settings.abe, "?order=place&latitude=55.6&longitude=12.5")
    )
    assert by_place == [asked["plover"], asked["heron"], asked["gannet"]]
    assert pointers(opinion_settings.abe.get(f"{opinion_settings.queue}?order=place")) == {
        "?latitude"
    }
    assert pointers(opinion_settings.abe.get(f"{opinion_settings.queue}?latitude=5")) == {
        "?longitude"
    }
    assert pointers(
        opinion_settings.abe.get(f"{opinion_settings.queue}?latitude=nan&longitude=5")
    ) == {"?latitude"}
    assert pointers(opinion_settings.abe.get(f"{opinion_settings.queue}?order=size")) == {"?order"}


def test_a_look_at_single_checks_is_worth_the_best_of_them(opinion_settings):
    value_known(opinion_settings.scene.heron, "500.00", joint="70.00", mainsail="20.00")
    opinion_settings.asked(checkpoints=["joint", "mainsail"])
    opinion_settings.asked(checkpoints=["terminals"])
    rows = opinion_settings.seen_by(opinion_settings.abe)
    assert [row["value"]["amount"] for row in rows] == ["70.00", "0.00"]


@pytest.mark.parametrize("order", ["value", "date", "place"])
def test_pages_miss_nothing_that_others_assignment_meanwhile(opinion_settings, order):
    asked = set(three(opinion_settings).values())
    query = f"?order={order}&latitude=55&longitude=12&limit=1"
    seen = []
    while query:
        page = opinion_settings.abe.get(f"{opinion_settings.queue}{query}").json()
        (row,) = page["results"]
        seen.append(row["id"])
        opinion_settings.assignment(
            opinion_settings.amy, row["id"]
        )  # what the cursor stands on is gone
        query = page["next"] and "?" + page["next"].partition("?")[2]
    assert len(seen) == 3
    assert set(seen) == asked


@pytest.mark.parametrize("cursor", ["x", "WyJkYXRlIiwgW11d", "W10", "WyJkYXRlIiwgWzEsIDJdXQ"])
def test_a_cursor_made_elsewhere_is_refused(opinion_settings, cursor):
    opinion_settings.asked()
    refused = opinion_settings.abe.get(f"{opinion_settings.queue}?order=date&cursor={cursor}")
    assert pointers(refused) == {"?cursor"}


def test_who_sees_it(opinion_settings):
    opinion_settings.asked()
    assert opinion_settings.cast.nobody.get(opinion_settings.queue).status_code == 401
    assert opinion_settings.cast.sten.get(opinion_settings.queue).status_code == 404
    assert opinion_settings.mo.get(opinion_settings.queue).status_code == 403
    assert opinion_settings.abe.get(f"{opinion_settings.queue}?whole=true").status_code == 403
    assert len(opinion_settings.seen_by(opinion_settings.sef)) == 1


def test_the_secretary_sees_all_that_waits(opinion_settings):
    request = opinion_settings.asked()
    opinion_settings.sef.post(
        f"/second-opinion-queue/{request}/offers", {"adviser": str(opinion_settings.amy.person.pk)}
    )
    assert opinion_settings.seen_by(opinion_settings.sef) == []
    (row,) = opinion_settings.seen_by(opinion_settings.sef, "?whole=true")
    assert (row["offered_to"]["name"], row["suggested"]) == ("Amy", None)


def test_settled_boats_wait_for_nobody(opinion_settings):
    opinion_settings.asked()
    Candidate.objects.filter(pk=opinion_settings.scene.heron.pk).update(
        stage="struck_off", stage_reason="Too far"
    )
    assert opinion_settings.seen_by(opinion_settings.abe) == []


def test_constant_queries(opinion_settings):
    def queries():
        return [
            queries_of(lambda path=path: opinion_settings.sef.get(path))
            for path in (opinion_settings.queue, f"{opinion_settings.queue}?whole=true")
        ]

    opinion_settings.asked()
    few = queries()
    for n in range(8):
        boat = opinion_settings.another_group(f"Group {n}", opinion_settings.cast.sten)
        value_known(boat, "10.00")
        opinion_settings.asked(opinion_settings.cast.sten, boat)
    assert queries() == few
    assert len(opinion_settings.seen_by(opinion_settings.sef)) == 9


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
def test_worths_are_told_to_two_figures(amount, told):
    assert coarse(Decimal(amount)) == Decimal(told)


def test_a_place_is_told_to_a_tenth_of_a_degree():
    assert rough(None) is None
    place = rough((54.17, -10.26))
    assert (place.latitude, place.longitude) == (54.2, -10.3)


def test_what_has_no_date_comes_last(opinion_settings):
    opinion_settings.asked(question="When you like")
    opinion_settings.asked(question="Soon", wanted_by=date(2099, 1, 1))
    rows = opinion_settings.seen_by(opinion_settings.abe, "?order=date")
    assert [row["question"] for row in rows] == ["Soon", "When you like"]
    assert SecondOpinionRequest.objects.count() == 2
