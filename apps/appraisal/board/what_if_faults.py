"""What is impossible in the changes of a question "what if"."""

from apps.appraisal.board.what_if_changes import WhatIfChanges
from apps.appraisal.compute.inputs import Inputs
from apps.catalogue.applicability import applies
from apps.common.errors import FieldFault


def faults_of(changes: WhatIfChanges, inputs: Inputs) -> list[FieldFault]:
    """A fault with its pointer for everything that is not on the list."""
    return [
        *_money_faults(changes, inputs),
        *_remedy_faults(changes, inputs),
        *_candidate_faults(changes, inputs),
        *_checkpoint_faults(changes, inputs),
        *_person_faults(changes, inputs),
    ]


def _money_faults(changes: WhatIfChanges, inputs: Inputs) -> list[FieldFault]:
    brief, faults = inputs.brief, []
    for name in ("budget", "yard_hourly_rate"):
        money = getattr(changes, name)
        if money is not None and money.currency != brief.currency:
            faults.append(
                FieldFault(
                    f"/{name}/currency", "other_currency", f"This list is in {brief.currency}."
                )
            )
    amounts = [
        *((f"/prices/{n}/asking", change.asking) for n, change in enumerate(changes.prices)),
        *((f"/quotes/{n}/price", change.price) for n, change in enumerate(changes.quotes)),
    ]
    return faults + [
        FieldFault(
            f"{at}/currency",
            "no_exchange_rate",
            f"The brief has no exchange rate for {amount.currency}.",
        )
        for at, amount in amounts
        if brief.in_own_currency(1.0, amount.currency) is None
    ]


def _remedy_faults(changes: WhatIfChanges, inputs: Inputs) -> list[FieldFault]:
    known = inputs.snapshot.catalogue.remedies
    named = [
        *((f"/own_remedies/{n}", code) for n, code in enumerate(changes.own_remedies or ())),
        *((f"/quotes/{n}/remedy", change.remedy) for n, change in enumerate(changes.quotes)),
    ]
    return [
        FieldFault(at, "unknown_remedy", f"There is no remedy {code!r}.")
        for at, code in named
        if code not in known
    ]


def _candidate_faults(changes: WhatIfChanges, inputs: Inputs) -> list[FieldFault]:
    on_list = {boat.id for boat in inputs.boats}
    named = [
        *((f"/prices/{n}", change.candidate_id) for n, change in enumerate(changes.prices)),
        *((f"/quotes/{n}", change.candidate_id) for n, change in enumerate(changes.quotes)),
        *((f"/findings/{n}", change.candidate_id) for n, change in enumerate(changes.findings)),
    ]
    return [
        FieldFault(f"{at}/candidate_id", "not_on_the_list", "This list has no such candidate.")
        for at, candidate_id in named
        if candidate_id not in on_list
    ]


def _checkpoint_faults(changes: WhatIfChanges, inputs: Inputs) -> list[FieldFault]:
    checkpoints = inputs.snapshot.catalogue.checkpoints
    boats = {boat.id: boat for boat in inputs.boats}
    faults = []
    for n, change in enumerate(changes.findings):
        checkpoint, boat = checkpoints.get(change.checkpoint), boats.get(change.candidate_id)
        at = f"/findings/{n}/checkpoint"
        if checkpoint is None:
            detail = f"There is no checkpoint {change.checkpoint!r}."
            faults.append(FieldFault(at, "unknown_checkpoint", detail))
        elif boat is not None and not applies(checkpoint, boat.built_of):
            detail = f"“{checkpoint.title}” does not apply to this boat."
            faults.append(FieldFault(at, "does_not_apply", detail))
    return faults


def _person_faults(changes: WhatIfChanges, inputs: Inputs) -> list[FieldFault]:
    authors = {finding.author_id for finding in inputs.findings}
    if changes.without_person is None or changes.without_person in authors:
        return []
    return [
        FieldFault("/without_person", "found_nothing", "This person has no findings on the list.")
    ]
