"""Surveyors and meters have more weight than a look; answers say if the fit did not converge."""

from functools import partial

import pytest

from apps.appraisal.words.sentences import NOT_CONVERGED
from apps.catalogue.selectors import catalogue_snapshot
from apps.reckoning import mixture
from apps.viewings.findings import FindingDraft
from apps.viewings.measures import Measured
from tests.appraisal.test_arrays import submit


def checkpoint(cast, boat, code: str) -> dict:
    consensus = cast.ben.get(f"/candidates/{boat.pk}/consensus").json()["consensus"]
    return next(one for one in consensus["checkpoints"] if one["checkpoint"] == code)


CODE = "keel-joint-line"


def test_a_surveyors_word_is_a_tight_report(yard, cast):
    """The same level from a member and from a surveyor, on two boats alike."""
    ben = cast.ben.person
    looked, surveyed = (yard.boat(name) for name in ("Petrel", "Fulmar"))
    yard.look(looked, ben, {CODE: 3})
    yard.look(surveyed, ben, {CODE: 3}, capacity="professional", profession="surveyor")
    yard.recompute()
    loose, tight = checkpoint(cast, looked, CODE), checkpoint(cast, surveyed, CODE)
    assert (loose["reports"][0]["kind"], tight["reports"][0]["kind"]) == ("member", "professional")
    assert tight["reports"][0]["profession"] == "surveyor"
    assert tight["entropy_bits"] < loose["entropy_bits"]
    assert tight["levels"][3] > loose["levels"][3] + 0.1


def test_a_surveyor_outweighs_two_members(yard, cast):
    boat = yard.boat("Petrel")
    for who in (cast.ben, cast.bea):
        yard.look(boat, who.person, {CODE: 0})
    yard.look(boat, cast.ola.person, {CODE: 3}, capacity="professional", profession="surveyor")
    yard.recompute()
    assert checkpoint(cast, boat, CODE)["mean"] > 1.5  # nearer to the 3 than to the 0


def test_a_surveyors_lean_and_spread_start_tight(yard, cast):
    boat = yard.boat("Petrel")
    yard.look(boat, cast.ben.person, {CODE: 1})
    yard.look(boat, cast.ola.person, {CODE: 1}, capacity="professional", profession="surveyor")
    yard.recompute()
    said = cast.ben.get(f"/lists/{yard.list.pk}/raters").json()["raters"]
    by_kind = {one["kind"]: one for one in said}
    assert by_kind["professional"]["spread"]["mean"] < 0.4 < by_kind["member"]["spread"]["mean"]

    def width(one: dict) -> float:
        return one["lean"]["high"] - one["lean"]["low"]

    assert width(by_kind["professional"]) < 0.5 * width(by_kind["member"])


def test_a_measured_value_counts_by_its_scale(yard, cast):
    """18 mm of play at the top of a stanchion; the one who measured it reported a level better."""
    code = "stanchions"
    boat = yard.boat("Petrel")
    scale = catalogue_snapshot().catalogue.scales["stanchion-play-mm"]
    read = scale.level(18)
    draft = FindingDraft(code, "looked", level=read - 1, measured=Measured(18.0, "mm"))
    submit(yard, boat, cast.ben.person, draft)
    yard.recompute()
    found = checkpoint(cast, boat, code)
    kinds = {one["kind"]: one["level"] for one in found["reports"]}
    assert kinds == {"meter": read, "member": read - 1}
    # The scale is the tighter of the two.
    assert abs(found["mean"] - read) < abs(found["mean"] - (read - 1))


@pytest.fixture
def unsettled(spring, monkeypatch):
    monkeypatch.setattr(mixture, "fit", partial(mixture.fit, max_rounds=2))
    spring.yard.recompute()


def test_a_fit_that_settled_says_so(spring, cast):
    consensus = cast.ben.get(f"/candidates/{spring.fulmar.pk}/consensus").json()["consensus"]
    board = cast.ben.get(f"{spring.path}/board").json()
    assert consensus["converged"] is board["converged"] is True
    assert NOT_CONVERGED not in [*consensus["sentences"], *board["sentences"]]


@pytest.mark.usefixtures("unsettled")
def test_a_fit_that_did_not_settle_says_so(spring, cast):
    consensus = cast.ben.get(f"/candidates/{spring.fulmar.pk}/consensus").json()["consensus"]
    board = cast.ben.get(f"{spring.path}/board").json()
    assert consensus["converged"] is board["converged"] is False
    assert NOT_CONVERGED in consensus["sentences"]
    assert NOT_CONVERGED in board["sentences"]
