import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from uuid_utils.compat import uuid7

from apps.boats.models import Candidate
from apps.common.models import Versioned
from apps.groups.models import Club, Group
from apps.viewings.models import Viewing

PERSON = settings.AUTH_USER_MODEL


class ClubOpinionSettings(Versioned):
    """A club's settings of second opinions, stored at the first change; its id is the club's."""

    club = models.OneToOneField(Club, on_delete=models.CASCADE, related_name="opinion_settings")
    most_taken = models.PositiveSmallIntegerField(
        default=3, help_text="that one adviser may have at a time"
    )
    currency = models.CharField(
        max_length=3, blank=True, help_text="in which looks for groups are compared"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(most_taken__gte=1) & Q(most_taken__lte=50),
                name="opinion_settings_most_taken_1_to_50",
            ),
        ]

    def __str__(self) -> str:
        return f"second opinions of {self.club_id}"


class GroupOpinionSettings(Versioned):
    """A group's setting for announcing its visits. Its id is the group's."""

    group = models.OneToOneField(Group, on_delete=models.CASCADE, related_name="opinion_settings")
    opens_yard_days = models.BooleanField(
        default=False, help_text="that somebody of it goes to a yard on a day, for every visit"
    )

    def __str__(self) -> str:
        return f"yard days of {self.group_id}"


class YardDay(Versioned):
    """An announcement to the club that somebody goes to a yard and has room for other boats.

    It shows the group and the person only with `says_who`, and never the boat.
    """

    viewing = models.OneToOneField(Viewing, on_delete=models.CASCADE, related_name="yard_day")
    room = models.PositiveSmallIntegerField(default=1, help_text="for so many boats of others")
    says_who = models.BooleanField(default=False, help_text="which group it is and who goes")
    by_setting = models.BooleanField(default=False, help_text="opened because the group opens all")
    opened_by = models.ForeignKey(
        PERSON, null=True, blank=True, on_delete=models.PROTECT, related_name="yard_days_opened"
    )
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(room__gte=1) & Q(room__lte=20), name="yard_day_room_1_to_20"
            ),
        ]

    def __str__(self) -> str:
        return f"yard day of {self.viewing_id}"


class SecondOpinionRequest(Versioned):
    """A request to look at one boat, to the club's advisers or somebody who goes to her yard."""

    class State(models.TextChoices):
        WAITING = "waiting", "nobody has taken it on"
        TAKEN = "taken", "somebody looks at her"
        ANSWERED = "answered", "answered"
        DECLINED = "declined", "the visitor cannot look at her"
        WITHDRAWN = "withdrawn", "withdrawn by the group"

    OPEN = (State.WAITING, State.TAKEN)

    candidate = models.ForeignKey(
        Candidate, on_delete=models.CASCADE, related_name="second_opinion_requests"
    )
    # None only in an imported group, which has no club.
    club = models.ForeignKey(
        Club,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="second_opinion_requests",
    )
    yard_day = models.ForeignKey(
        YardDay, null=True, blank=True, on_delete=models.PROTECT, related_name="requests"
    )
    asked_by = models.ForeignKey(
        PERSON, on_delete=models.PROTECT, related_name="second_opinions_asked"
    )
    question = models.CharField(max_length=1000)
    checkpoints = models.JSONField(default=list, help_text="codes of those it is about, if some")
    wanted_by = models.DateField(null=True, blank=True)
    subject = models.CharField(
        max_length=64, editable=False, help_text="digest of what is asked: nobody asks it twice"
    )
    offered_to = models.ForeignKey(
        PERSON,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="second_opinions_offered",
        help_text="the adviser whom the secretary asked, while nobody else is to take it",
    )
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    answer = models.TextField(blank=True, max_length=4000, help_text="in words")
    answered_by = models.ForeignKey(
        PERSON,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="second_opinions_answered",
    )
    answered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["candidate", "subject"],
                condition=Q(state__in=("waiting", "taken")),
                name="one_open_request_per_candidate_and_subject",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=("waiting", "taken")) | ~Q(club=None),
                name="open_request_is_within_a_club",
            ),
            models.CheckConstraint(
                condition=(Q(state="answered") & ~Q(answered_at=None) & ~Q(answered_by=None))
                | (~Q(state="answered") & Q(answered_at=None, answered_by=None, answer="")),
                name="answered_request_says_by_whom_and_when",
            ),
            models.CheckConstraint(
                condition=Q(offered_to=None) | Q(state="waiting"),
                name="only_a_waiting_request_is_offered",
            ),
        ]
        indexes = [
            models.Index(fields=["club"], condition=Q(state="waiting"), name="requests_waiting"),
        ]

    @property
    def open_within(self) -> uuid.UUID:
        """The club of an open request; a constraint ensures that it has one."""
        assert self.club_id is not None
        return self.club_id

    def __str__(self) -> str:
        return f"{self.question[:60]} ({self.state})"


class Assignment(Versioned):
    """A person outside the group who took a request; while it is live they see only that boat."""

    class Ending(models.TextChoices):
        ANSWERED = "answered", "answered"
        HANDED_BACK = "handed_back", "handed back unfinished"
        ENDED = "ended", "ended by the group"
        WITHDRAWN = "withdrawn", "the request was withdrawn"
        LAPSED = "lapsed", "the assignee may no longer look at her"

    request = models.ForeignKey(
        SecondOpinionRequest, on_delete=models.CASCADE, related_name="assignments"
    )
    person = models.ForeignKey(PERSON, on_delete=models.PROTECT, related_name="assignments")
    viewing = models.OneToOneField(
        Viewing,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="assignment",
        help_text="the visit made for it",
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ending = models.CharField(max_length=12, blank=True, choices=Ending.choices)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["request"],
                condition=Q(ended_at=None),
                name="one_live_assignment_per_request",
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None, ending="") | (~Q(ended_at=None) & ~Q(ending="")),
                name="ended_assignment_says_how",
            ),
        ]
        indexes = [
            models.Index(fields=["person"], condition=Q(ended_at=None), name="assignments_live"),
        ]

    def __str__(self) -> str:
        return f"{self.request_id} taken by {self.person_id}"


class Step(models.Model):
    """A step of a request: what happened, who did it and when. Steps are only added."""

    class Kind(models.TextChoices):
        ASKED = "asked", "asked"
        OFFERED = "offered", "the secretary asked an adviser for it"
        TAKEN = "taken", "taken on"
        DECLINED = "declined", "declined"
        VISIT = "visit_planned", "a visit was planned"
        SUBMITTED = "submitted", "findings were submitted"
        HANDED_BACK = "handed_back", "handed back unfinished"
        ANSWERED = "answered", "answered"
        ENDED = "access_ended", "the group ended the access"
        LAPSED = "access_lapsed", "the access lapsed"
        WITHDRAWN = "withdrawn", "withdrawn"

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    request = models.ForeignKey(
        SecondOpinionRequest, on_delete=models.CASCADE, related_name="steps"
    )
    kind = models.CharField(max_length=14, choices=Kind.choices)
    by = models.ForeignKey(
        PERSON,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="second_opinion_steps",
        help_text="nobody: the service itself",
    )
    whom = models.ForeignKey(
        PERSON,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="to whom it was offered, whose access ended",
    )
    words = models.TextField(blank=True, max_length=4000, help_text="the reason, or the answer")
    created_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return f"{self.kind} by {self.by_id}"
