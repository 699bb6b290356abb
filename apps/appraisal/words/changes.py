"""What a change of the inputs does to one boat, in a sentence."""

from collections.abc import Iterator

from apps.appraisal.figures import Json
from apps.appraisal.words.phrases import amount
from apps.appraisal.words.sentences import missing
from apps.common import wording


def changed(now: Json, then: Json) -> str:
    """'All in probably 40,100 USD instead of 42,300 USD; place 2 instead of 3.'

    now, then: rows of the what-if. What stays the same is left out.
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


def _figures(now: Json, then: Json) -> Iterator[tuple[str, str, str]]:
    """Each figure with the words before it, as it was (empty if unknown) and as it would be."""
    priced = not now["missing"]
    for key, lead in (("upfront", "up front probably "), ("all_in", "all in probably ")):
        if priced and now[key]["mean"] == then[key]["mean"]:
            continue  # means are exact; the rest of a range moves a little with each simulation
        yield lead, amount(now[key], "likely") if priced else "", amount(then[key], "likely")
    before, after = now["within_budget"], then["within_budget"]
    if after is not None:
        was = "" if before is None else f"{wording.percent(before)} likely"
        yield "within the budget ", was, f"{wording.percent(after)} likely"
    if then["place"] is not None:
        yield "place ", "" if now["place"] is None else str(now["place"]), str(then["place"])
