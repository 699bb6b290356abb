"""Everything that happens to a list or a boat is entered in the record."""

from apps.events.models import Event
from apps.events.subscriptions import subscribe_to_written
from apps.records.entering import event_enter


@subscribe_to_written
def written(event: Event) -> None:
    event_enter(event)
