"""What can be worked out within one request, on the spot."""

from apps.appraisal.compute.inputs import Inputs
from apps.common.errors import Invalid

# About two seconds on two cores; a list beyond it has its stored results all the same.
MOST_BOATS = 60
MOST_FINDINGS = 30_000


def require_small_enough(inputs: Inputs) -> None:
    """Raise `Invalid` for a list too long to be worked out while somebody waits."""
    if len(inputs.boats) > MOST_BOATS or len(inputs.findings) > MOST_FINDINGS:
        raise Invalid.at(
            "",
            "too_large",
            f"On the spot at most {MOST_BOATS} boats and {MOST_FINDINGS} findings are worked out.",
        )
