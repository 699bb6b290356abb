from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from apps.accounts.models import ThroughClient
from apps.boats.models import Candidate
from apps.catalogue import vocabulary
from apps.catalogue.models import Checkpoint, CheckpointVersion
from apps.common.models import Versioned
from apps.viewings.conditions import Conditions
from apps.viewings.media.document_models import GateDocument  # noqa: F401 (a model of this app)
from apps.viewings.media.models import (  # noqa: F401 (models of this app too)
    OrphanFile,
    Photo,
    SellerPhoto,
    Sound,
)

# Reasons why a checkpoint could not be looked at: the catalogue's, and personal ones.
REASONS = {
    **vocabulary.REASONS,
    "no_time": "there was no time for it",
    "no_tool": "the tool for it was not there",
    "other": "something else; the note says what",
}
PROFESSIONS = [(profession, profession) for profession in vocabulary.PROFESSIONALS]


class Viewing(Versioned, Conditions):
    """A planned or made visit to one candidate. Its kind never changes."""

    class Kind(models.TextChoices):
        VISIT = "visit", "visit"
        SEA_TRIAL = "sea_trial", "sea trial"

    class State(models.TextChoices):
        PLANNED = "planned", "planned"
        MADE = "made", "made"
        CALLED_OFF = "called_off", "called off"

    candidate = models.ForeignKey(Candidate, on_delete=models.CASCADE, related_name="viewings")
    kind = models.CharField(max_length=10, choices=Kind.choices, default=Kind.VISIT)
    starts_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.PLANNED)
    people = models.ManyToManyField(
        settings.AUTH_USER_MODEL, blank=True, related_name="viewings", help_text="who goes"
    )
    note = models.TextField(blank=True, max_length=4000)
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="viewings_added"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="visit") | Q(kind="sea_trial", where="afloat"),
                name="sea_trial_is_afloat",
            ),
            models.CheckConstraint(
                condition=Q(kind="sea_trial")
                | Q(wind=None, sea_state=None, sails_set="", full_throttle="", load=""),
                name="only_a_sea_trial_is_under_way",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.candidate_id} at {self.starts_at:%Y-%m-%d}"

    @property
    def is_sea_trial(self) -> bool:
        return self.kind == self.Kind.SEA_TRIAL

    @property
    def circumstances(self) -> dict[str, Any]:
        """Its kind and its conditions: what decides which checks are possible."""
        return {"kind": self.kind, **self.conditions}


class Submission(Versioned, ThroughClient):
    """One person's findings from one viewing. Once submitted, it can only be superseded."""

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        SUBMITTED = "submitted", "submitted"

    class Vote(models.TextChoices):
        KEEP = "keep", "keep"
        QUERY = "query", "query"
        STRIKE = "strike", "strike off"

    class Capacity(models.TextChoices):
        """The capacity of the findings: a professional's have more weight and may clear doubts."""

        MEMBER = "member", "a member's own look"
        PROFESSIONAL = "professional", "entered from a professional's report"

    viewing = models.ForeignKey(Viewing, on_delete=models.CASCADE, related_name="submissions")
    author = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="submissions"
    )
    state = models.CharField(max_length=10, choices=State.choices, default=State.DRAFT)
    submitted_at = models.DateTimeField(null=True, blank=True)
    supersedes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="superseded_by"
    )
    capacity = models.CharField(max_length=12, choices=Capacity.choices, default=Capacity.MEMBER)
    profession = models.CharField(max_length=20, blank=True, choices=PROFESSIONS)
    vote = models.CharField(max_length=6, choices=Vote.choices, blank=True)
    minutes = models.PositiveSmallIntegerField(null=True, blank=True, help_text="time spent")
    note = models.TextField(blank=True, max_length=4000)
    observed_at = models.DateTimeField(
        null=True, blank=True, help_text="by the sender's clock, as far as that can be right"
    )
    observed_stated = models.DateTimeField(
        null=True, blank=True, help_text="what the sender's clock said, where that cannot be right"
    )
    made_from = models.CharField(
        max_length=64,
        editable=False,
        help_text="digest of the request that made it, to recognise a repeat",
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=(Q(state="draft") & Q(submitted_at=None))
                | (Q(state="submitted") & ~Q(submitted_at=None)),
                name="submission_submitted_says_when",
            ),
            models.CheckConstraint(
                condition=(Q(capacity="member") & Q(profession=""))
                | (Q(capacity="professional") & ~Q(profession="")),
                name="professional_submission_says_which",
            ),
            models.CheckConstraint(
                condition=Q(supersedes=None) | ~Q(supersedes=F("id")),
                name="submission_supersedes_another_one",
            ),
            models.CheckConstraint(
                condition=Q(observed_stated=None) | ~Q(observed_at=None),
                name="wrong_clock_beside_a_better_time",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.state} by {self.author_id}"


# A submission counts if it is submitted and no other submitted one supersedes it.
LIVE = Q(state=Submission.State.SUBMITTED) & (
    Q(superseded_by=None) | Q(superseded_by__state=Submission.State.DRAFT)
)


