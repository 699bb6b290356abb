import uuid

from celery import shared_task

from apps.common.broker import broker
from apps.jobs.leases import MOST_SWEPT
from apps.notices import forgetting, jobs, mailing

TELL = "apps.notices.tasks.tell_group"


@shared_task
def tell_group(group_id: str) -> None:
    if jobs.group_tell(group_id=uuid.UUID(group_id)) == jobs.MOST_ROUNDS:
        broker.send(TELL, group_id)  # to the end of the queue, behind the other groups


@shared_task
def sweep_notices() -> None:
    """Find the groups with events nobody was told of yet."""
    behind = jobs.groups_behind().order_by("group").values_list("group", flat=True)
    for group_id in behind[:MOST_SWEPT]:
        broker.send(TELL, str(group_id))


@shared_task
def send_letters() -> None:
    mailing.letters_doubt()
    mailing.letters_send()


@shared_task
def forget_notices() -> None:
    forgetting.notices_forget()
    forgetting.letters_forget()
