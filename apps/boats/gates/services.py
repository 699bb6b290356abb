"""What the group settles before it buys a boat."""

from datetime import date

from django.db import IntegrityError, transaction

from apps.accounts.models import Person
from apps.boats.gates.kinds import BY_CODE
from apps.boats.gates.models import Gate
from apps.boats.models import Candidate
from apps.common.errors import Conflict, FieldFault, Invalid, Stale, require_no_faults
from apps.events.services import event_record
from apps.groups.models import Membership
from apps.groups.rules import Action, require


@transaction.atomic
def gate_set(
    *,
    candidate: Candidate,
    code: str,
    by: Person,
    needed: bool,
    settled: bool,
    checked_by: str = "",
    due_on: date | None = None,
    document: str = "",
    note: str = "",
    expected_version: int | None = None,
) -> Gate:
    """Say of one thing whether it is needed, who checks it by when, and whether it is settled.

    Raises `Invalid` if it is settled by nobody, `Stale` if somebody else changed it.
    """
    require(by, Action.ADD, candidate.list.group_id)
    if settled and not checked_by:
        text = "Say who checked it: the register, a surveyor, one of you."
        require_no_faults([FieldFault("/checked_by", "required", text)])
    gate = Gate.objects.filter(candidate=candidate, code=code).first()
    if gate is not None and expected_version is None:
        raise Stale
    facts = {
        "needed": needed,
        "settled": settled,
        "checked_by": checked_by,
        "due_on": due_on,
        "document": document,
        "note": note,
        "changed_by": by,
    }
    if gate is None:
        gate = _first(candidate, code, facts)
    else:
        for name, value in facts.items():
            setattr(gate, name, value)
        gate.save_changes(expected_version=expected_version, fields=list(facts))
    event_record(
        group_id=candidate.list.group_id,
        kind="candidate.gate_changed",
        thing="candidate",
        thing_id=candidate.pk,
        thing_version=candidate.version,
        by_id=by.pk,
        facts={"list": str(candidate.list_id), "gate": code, "settled": settled},
    )
    return gate


def _first(candidate: Candidate, code: str, facts: dict[str, object]) -> Gate:
    try:
        with transaction.atomic():
            return Gate.objects.create(candidate=candidate, code=code, **facts)
    except IntegrityError as error:  # somebody else did at the same time
        raise Stale from error


def require_gates_settled(candidate: Candidate, by: Membership, reason: str) -> None:
    """Before a boat is bought: raises `Conflict` while a needed gate is open.

    An organiser may go on with a reason, which stays on record.
    """
    still_open = [
        BY_CODE[code].title
        for code in Gate.objects.filter(candidate=candidate, needed=True, settled=False)
        .order_by("created_at")
        .values_list("code", flat=True)
    ]
    if not still_open:
        return
    named = ", ".join(still_open)
    if by.role != Membership.Role.ORGANISER:
        raise Conflict(
            "gates_open",
            f"Still to be settled before she is bought: {named}. An organiser may go on, with a "
            "reason.",
        )
    if not reason:
        text = f"Still to be settled: {named}. Say why you buy her all the same."
        raise Invalid([FieldFault("/reason", "required", text)])
