import uuid
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import models
from django.db.models import Q
from uuid_utils.compat import uuid7

from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.common.models import Versioned
from apps.groups.models import Club, Group
from apps.jobs.models import Job
from apps.notifications.types import NotificationKind


class Rhythm(models.TextChoices):
    AT_ONCE = "at_once", "within minutes"
    DAILY = "daily", "once a day"
    WEEKLY = "weekly", "once a week"
    NEVER = "never", "no mail"


def nobody() -> list[str]:
    return []


def all_kinds() -> list[str]:
    return list(NotificationKind.values)


class Inbox(Versioned):
    """One person's inbox: a counter of notifications, and what is shown and mailed.

    Its id is the person's, so that unstored settings have a version too. A change of several
    notifications of a person locks this row first.
    """

    person = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="inbox"
    )
    last = models.PositiveBigIntegerField(
        default=0, help_text="number of the last notification, in the order of commits"
    )
    in_service = models.JSONField(default=all_kinds, help_text="kinds shown in the inbox")
    by_mail = models.JSONField(default=all_kinds, help_text="kinds that go into digests")
    rhythm = models.CharField(max_length=7, choices=Rhythm.choices, default=Rhythm.DAILY)
    hour = models.PositiveSmallIntegerField(default=7, help_text="of the day, in the time zone")
    weekday = models.PositiveSmallIntegerField(
        default=1, help_text="1 Monday to 7 Sunday (ISO 8601)"
    )
    time_zone = models.CharField(max_length=60, default="UTC", help_text="of the IANA database")
    # Mail goes only to the confirmed address, because another one may be a stranger's.
    confirmed_email = models.EmailField(blank=True)

    class Meta:
        verbose_name_plural = "inboxes"
        constraints = [
            models.CheckConstraint(condition=Q(hour__lte=23), name="inbox_hour_of_a_day"),
            models.CheckConstraint(
                condition=Q(weekday__gte=1) & Q(weekday__lte=7), name="inbox_day_of_a_week"
            ),
            models.CheckConstraint(
                condition=Q(rhythm__in=Rhythm.values), name="inbox_rhythm_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"inbox of {self.person_id}"

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)


class GroupChoice(Versioned):
    """One person's settings for one group; null means the general setting."""

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="notification_choices"
    )
    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="+")
    in_service = models.JSONField(null=True, blank=True)
    by_mail = models.JSONField(null=True, blank=True)
    rhythm = models.CharField(max_length=7, choices=Rhythm.choices, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["person", "group"], name="one_choice_per_person_and_group"
            ),
            models.CheckConstraint(
                condition=Q(rhythm="") | Q(rhythm__in=Rhythm.values),
                name="choice_rhythm_is_known",
            ),
        ]

    def __str__(self) -> str:
        return f"choice of {self.person_id} for {self.group_id}"

    @property
    def own_rhythm(self) -> str | None:
        return self.rhythm or None

    @staticmethod
    def id_for(person_id: uuid.UUID, group_id: uuid.UUID) -> uuid.UUID:
        """The id of a row that may not exist yet, so that it has a version before it is stored."""
        return uuid.uuid5(person_id, str(group_id))


