"""Limits of what one request can compute."""

from apps.appraisal.compute.inputs import Inputs
from apps.common.errors import Invalid

# About two seconds on two cores. Background jobs compute longer lists too.
MOST_BOATS = 60
MOST_FINDINGS = 30_000


def require_small_enough(inputs: Inputs) -> None:
    """Raise `Invalid` for a list that is too long to compute while somebody waits."""
    if len(inputs.boats) > MOST_BOATS or len(inputs.findings) > MOST_FINDINGS:
        raise Invalid.at(
            "",
            "too_large",
            f"One request can compute at most {MOST_BOATS} boats and {MOST_FINDINGS} findings.",
        )
