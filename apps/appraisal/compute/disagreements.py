"""Where people who looked themselves are far apart on one boat, from a stored consensus."""

from collections import defaultdict
from collections.abc import Sequence

from apps.appraisal.stored.candidates import Consensus, Report

FAR_APART = 2  # levels


def disagreements(consensus: Consensus | None) -> list[str]:
    """The checkpoints on which two people's own looks are `FAR_APART` or more."""
    return [
        one["checkpoint"]
        for one in (consensus["checkpoints"] if consensus else ())
        if apart(one["reports"]) >= FAR_APART
    ]


def apart(reports: Sequence[Report]) -> int:
    """The largest difference between levels that two different people reported; 0 for one alone."""
    levels = defaultdict(list)
    for report in reports:
        if report["kind"] == "member":
            levels[report["person_id"]].append(report["level"])
    return max(
        (
            max(of_one) - min(of_other)
            for one, of_one in levels.items()
            for other, of_other in levels.items()
            if one != other
        ),
        default=0,
    )
