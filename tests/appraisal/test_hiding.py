"""Buyers' opinions stay hidden from readers who have not given their own."""

from apps.boats.list_models import CandidateList


def board(spring, who) -> dict:
    return who.get(f"{spring.path}/board").json()


def member(board: dict, name: str) -> dict:
    return next(one for one in board["members"] if one["name"] == name)


def test_who_gave_no_valuation_sees_none(spring, cast):
    for who in (cast.ola, cast.hal, cast.ivy):
        seen = board(spring, who)
        petrel = spring.row(seen, spring.petrel)
        assert petrel["valuation"] is None
        assert petrel["utility"] is None
        assert petrel["surplus"] is None
        assert petrel["opinions_hidden"]
        assert not any("Worth about" in sentence for sentence in petrel["sentences"])
        assert member(seen, "Ben")["places"] == []
        assert member(seen, "Ben")["hidden"]
        assert seen["votes"] == {"hidden": True, "weights": "share", "sentences": []}


def test_who_gave_valuations_sees_them(spring, cast):
    seen = board(spring, cast.ben)
    assert spring.row(seen, spring.petrel)["valuation"] is not None
    assert member(seen, "Bea")["places"] != []
    assert not seen["votes"]["hidden"]


def test_a_valuation_on_one_boat_opens_that_boat_only(spring, cast):
    spring.yard.valuation(spring.petrel, cast.ola.person, 50_000)
    spring.yard.recompute()
    seen = board(spring, cast.ola)
    assert spring.row(seen, spring.petrel)["valuation"] is not None
    assert spring.row(seen, spring.fulmar)["valuation"] is None
    bea = member(seen, "Bea")
    assert [one["candidate_id"] for one in bea["places"]] == [str(spring.petrel.pk)]
    assert bea["hidden"]
    assert bea["furthest"] == []


def test_own_order_is_always_seen(spring, cast):
    spring.yard.ballot(cast.ola.person, [spring.skua], [spring.petrel])
    spring.yard.recompute()
    ola = member(board(spring, cast.ola), "Ola")
    assert [one["place"] for one in ola["places"]] == [2, 1]
    assert not ola["hidden"]


def test_a_ballot_is_hidden_from_whoever_gave_none(spring, cast):
    spring.yard.ballot(cast.bea.person, [spring.skua], [spring.petrel])
    spring.yard.recompute()
    assert member(board(spring, cast.ben), "Bea")["places"] == []  # Ben gave valuations only
    spring.yard.ballot(cast.ben.person, [spring.petrel], [spring.skua])
    spring.yard.recompute()
    assert member(board(spring, cast.ben), "Bea")["places"] != []


def test_opened_by_the_organiser_all_see_all(spring, cast):
    CandidateList.objects.filter(pk=spring.yard.list.pk).update(opinions_open=True)
    seen = board(spring, cast.ivy)
    assert spring.row(seen, spring.petrel)["valuation"] is not None
    assert member(seen, "Ben")["places"] != []
    assert not seen["votes"]["hidden"]


def test_the_table_and_the_page_hide_the_same(spring, cast):
    for form in ("board.csv", "board.html"):
        assert "Worth about" not in cast.ivy.get(f"{spring.path}/{form}").content.decode()
        assert "Worth about" in cast.ben.get(f"{spring.path}/{form}").content.decode()


def test_the_reasons_hide_how_far_apart_boats_are(spring, cast):
    path = f"/candidates/{spring.petrel.pk}/reasons"
    assert all(one["apart"] is None for one in cast.ivy.get(path).json()["reasons"]["compared"])
    assert any(one["apart"] for one in cast.ben.get(path).json()["reasons"]["compared"])
