"""Set what bounds a season's work, and decide what is done."""

from datetime import date
from decimal import Decimal

from django.db import IntegrityError, transaction

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.common.errors import Stale
from apps.groups.rules import Action, require
from apps.ownership.models import SeasonSettings, WorkDecision
from apps.ownership.season.selectors import estimates_of
from apps.viewings.event_records import record_event


@transaction.atomic
def season_set(
    *,
    candidate: Candidate,
    by: Person,
    first_month: date,
    months: int,
    own_hours: int,
    ashore: bool,
    lift_months: list[int],
    sailing_months: list[int],
    most_a_month: Decimal | None,
    resale: Decimal | None,
    expected_version: int | None = None,
) -> SeasonSettings:
    """All of them anew. What each remedy is estimated at now is kept for those not kept before.

    Raises `Stale`.
    """
    require(by, Action.ADD, candidate.list.group_id)
    facts: dict[str, object] = {
        "first_month": first_month.replace(day=1),
        "months": months,
        "own_hours": own_hours,
        "ashore": ashore,
        "lift_months": sorted(set(lift_months)),
        "sailing_months": sorted(set(sailing_months)),
        "most_a_month": most_a_month,
        "resale": resale,
        "changed_by": by,
    }
    settings = SeasonSettings.objects.filter(candidate=candidate).first()
    estimates = estimates_of(by, candidate)
    if settings is None:
        settings = _first(candidate, {**facts, "estimates": estimates})
    elif expected_version is None:
        raise Stale
    else:
        facts["estimates"] = {**estimates, **settings.estimates}
        for name, value in facts.items():
            setattr(settings, name, value)
        settings.save_changes(expected_version=expected_version, fields=list(facts))
    record_event("season.changed", settings, candidate, by)
    return settings


def _first(candidate: Candidate, facts: dict[str, object]) -> SeasonSettings:
    try:
        with transaction.atomic():
            return SeasonSettings.objects.create(candidate=candidate, **facts)
    except IntegrityError as error:  # somebody else did at the same time
        raise Stale from error


@transaction.atomic
def work_decide(
    *,
    candidate: Candidate,
    remedy: str,
    by: Person,
    choice: str,
    note: str = "",
    expected_version: int | None = None,
) -> WorkDecision:
    """Decide about one remedy, in place of what its chance says. Raises `Stale`."""
    require(by, Action.ADD, candidate.list.group_id)
    decision = WorkDecision.objects.filter(candidate=candidate, remedy=remedy).first()
    if decision is None:
        try:
            with transaction.atomic():
                decision = WorkDecision.objects.create(
                    candidate=candidate, remedy_id=remedy, choice=choice, note=note, changed_by=by
                )
        except IntegrityError as error:  # somebody else did at the same time
            raise Stale from error
    elif expected_version is None:
        raise Stale
    else:
        decision.choice, decision.note, decision.changed_by = choice, note, by
        decision.save_changes(
            expected_version=expected_version, fields=["choice", "note", "changed_by"]
        )
    record_event("work.decided", decision, candidate, by, remedy=remedy, choice=choice)
    return decision


@transaction.atomic
def decision_withdraw(*, decision: WorkDecision, by: Person, expected_version: int) -> None:
    """Let the chance say again whether it is planned."""
    candidate = decision.candidate
    require(by, Action.ADD, candidate.list.group_id)
    decision.save_changes(expected_version=expected_version, fields=[])
    record_event("work.decided", decision, candidate, by, deleted=True, remedy=decision.remedy_id)
    decision.delete()