class Finding(models.Model):
    """One checkpoint in a submission, made against the checkpoint's version at that time."""

    class Kind(models.TextChoices):
        LOOKED = "looked", "looked"
        COULD_NOT_LOOK = "could_not_look", "could not look"
        DOES_NOT_APPLY = "does_not_apply", "does not apply"

    class Sureness(models.TextChoices):
        SURE = "sure", "sure"
        FAIRLY = "fairly", "fairly sure"
        GUESS = "guess", "a guess"

    class Level(models.IntegerChoices):
        SOUND = 0, "sound"
        SERVICEABLE = 1, "serviceable"
        TIRED = 2, "tired"
        DEFECTIVE = 3, "defective"
        FAILED = 4, "failed"

    submission = models.ForeignKey(Submission, on_delete=models.CASCADE, related_name="findings")
    checkpoint = models.ForeignKey(Checkpoint, on_delete=models.PROTECT, related_name="+")
    checkpoint_version = models.ForeignKey(
        CheckpointVersion, on_delete=models.PROTECT, related_name="findings"
    )
    kind = models.CharField(max_length=15, choices=Kind.choices)
    level = models.PositiveSmallIntegerField(null=True, blank=True, choices=Level.choices)
    reason = models.CharField(
        max_length=30,
        blank=True,
        choices=list(REASONS.items()),
        help_text="why it could not be looked at",
    )
    sureness = models.CharField(max_length=6, choices=Sureness.choices, default=Sureness.FAIRLY)
    measured_value = models.FloatField(null=True, blank=True, help_text="as read off, in its unit")
    measured_unit = models.CharField(max_length=20, blank=True)
    note = models.TextField(blank=True, max_length=4000)
    tags = models.JSONField(default=list)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["submission", "checkpoint"], name="one_finding_per_checkpoint"
            ),
            models.CheckConstraint(
                # A comparison with NULL is neither true nor false, and a check fails only on false.
                condition=(
                    Q(kind="looked") & Q(level__isnull=False) & Q(level__gte=0) & Q(level__lte=4)
                )
                | (~Q(kind="looked") & Q(level=None)),
                name="finding_has_a_level_only_if_looked",
            ),
            models.CheckConstraint(
                condition=(Q(kind="could_not_look") & ~Q(reason=""))
                | (~Q(kind="could_not_look") & Q(reason="")),
                name="finding_has_a_reason_only_if_could_not_look",
            ),
            models.CheckConstraint(
                condition=(Q(measured_value=None) & Q(measured_unit=""))
                | (Q(kind="looked") & ~Q(measured_value=None) & ~Q(measured_unit="")),
                name="finding_measured_with_a_unit_and_only_if_looked",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.checkpoint_id}: {self.kind}"


class FollowUp(Versioned):
    """A question, with the people who ask and are asked, and what the answer changed."""

    class AskedOf(models.TextChoices):
        SELLER = "seller", "the seller"
        YARD = "yard", "a yard"
        BROKER = "broker", "the broker"
        SURVEYOR = "surveyor", "a surveyor"
        RIGGER = "rigger", "a rigger"
        SAILMAKER = "sailmaker", "a sailmaker"
        ENGINE_MECHANIC = "engine_mechanic", "an engine mechanic"
        ELECTRICIAN = "electrician", "an electrician"
        GAS_FITTER = "gas_fitter", "a gas fitter"
        INSURER = "insurer", "an insurer"
        LAWYER = "lawyer", "a lawyer"
        CO_BUYER = "co_buyer", "a co-buyer"
        OTHER = "other", "somebody else"

    class State(models.TextChoices):
        OPEN = "open", "open"
        ANSWERED = "answered", "answered"
        DROPPED = "dropped", "dropped"

    candidate = models.ForeignKey(Candidate, on_delete=models.CASCADE, related_name="follow_ups")
    checkpoint = models.ForeignKey(
        Checkpoint, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    question = models.CharField(max_length=500)
    asked_of = models.CharField(max_length=20, choices=AskedOf.choices)
    assignee = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="follow_ups",
    )
    due_on = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN)
    answer = models.TextField(blank=True, max_length=4000)
    changed = models.TextField(blank=True, max_length=1000, help_text="what the answer changed")
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="follow_ups_added"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(state="answered") | ~Q(answer=""),
                name="answered_follow_up_has_an_answer",
            ),
        ]

    def __str__(self) -> str:
        return self.question


# A professional who finds it worse than this does not clear it but submits a finding.
CLEARING_LEVELS = Finding.Level.choices[:2]


class Clearance(Versioned):
    """A professional's finding or a document that closes a doubt about structure or safety."""

    class Basis(models.TextChoices):
        PROFESSIONAL = "professional", "a professional's finding"
        REPAIR = "repair", "a documented repair"
        RECEIPT = "receipt", "a receipt for what was renewed or serviced"

    candidate = models.ForeignKey(Candidate, on_delete=models.CASCADE, related_name="clearances")
    checkpoint = models.ForeignKey(Checkpoint, on_delete=models.PROTECT, related_name="+")
    basis = models.CharField(max_length=12, choices=Basis.choices)
    level = models.PositiveSmallIntegerField(
        choices=CLEARING_LEVELS, help_text="in which state it is now: sound or serviceable"
    )
    profession = models.CharField(max_length=20, blank=True, choices=PROFESSIONS)
    document = models.CharField(max_length=300, help_text="the report or bill that says so")
    dated_on = models.DateField()
    note = models.TextField(blank=True, max_length=4000)
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="clearances_added"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(level__gte=0) & Q(level__lte=1), name="clearance_says_it_is_in_order"
            ),
            models.CheckConstraint(
                condition=(Q(basis="professional") & ~Q(profession=""))
                | (Q(basis__in=["repair", "receipt"]) & Q(profession="")),
                name="professional_clearance_says_which",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.checkpoint_id} cleared by {self.basis}"
