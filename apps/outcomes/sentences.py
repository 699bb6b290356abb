"""Sentences about the statistics, for people."""

from collections.abc import Iterator, Sequence

from apps.common.wording import NOT_A_SURVEY, lead, percent
from apps.outcomes.answer import CheckpointOutcomes, FigureRead, RemedyOutcomes

OLDER_METHOD = (
    "These figures come from an earlier version of the method. They are computed again in the "
    "club's next round."
)
CAUTION = (
    f"{NOT_A_SURVEY} What was found on other boats is no finding on this one. These are sums over "
    "boats that somebody had surveyed, not over all boats. A professional must judge structure and "
    "safety on the boat herself."
)
MOST = 3  # sentences of each kind
# The smallest deviation from the estimate, up or down, that gets a sentence.
FAR = 0.10


def of_outcomes(
    checkpoints: Sequence[CheckpointOutcomes], remedies: Sequence[RemedyOutcomes]
) -> list[str]:
    """Sentences on the most frequent defects, what quick looks missed, and what costs more."""
    return [*_found(checkpoints), *_missed(checkpoints), *_cost(remedies)]


def behind(figure: FigureRead) -> str:
    return f"{figure['boats']} boats of {figure['groups']} groups"


def interval(figure: FigureRead) -> str:
    return f"{percent(figure['low'])} to {percent(figure['high'])}"


def found(figure: FigureRead) -> str:
    found = (
        f"defective or worse on {percent(figure['figure'])} ({interval(figure)}) of "
        f"{behind(figure)}"
    )
    if figure["expected"] is None:
        return found
    return f"{found}; the catalogue expects {percent(figure['expected'])}"


def cost(figure: FigureRead) -> str:
    return (
        f"{figure['figure']:.2f} times the estimate ({figure['low']:.2f} to {figure['high']:.2f}), "
        f"from bills on {behind(figure)}"
    )


def _found(checkpoints: Sequence[CheckpointOutcomes]) -> Iterator[str]:
    there = [(one["title"], one["found"]) for one in checkpoints if one["found"]]
    defective = [(title, figure) for title, figure in there if figure["figure"] > 0]
    for title, figure in sorted(defective, key=lambda one: -one[1]["figure"])[:MOST]:
        yield f"{lead(title)} {found(figure)}."


def _missed(checkpoints: Sequence[CheckpointOutcomes]) -> Iterator[str]:
    there = [(one["title"], one["caught"]) for one in checkpoints if one["caught"]]
    for title, figure in sorted(there, key=lambda one: one[1]["figure"])[:MOST]:
        yield (
            f"{lead(title)} where a survey found it defective or worse, a quick look had seen it "
            f"on {percent(figure['figure'])} ({interval(figure)}) of {behind(figure)}."
        )


def _cost(remedies: Sequence[RemedyOutcomes]) -> Iterator[str]:
    there = [(one["title"], one["cost"]) for one in remedies if one["cost"]]
    far = [(title, figure) for title, figure in there if abs(figure["figure"] - 1) >= FAR]
    for title, figure in sorted(far, key=lambda one: -abs(one[1]["figure"] - 1))[:MOST]:
        yield f"{lead(title)} {cost(figure)}."
