"""Which boats a person may go and look at.

Those of their own groups, and those whose assignment they accepted for others of their club.
"""

from django.db.models import Q, QuerySet

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.groups.rules import visible_groups
from apps.second_opinions.access import live_assignments


def boats_open_to(person: Person) -> QuerySet[Candidate]:
    """The boats that exist for the person as boats to look at, now."""
    return Candidate.objects.filter(
        Q(list__group__in=visible_groups(person))
        | Q(pk__in=live_assignments(person).values("request__candidate"))
    )
