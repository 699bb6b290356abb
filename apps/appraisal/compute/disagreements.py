"""Checkpoints of one boat on which people who looked are far apart, from a stored consensus."""

from collections import defaultdict
from collections.abc import Sequence

from apps.appraisal.stored.candidates import Consensus, StoredReport

FAR_APART = 2  # levels


def disagreements(consensus: Consensus | None) -> list[str]:
    """The checkpoints on which the levels of two people's own looks differ by `FAR_APART` or
    more.
    """
    return [
        one["checkpoint"]
        for one in (consensus["checkpoints"] if consensus else ())
        if apart(one["reports"]) >= FAR_APART
    ]


def apart(reports: Sequence[StoredReport]) -> int:
    """The largest difference between levels that two people reported; 0 if only one did."""
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