class DigestEmail(Job):
    """One mail to one person: at most one per occasion and period, sent at most once.

    It is planned, then the holder of its lease hands it to the mail server. If the worker dies
    while doing so, it is unknown whether it was sent, and it is never sent again.
    """

    class Occasion(models.TextChoices):
        AT_ONCE = "at_once", "notifications of the last minutes"
        DAILY = "daily", "notifications of a day"
        WEEKLY = "weekly", "notifications of a week"
        CONFIRMATION = "confirmation", "asks whether the address is the person's"
        PASSWORD = "password", "says that the password was changed"

    class State(models.TextChoices):
        WAITING = "waiting", "to be sent, or tried again"
        SENDING = "sending", "being handed to the mail server"
        SENT = "sent", "the mail server took it"
        DOUBTFUL = "doubtful", "perhaps sent: the worker died or was cut off"
        FAILED = "failed", "given up; the mail server never took it"

    UNFINISHED = Q(state__in=("waiting", "sending"))

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="digests"
    )
    occasion = models.CharField(max_length=12, choices=Occasion.choices)
    period = models.CharField(max_length=20, help_text="2026-03-29, 2026-W13, 2026-03-29T10:04Z")
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)
    filled_at = models.DateTimeField(
        null=True,
        help_text="when it last took notifications; later ones need another",
    )
    ended_at = models.DateTimeField(null=True, help_text="sent or given up")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["person", "occasion", "period"], name="one_digest_per_person_and_period"
            ),
            models.CheckConstraint(
                condition=(Q(state="waiting") & ~Q(next_attempt_at=None))
                | (~Q(state="waiting") & Q(next_attempt_at=None)),
                name="only_waiting_digests_are_due",
            ),
            models.CheckConstraint(
                condition=~Q(state="sending") | ~Q(leased_until=None),
                name="digest_is_handed_over_under_a_lease",
            ),
            models.CheckConstraint(
                condition=(Q(state__in=("waiting", "sending")) & Q(ended_at=None))
                | (~Q(state__in=("waiting", "sending")) & ~Q(ended_at=None)),
                name="ended_digest_says_when",
            ),
        ]
        indexes = [
            models.Index(
                fields=["next_attempt_at"], condition=Q(state="waiting"), name="digests_due"
            ),
            models.Index(
                fields=["leased_until"], condition=Q(state="sending"), name="digests_under_way"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.occasion} {self.period} ({self.state})"


# Unseen: neither read nor done, and still applies.
UNSEEN = Q(read_at=None, done_at=None, settled_at=None)


class Notification(Versioned):
    """One notification to one person, once for each cause.

    Facts contain ids and figures; names are looked up when it is read. The service settles a
    notification that no longer applies; the person marks it as read or done.
    """

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="notifications"
    )
    group = models.ForeignKey(
        Group, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    club = models.ForeignKey(
        Club, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    list = models.ForeignKey(
        CandidateList, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    candidate = models.ForeignKey(
        Candidate, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    kind = models.CharField(max_length=12, choices=NotificationKind.choices)
    type = models.CharField(max_length=30, help_text="of NOTIFICATION_TYPES")
    thing = models.CharField(max_length=40, help_text="kind of record, e.g. candidate")
    thing_id = models.UUIDField()
    cause = models.CharField(max_length=100, help_text="distinguishes it from others of its type")
    facts = models.JSONField(default=dict)
    number = models.PositiveBigIntegerField(help_text="in the inbox; a later one contains its news")
    added_at = models.DateTimeField(help_text="when something was last added")
    times = models.PositiveIntegerField(default=1, help_text="changes folded into it")
    last_event = models.PositiveBigIntegerField(
        default=0, help_text="number of the group's event folded in last"
    )
    weight = models.PositiveSmallIntegerField(
        default=0, help_text="2: structure, safety or flooding"
    )
    value = models.DecimalField(
        max_digits=14, decimal_places=2, null=True, help_text="of a look that settles it"
    )
    in_inbox = models.BooleanField(default=True, help_text="false: for digests alone")
    read_at = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True, help_text="ceased to be so")
    digest = models.ForeignKey(
        DigestEmail, null=True, blank=True, on_delete=models.SET_NULL, related_name="notifications"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["person", "type", "thing_id", "cause"], name="one_notification_per_cause"
            ),
            models.UniqueConstraint(
                fields=["person", "type", "thing_id"],
                condition=UNSEEN & Q(kind="changed"),
                name="one_unseen_change_per_thing",
            ),
            models.UniqueConstraint(
                fields=["person", "number"], name="notification_numbers_unique"
            ),
            models.CheckConstraint(
                condition=(Q(group=None) & ~Q(club=None)) | (~Q(group=None) & Q(club=None)),
                name="notification_of_one_group_or_one_club",
            ),
        ]
        indexes = [
            models.Index(fields=["group", "list", "kind"], name="notifications_of_a_list"),
            models.Index(
                fields=["person"], condition=UNSEEN & Q(digest=None), name="notifications_unseen"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.type} for {self.person_id}"

    @property
    def unseen(self) -> bool:
        return self.read_at is self.done_at is self.settled_at is None


class EventCursor(Job):
    """The last event of a group that was processed, and when to check again."""

    group = models.OneToOneField(
        Group, primary_key=True, on_delete=models.CASCADE, related_name="+"
    )
    number = models.PositiveBigIntegerField(default=0, help_text="of the last event dealt with")
    due_at = models.DateTimeField(
        null=True, db_index=True, help_text="when time alone changes what waits for somebody"
    )

    class Meta:
        verbose_name_plural = "event_cursors"

    def __str__(self) -> str:
        return f"{self.group_id} at {self.number}"


class NotifiedStanding(models.Model):
    """How one list stood when its members were last notified; changes are compared with it.

    For each member, as far as they could see it then.
    """

    list = models.OneToOneField(
        CandidateList, primary_key=True, on_delete=models.CASCADE, related_name="+"
    )
    stands = models.JSONField(
        default=dict,
        help_text="by person: ids of candidates, best first, and codes of advice by candidate",
    )
    by = models.JSONField(default=nobody, help_text="ids of those whose doings came since")
    in_secret = models.JSONField(
        default=nobody, help_text="those of them of whose doings nobody else may know"
    )

    def __str__(self) -> str:
        return f"notified standing of {self.list_id}"
