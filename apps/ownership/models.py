from apps.ownership.agreement.models import Clause, Consent, Wording
from apps.ownership.handover.models import Handover, HandoverItem
from apps.ownership.season.models import SeasonSettings, WorkDecision

__all__ = [
    "Clause",
    "Consent",
    "Handover",
    "HandoverItem",
    "SeasonSettings",
    "Wording",
    "WorkDecision",
]
