"""Results that take longer than the board: next looks, raters, and explanations.

They are computed after the board of the same revision, so that nobody who wants the board waits
for them.
"""

from collections.abc import Callable
from dataclasses import dataclass

from apps.appraisal.compute.computing import Computed, with_only
from apps.appraisal.compute.deciding import deciding_alone, deciding_of, prospects_of, taking_part
from apps.appraisal.compute.explanations import (
    Explanations,
    explanations_of,
)
from apps.appraisal.compute.raters import raters_of
from apps.appraisal.compute.results import Narrower
from apps.appraisal.looks.answer import looks_body, looks_facts
from apps.appraisal.looks.cost_looks import cost_looks_of
from apps.appraisal.looks.next_looks import left_out, looks_valued
from apps.appraisal.opinions import Opinions
from apps.appraisal.ready import Ready, marked
from apps.appraisal.stored.candidates import ExplainedChanges
from apps.appraisal.stored.looks import CostLooks, NextLooks, Raters


@dataclass(frozen=True)
class LookResults:
    """edition: of the catalogue's base.

    cost_looks depend on no opinion. Next looks and explanations depend on all opinions; `narrower`
    holds them for some opinions only. answers: the next looks for each of these, as they are sent.
    """

    edition: int
    next_looks: NextLooks
    raters: Raters
    explanations: Explanations
    cost_looks: CostLooks
    narrower: tuple[Narrower, ...] = ()
    answers: tuple[Ready, ...] = ()


def looks_of(computed: Computed, heartbeat: Callable[[], None]) -> LookResults:
    prospects = prospects_of(computed, heartbeat)
    alone = deciding_alone(computed, prospects)
    seen = {one: with_only(computed, one) for one in computed.inputs.narrower()}
    # Readers who may see different opinions may still have the same boats in the choice.
    choices = {taking_part(each): each for each in (*seen.values(), computed)}
    decidings = [deciding_of(each, prospects) for each in choices.values()]
    explanations: dict[tuple[int, ...], Explanations] = dict(
        zip(choices, explanations_of(computed, decidings, alone, heartbeat), strict=True)
    )
    values = {
        boats: looks_valued(choices[boats], deciding, explanations[boats], heartbeat)
        for boats, deciding in zip(choices, decidings, strict=True)
    }

    def next_looks(as_seen: Computed) -> NextLooks:
        return {
            "rests_on": as_seen.inputs.opinions.stored,
            **values[taking_part(as_seen)],
            "left_out": left_out(as_seen),
        }

    costs = cost_looks_of(computed, alone, heartbeat)
    each = {computed.inputs.opinions: next_looks(computed)}
    each |= {one: next_looks(as_seen) for one, as_seen in seen.items()}
    return LookResults(
        edition=computed.inputs.snapshot.edition,
        next_looks=each[computed.inputs.opinions],
        raters=raters_of(computed),
        explanations=explanations[taking_part(computed)],
        cost_looks=costs,
        narrower=tuple(
            Narrower(one, each[one], relative(explanations[taking_part(as_seen)]))
            for one, as_seen in seen.items()
        ),
        answers=tuple(looks_ready(one, looks, costs) for one, looks in each.items()),
    )


def looks_ready(opinions: Opinions, looks: NextLooks, costs: CostLooks) -> Ready:
    body = marked(lambda names: looks_body(looks, costs, names))
    return Ready(opinions, body, looks_facts(looks))


def relative(explanations: Explanations) -> dict[str, ExplainedChanges]:
    """The parts of explanations that may depend on opinions."""
    return {
        str(boat): {
            "changes": one["changes"],
            "compared": one["compared"],
            "offering": one["offering"],
        }
        for boat, one in explanations.items()
    }
