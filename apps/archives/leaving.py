"""A person leaves for good; the groups' records stay, without the name."""

from django.db import transaction

from apps.accounts.erasing import person_erase
from apps.accounts.models import Person
from apps.accounts.sign_in import person_confirm
from apps.archives.files import files_remove
from apps.archives.models import Export, Import
from apps.groups.leaving import everything_leave
from apps.notifications.retention import inbox_erase
from apps.planning.leaving import person_trips_erase
from apps.viewings.models import FollowUp, Submission
from apps.viewings.submitting import draft_delete


@transaction.atomic
def person_leave(*, person: Person, password: str, address: str) -> None:
    """Delete the account. Raises `Invalid` at /password, `Conflict` before a needed hand-over."""
    person_confirm(person=person, password=password, address=address, at="/password")
    person = Person.objects.select_for_update(no_key=True).get(pk=person.pk)
    # Drafts, which nobody else may see, with their photos.
    for draft in Submission.objects.filter(author=person, state=Submission.State.DRAFT):
        draft_delete(draft)
    FollowUp.objects.filter(assignee=person, state=FollowUp.State.OPEN).update(assignee=None)
    archives_prune(person)
    person_trips_erase(person)
    inbox_erase(person)
    everything_leave(person=person)
    person_erase(person=person)


def archives_prune(person: Person) -> None:
    """Delete the person's own exports and imports, because they contain names and emails."""
    exports = list(Export.objects.filter(asked_by=person))
    imports = list(Import.objects.filter(asked_by=person))
    jobs: list[Export | Import] = [*exports, *imports]
    keys = [job.key for job in jobs]
    # The sweep deletes a half-imported group; it needs the import's record for that.
    begun = Import.objects.filter(asked_by=person, group__importing=True)
    begun.update(state=Import.State.EXPIRED, name="")
    kept = set(begun.values_list("pk", flat=True))
    for job in jobs:
        if job.pk not in kept:
            job.delete()
    transaction.on_commit(lambda: files_remove(keys), robust=True)
