from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from apps.accounts.models import Program
from apps.common.models import Versioned


class Club(Versioned):
    """A club: it has groups, an own catalogue, advisers, and pooled statistics."""

    name = models.CharField(max_length=120)

    def __str__(self) -> str:
        return self.name


class ClubMembership(Versioned):
    class Role(models.TextChoices):
        SECRETARY = "secretary", "secretary"
        ADVISER = "adviser", "adviser"
        MEMBER = "member", "member"

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="memberships")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="club_memberships"
    )
    role = models.CharField(max_length=10, choices=Role.choices)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["club", "person"],
                condition=Q(ended_at=None),
                name="one_live_membership_per_club_and_person",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person_id}, {self.role} of {self.club_id}"


class Group(Versioned):
    """The people buying together; may belong to a club or stand alone."""

    club = models.ForeignKey(
        Club, null=True, blank=True, on_delete=models.PROTECT, related_name="groups"
    )
    name = models.CharField(max_length=120)
    pools_with_club = models.BooleanField(
        default=False,
        help_text="its findings help the other groups of the club that pool, and theirs help it",
    )
    shares_surveys = models.BooleanField(
        default=False,
        help_text="surveys of its boats, and bills, are summed up in the club's statistics",
    )

    importing = models.BooleanField(
        default=False,
        editable=False,
        help_text="it is being brought in: nobody belongs to it yet, and nothing is worked out",
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(pools_with_club=False) | ~Q(club=None),
                name="only_a_group_in_a_club_pools",
            ),
            models.CheckConstraint(
                condition=Q(shares_surveys=False) | ~Q(club=None),
                name="only_a_group_in_a_club_shares_surveys",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Membership(Versioned):
    """One person in one group. Buyers have a share of the purchase; None means equal parts."""

    class Role(models.TextChoices):
        ORGANISER = "organiser", "organiser"
        BUYER = "buyer", "buyer"
        HELPER = "helper", "helper"
        OBSERVER = "observer", "observer"

    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="memberships")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="memberships"
    )
    role = models.CharField(max_length=10, choices=Role.choices)
    buys = models.BooleanField(default=True, help_text="votes, and pays a share of the purchase")
    share = models.DecimalField(max_digits=7, decimal_places=6, null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["group", "person"],
                condition=Q(ended_at=None),
                name="one_live_membership_per_group_and_person",
            ),
            models.CheckConstraint(
                condition=Q(share=None) | Q(share__gte=Decimal(0), share__lte=Decimal(1)),
                name="share_between_0_and_1",
            ),
            models.CheckConstraint(
                condition=Q(buys=False) | Q(role__in=("organiser", "buyer")),
                name="helpers_and_observers_do_not_buy",
            ),
            models.CheckConstraint(
                condition=Q(share=None) | Q(buys=True), name="only_buyers_have_a_share"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person_id}, {self.role} of {self.group_id}"


class Invitation(Versioned):
    """A one-use, expiring link into a group or a club; only its token's digest is stored."""

    group = models.ForeignKey(
        Group, null=True, blank=True, on_delete=models.CASCADE, related_name="invitations"
    )
    club = models.ForeignKey(
        Club, null=True, blank=True, on_delete=models.CASCADE, related_name="invitations"
    )
    role = models.CharField(max_length=10)
    note = models.CharField(max_length=200, blank=True, help_text="for whom it is meant")
    digest = models.CharField(max_length=64, unique=True, editable=False)
    token: str  # the secret, only on a new one; never stored
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="invitations_made"
    )
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)
    used_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="invitations_used",
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=(Q(group=None) & ~Q(club=None)) | (~Q(group=None) & Q(club=None)),
                name="invitation_into_one_group_or_one_club",
            ),
            models.CheckConstraint(
                condition=(Q(used_at=None) & Q(used_by=None))
                | (~Q(used_at=None) & ~Q(used_by=None)),
                name="used_invitation_says_by_whom",
            ),
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("created_at")),
                name="invitation_expires_after_it_is_made",
            ),
        ]

    def __str__(self) -> str:
        return f"invitation as {self.role}"


class AdmissionRequest(Versioned):
    """An existing group's request to join a club. One is open at a time."""

    class State(models.TextChoices):
        WAITING = "waiting", "nobody of the club has decided"
        ACCEPTED = "accepted", "the group was taken in"
        DECLINED = "declined", "declined by the club"
        WITHDRAWN = "withdrawn", "withdrawn by the group"

    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="admission_requests")
    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="admission_requests")
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="admissions_asked"
    )
    note = models.TextField(blank=True, max_length=1000, help_text="to the club's secretaries")
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    reason = models.TextField(blank=True, max_length=1000, help_text="why it was declined")
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="admissions_settled",
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["group"],
                condition=Q(state="waiting"),
                name="one_open_admission_request_per_group",
            ),
            models.CheckConstraint(
                condition=Q(state__in=("waiting", "accepted", "declined", "withdrawn")),
                name="admission_request_in_a_known_state",
            ),
            models.CheckConstraint(
                condition=Q(state="waiting", settled_at=None, settled_by=None)
                | (~Q(state="waiting") & ~Q(settled_at=None) & ~Q(settled_by=None)),
                name="settled_admission_request_says_by_whom",
            ),
            models.CheckConstraint(
                condition=Q(reason="") | Q(state="declined"),
                name="only_a_declined_admission_has_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.group_id} to {self.club_id}: {self.state}"


class GroupProgram(Versioned):
    """Another program in a group: one of its own, or one that acts for a member of it."""

    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="programs")
    program = models.ForeignKey(Program, on_delete=models.CASCADE, related_name="in_groups")
    enabled = models.BooleanField(default=True, help_text="false: shut out of this group")
    posted_at = models.DateTimeField(null=True, blank=True, help_text="when it last did")
    client_secret: str  # only on a new one; never stored here

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["group", "program"], name="program_once_in_a_group"),
        ]

    def __str__(self) -> str:
        return f"{self.program_id} in {self.group_id}"
