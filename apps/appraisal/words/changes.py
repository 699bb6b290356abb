"""What a change of the inputs does to one boat, in a sentence."""

from collections.abc import Iterator
from typing import TypedDict

from apps.appraisal.stored.parts import Range
from apps.appraisal.words.phrases import amount
from apps.appraisal.words.sentences import missing
from apps.common import wording


class ComparedFigures(TypedDict):
    place: int | None
    upfront: Range | None
    all_in: Range | None
    within_budget: float | None
    missing: list[str]


def changed(now: ComparedFigures, then: ComparedFigures) -> str:
    """'All in probably 40,100 USD instead of 42,300 USD; place 2 instead of 3.'

    What stays the same is left out.
    """
    if then["missing"]:
        return missing(then["missing"])
    parts = [
        f"{lead}{after} instead of {before}" if before else f"{lead}{after}"
        for lead, before, after in _figures(now, then)
        if before != after
    ]
    if not parts:
        return "Nothing changes for her."
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}."


def _figures(now: ComparedFigures, then: ComparedFigures) -> Iterator[tuple[str, str, str]]:
    """Each figure with the words before it, as it was (empty if unknown) and as it would be."""
    for was, would_be, lead in (
        (now["upfront"], then["upfront"], "up front probably "),
        (now["all_in"], then["all_in"], "all in probably "),
    ):
        # Means are exact; the rest of a range moves a little with each simulation.
        if would_be and not (was and was["mean"] == would_be["mean"]):
            yield lead, amount(was, "likely") if was else "", amount(would_be, "likely")
    before, after = now["within_budget"], then["within_budget"]
    if after is not None:
        likely = "" if before is None else f"{wording.percent(before)} likely"
        yield "within the budget ", likely, f"{wording.percent(after)} likely"
    if then["place"] is not None:
        yield "place ", "" if now["place"] is None else str(now["place"]), str(then["place"])
