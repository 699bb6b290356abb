"""Events, webhooks and their deliveries."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from uuid_utils.compat import uuid7

from apps.common.models import Versioned
from apps.jobs.models import Job


class EventSequence(models.Model):
    """The last event number of a group; its row lock makes number order equal commit order."""

    group = models.UUIDField(primary_key=True)
    last = models.PositiveBigIntegerField(default=0)
    pruned = models.PositiveBigIntegerField(
        default=0, help_text="events up to this number are not kept any more"
    )
    # Numbers in between belonged to events that a restored backup does not have.
    void_after = models.PositiveBigIntegerField(default=0)
    void_until = models.PositiveBigIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.group} at {self.last}"

    def has_reached(self, number: int) -> bool:
        """Whether a reader can go on from this number and miss nothing."""
        void = self.void_after < number < self.void_until
        return self.pruned <= number <= self.last and not void


class Event(models.Model):
    """One change, written in the transaction that made it, for the feed and webhooks."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    group = models.UUIDField()
    number = models.PositiveBigIntegerField()
    kind = models.CharField(max_length=60, help_text="what happened, e.g. submission.submitted")
    thing = models.CharField(max_length=40, help_text="kind of record, e.g. submission")
    thing_id = models.UUIDField(default=uuid.uuid4)
    thing_version = models.PositiveIntegerField(default=1)
    deleted = models.BooleanField(default=False)
    only_for = models.UUIDField(null=True, help_text="a person, if nobody else may see it")
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    facts = models.JSONField(default=dict)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["group", "number"], name="event_numbers_unique_in_group"
            ),
        ]
        ordering = ["group", "number"]

    def __str__(self) -> str:
        return f"{self.kind} #{self.number}"


class Webhook(Versioned, Job):
    """An address to which a group's events are sent, and the state of sending."""

    class Stopped(models.TextChoices):
        BY_HAND = "by_hand", "by an organiser"
        GONE = "gone", "the receiver answered that it wants no more (410)"
        NO_ANSWER = "no_answer", "nothing got through for as long as a message is tried"

    UNFINISHED = Q(enabled=True)

    group = models.UUIDField(db_index=True)
    url = models.CharField(max_length=500)
    note = models.CharField(max_length=200, blank=True, help_text="what it is for")
    kinds = models.JSONField(default=list, help_text="of event; none named: all that there are")
    enabled = models.BooleanField(default=True)
    stopped_because = models.CharField(max_length=10, blank=True, choices=Stopped.choices)
    secret = models.TextField(help_text="encrypted")
    old_secret = models.TextField(blank=True, help_text="encrypted; signs too for a while")
    old_secret_until = models.DateTimeField(null=True, blank=True)
    last_success_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(enabled=True, stopped_because="")
                | (Q(enabled=False) & ~Q(stopped_because="")),
                name="stopped_webhook_says_why",
            ),
            models.CheckConstraint(
                condition=Q(old_secret="", old_secret_until=None)
                | (~Q(old_secret="") & ~Q(old_secret_until=None)),
                name="old_secret_ends_some_time",
            ),
        ]

    def __str__(self) -> str:
        return f"webhook {self.id} of {self.group}"


class Delivery(models.Model):
    """One message to one webhook, written with its event and sent until it is delivered."""

    class State(models.TextChoices):
        WAITING = "waiting", "to be sent, or sent again"
        DELIVERED = "delivered", "the receiver took it"
        FAILED = "failed", "given up; can be resent"

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    webhook = models.ForeignKey(Webhook, on_delete=models.CASCADE, related_name="deliveries")
    kind = models.CharField(max_length=60)
    body = models.TextField(help_text="JSON, sent as it is at every attempt")
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    tries = models.PositiveSmallIntegerField(default=0, help_text="of the schedule, all failed")
    due_at = models.DateTimeField(null=True)
    delivered_at = models.DateTimeField(null=True)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        verbose_name_plural = "deliveries"
        constraints = [
            models.CheckConstraint(
                condition=(Q(state="waiting") & ~Q(due_at=None))
                | (~Q(state="waiting") & Q(due_at=None)),
                name="only_waiting_deliveries_are_due",
            ),
            models.CheckConstraint(
                condition=~Q(state="delivered") | ~Q(delivered_at=None),
                name="delivered_says_when",
            ),
        ]
        indexes = [
            models.Index(
                fields=["webhook", "due_at"], condition=Q(state="waiting"), name="deliveries_due"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} ({self.state})"


class Attempt(models.Model):
    """One attempt to send a delivery."""

    delivery = models.ForeignKey(Delivery, on_delete=models.CASCADE, related_name="attempts")
    at = models.DateTimeField(auto_now_add=True)
    status = models.PositiveSmallIntegerField(null=True, help_text="of the answer, if there is one")
    error = models.CharField(max_length=30, blank=True, help_text="why there was none")
    seconds = models.FloatField()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.status or self.error} at {self.at}"
