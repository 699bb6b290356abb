from django.db import models

from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.groups.models import Group
from apps.jobs.models import Job


class ListAppraisal(Job):
    """The results of one list, replaced as a whole, and the lease of the worker on them."""

    # Columns that most reads leave where they are.
    LARGE = ("standing", "next_looks", "raters", "cost_looks")

    list = models.OneToOneField(
        CandidateList, primary_key=True, on_delete=models.CASCADE, related_name="appraisal"
    )
    revision = models.PositiveBigIntegerField(
        default=0, help_text="revision of the inputs of these results; 0: none yet"
    )
    edition = models.PositiveIntegerField(
        default=0, help_text="edition of the catalogue's base in these results"
    )
    club_edition = models.PositiveIntegerField(
        default=0, help_text="edition of the club's overlay; 0: none"
    )
    group_edition = models.PositiveIntegerField(
        default=0, help_text="edition of the group's overlay; 0: none"
    )
    method = models.CharField(max_length=40, blank=True, help_text="the model's version")
    computed_at = models.DateTimeField(null=True)
    seconds = models.FloatField(null=True, help_text="how long the work took")
    standing = models.JSONField(default=dict)
    # The slow results follow the standing, at the same revision.
    looks_revision = models.PositiveBigIntegerField(default=0)
    looks_edition = models.PositiveIntegerField(default=0, help_text="as `edition`")
    looks_method = models.CharField(max_length=40, blank=True, help_text="as `method`")
    looks_computed_at = models.DateTimeField(null=True)
    next_looks = models.JSONField(default=dict)
    raters = models.JSONField(default=dict)
    cost_looks = models.JSONField(
        default=dict, help_text="by how much looks would move costs, from no opinions"
    )
    # A failed list is tried again later on the same inputs, and at once on new ones.
    failed_revision = models.PositiveBigIntegerField(default=0)

    def __str__(self) -> str:
        return f"appraisal of {self.list_id} at {self.revision}"

    @property
    def editions(self) -> dict[str, int]:
        """Editions of the catalogue that the results were computed with."""
        return {"base": self.edition, "club": self.club_edition, "group": self.group_edition}


class CandidateAppraisal(models.Model):
    """The results of one candidate, at the same revision as its list's."""

    LARGE = ("rollup", "consensus", "reasons", "explanation")

    candidate = models.OneToOneField(
        Candidate, primary_key=True, on_delete=models.CASCADE, related_name="appraisal"
    )
    list_appraisal = models.ForeignKey(
        ListAppraisal, on_delete=models.CASCADE, related_name="candidates"
    )
    revision = models.PositiveBigIntegerField()
    rollup = models.JSONField(default=dict)
    consensus = models.JSONField(default=dict)
    reasons = models.JSONField(default=dict)
    explained_revision = models.PositiveBigIntegerField(default=0)
    explanation = models.JSONField(default=dict)

    def __str__(self) -> str:
        return f"appraisal of {self.candidate_id} at {self.revision}"


class NarrowerResults(models.Model):
    """Results from some of a list's opinions only, for readers who may not see the others.

    `results` replaces the list's standing or next looks. `boats`, by id, replaces the parts of each
    boat's reasons or explanation that depend on opinions. These rows are replaced together with
    the list's full results.
    """

    class Of(models.TextChoices):
        BOARD = "board", "standing, and reasons"
        LOOKS = "looks", "next looks, and explanations"

    list_appraisal = models.ForeignKey(
        ListAppraisal, on_delete=models.CASCADE, related_name="narrower"
    )
    of = models.CharField(max_length=5, choices=Of.choices)
    rests_on = models.JSONField(help_text="boats whose valuations it uses; ballots or not")
    results = models.JSONField()
    boats = models.JSONField()

    def __str__(self) -> str:
        return f"{self.of} of {self.list_appraisal_id} from some opinions"


class ReadyAnswer(models.Model):
    """The large part of an answer as it is sent, from some of a list's opinions or from all.

    `body` is a JSON object with marks in place of names, which may change without new results, as a
    format for Python's `%`, after a line with what the marks mean (apps/appraisal/ready.py). These
    rows are replaced together with the list's results.
    """

    list_appraisal = models.ForeignKey(
        ListAppraisal, on_delete=models.CASCADE, related_name="answers"
    )
    of = models.CharField(max_length=5, choices=NarrowerResults.Of.choices)
    rests_on = models.JSONField(help_text="boats whose valuations it uses; ballots or not")
    computed_at = models.DateTimeField(help_text="as of the list's results")
    sources = models.CharField(max_length=64, help_text="digest of the code that composed it")
    facts = models.JSONField(default=dict, help_text="what the rest of the answer needs of it")
    body = models.TextField()

    def __str__(self) -> str:
        return f"{self.of} of {self.list_appraisal_id} as it is sent"


class GroupPool(models.Model):
    """Priors from the club's other pooling groups, as one group receives them.

    Always from three of them or more, so that nobody can infer a single boat. The data comes from
    other groups: it is visible only through the results of the group's own lists.
    """

    group = models.OneToOneField(
        Group, primary_key=True, on_delete=models.CASCADE, related_name="pool"
    )
    digest = models.CharField(max_length=64, help_text="digest of the inputs")
    sources = models.CharField(max_length=64, help_text="digest of the contributing groups")
    edition = models.PositiveIntegerField(help_text="edition of the catalogue's base")
    club_edition = models.PositiveIntegerField(
        default=0, help_text="edition of the club's overlay; 0: none"
    )
    method = models.CharField(max_length=40)
    computed_at = models.DateTimeField()
    groups = models.PositiveIntegerField(help_text="how many other groups contributed")
    boats = models.PositiveIntegerField(help_text="how many of their boats contributed")
    converged = models.BooleanField()
    care_prior = models.JSONField(help_text="prior of the three care classes")
    mu = models.JSONField(help_text="mean by checkpoint, where it differs from the catalogue's")
    graders = models.JSONField(help_text="lean and spread by person, for this group's people only")
    sellers = models.JSONField(
        null=True, blank=True, help_text="what is known of sellers' lean and spread, if anything is"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(groups__gte=3), name="pool_from_three_groups_at_least"
            ),
        ]

    def __str__(self) -> str:
        return f"pool of {self.groups} groups for {self.group_id}"
