"""Where a professional has judged, members' looks only say how they see."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.reckoning.belief import Belief
from apps.reckoning.grader_priors import GraderPriors, member_prior, surveyor_prior
from apps.reckoning.judged import set_apart
from apps.reckoning.mixture import fit_mixed
from apps.reckoning.pooling import pool
from apps.reckoning.priors import CheckpointPriors, Fleet, Reports

BOATS, CHECKPOINTS, MEMBERS = 3, 4, 4
FLEET = Fleet(np.full((BOATS, CHECKPOINTS), 30.0), np.ones((BOATS, CHECKPOINTS), dtype=bool))
PRIORS = CheckpointPriors(
    *(np.full(CHECKPOINTS, value) for value in (1.2, 0.2, 1.0, 0.8)),
    breakage=np.full(CHECKPOINTS, 0.02),
)
GRADERS = GraderPriors.joined([member_prior(MEMBERS), surveyor_prior()])


def fitted(members: np.ndarray, judged: int, *, apart: bool = True) -> Belief:
    """Members report these levels, (4, 3, 4), and a surveyor one level at boat 0, checkpoint 0."""
    who, boat, checkpoint = (axis.ravel() for axis in np.indices(members.shape))
    reports = Reports(
        boat=np.append(boat, 0),
        checkpoint=np.append(checkpoint, 0),
        grader=np.append(who, MEMBERS),
        level=np.append(members.ravel(), judged),
        widening=np.ones(members.size + 1),
    )
    judged_at = (reports.boat == 0) & (reports.checkpoint == 0) & (reports.grader < MEMBERS)
    level = np.zeros((BOATS, CHECKPOINTS))
    level[0, 0] = judged
    moved = judged_at & apart
    wider = set_apart(FLEET, PRIORS, reports, moved, level)
    found = fit_mixed(wider.fleet, wider.priors, wider.reports, GRADERS)
    return found.of_checkpoints(CHECKPOINTS)


def test_members_who_agree_do_not_outvote_a_professional():
    ones = np.ones((MEMBERS, BOATS, CHECKPOINTS), dtype=int)
    together, apart = fitted(ones, 4, apart=False), fitted(ones, 4)
    assert together.level[0, 0, 3:].sum() < 0.5  # as independent reports, theirs would
    assert apart.level[0, 0, 3:].sum() > 0.95
    # What he did not judge is believed as before, but for what he says of the boat's care.
    assert apart.level[1:].argmax(axis=-1).tolist() == together.level[1:].argmax(axis=-1).tolist()


def test_their_looks_still_calibrate_them():
    seen = np.full((MEMBERS, BOATS, CHECKPOINTS), 2)
    right = fitted(seen, 2).graders
    seen[0, 0, 0] = 0  # the first sees two levels less than the surveyor
    softer = fitted(seen, 2).graders
    assert softer.lean_mean[0] < right.lean_mean[0] - 0.02


@given(st.data())
def test_what_they_report_there_does_not_choose_the_level(data):
    """Whatever four members say, the surveyor's level stays the likeliest."""
    levels = st.integers(0, 4)
    seen = np.full((MEMBERS, BOATS, CHECKPOINTS), 1)
    seen[:, 0, 0] = data.draw(st.lists(levels, min_size=MEMBERS, max_size=MEMBERS))
    judged = data.draw(levels)
    assert fitted(seen, judged).level[0, 0].argmax() == judged


def test_nothing_moves_if_nobody_judged():
    seen = np.ones((MEMBERS, BOATS, CHECKPOINTS), dtype=int)
    who, boat, checkpoint = (axis.ravel() for axis in np.indices(seen.shape))
    reports = Reports(boat, checkpoint, who, seen.ravel(), np.ones(seen.size))
    none = np.zeros(len(reports), dtype=bool)
    same = set_apart(FLEET, PRIORS, reports, none, np.zeros((BOATS, CHECKPOINTS)))
    assert same.columns.size == 0
    assert same.reports.checkpoint.tolist() == checkpoint.tolist()
    assert same.fleet.applies.shape == FLEET.applies.shape


def test_a_club_learns_the_state_from_its_professional_and_how_members_see():
    """Six boats of three groups: at one checkpoint four members see 0, and a surveyor judges 3."""
    boats = 6
    fleet = Fleet(np.full((boats, CHECKPOINTS), 30.0), np.ones((boats, CHECKPOINTS), dtype=bool))
    seen = np.full((MEMBERS, boats, CHECKPOINTS), 1)
    seen[:, :, 0] = 0
    who, boat, checkpoint = (axis.ravel() for axis in np.indices(seen.shape))
    reports = Reports(
        boat=np.append(boat, np.arange(boats)),
        checkpoint=np.append(checkpoint, np.zeros(boats, dtype=int)),
        grader=np.append(who, np.full(boats, MEMBERS)),
        level=np.append(seen.ravel(), np.full(boats, 3)),
        widening=np.ones(seen.size + boats),
    )
    level = np.zeros((boats, CHECKPOINTS))
    level[:, 0] = 3
    apart = (reports.checkpoint == 0) & (reports.grader < MEMBERS)
    found = {}
    for way, moved in {"together": np.zeros_like(apart), "apart": apart}.items():
        wider = set_apart(fleet, PRIORS, reports, moved, level)
        assert (wider.judged[moved] == 3).all()
        assert (wider.judged[~moved] == -1).all()
        found[way] = pool(
            wider.fleet, wider.priors, wider.reports, GRADERS, np.arange(boats) % 3,
            held=wider.second,
        )  # fmt: skip
    assert found["together"].priors.mu[0] < PRIORS.mu[0] < found["apart"].priors.mu[0]
    # The second column is the professional's level, and stays it.
    assert found["apart"].priors.mu[CHECKPOINTS:] == pytest.approx([0])
    assert found["apart"].moved.tolist() == [*[True] * CHECKPOINTS, False]
    softer = found["apart"].graders.lean_mean[:MEMBERS]
    assert (softer < found["together"].graders.lean_mean[:MEMBERS]).all()


def test_another_shape_is_refused():
    reports = Reports(*(np.array([0]) for _ in range(4)), np.ones(1))
    with pytest.raises(ValueError, match="apart"):
        set_apart(FLEET, PRIORS, reports, np.ones(2, dtype=bool), np.zeros((BOATS, CHECKPOINTS)))
    with pytest.raises(ValueError, match="judged"):
        set_apart(FLEET, PRIORS, reports, np.ones(1, dtype=bool), np.zeros((2, 2)))
