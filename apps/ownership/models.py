from apps.ownership.agreement.models import Clause, Consent, Wording

__all__ = ["Clause", "Consent", "Wording"]
