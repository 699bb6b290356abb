from django.db import models

from apps.boats.models import Candidate, CandidateList


class ListAppraisal(models.Model):
    """The results of one list, replaced as a whole, and the lease of whoever works on them."""

    list = models.OneToOneField(
        CandidateList, primary_key=True, on_delete=models.CASCADE, related_name="appraisal"
    )
    revision = models.PositiveBigIntegerField(
        default=0, help_text="of the inputs these results were worked out from; 0: none yet"
    )
    edition = models.PositiveIntegerField(
        default=0, help_text="of the catalogue these results were worked out with"
    )
    method = models.CharField(max_length=40, blank=True, help_text="the model's version")
    computed_at = models.DateTimeField(null=True)
    seconds = models.FloatField(null=True, help_text="how long the work took")
    standing = models.JSONField(default=dict)
    # What takes longer comes after the standing, at the same revision.
    looks_revision = models.PositiveBigIntegerField(default=0)
    looks_computed_at = models.DateTimeField(null=True)
    next_looks = models.JSONField(default=dict)
    inspectors = models.JSONField(default=dict)
    # Whoever holds the lease works on the list; it runs out if the worker died.
    leased_until = models.DateTimeField(null=True, db_index=True)
    leased_by = models.UUIDField(null=True)
    # What failed is tried again later on the same inputs, and at once on new ones.
    attempts = models.PositiveSmallIntegerField(default=0, help_text="that failed in a row")
    failed_revision = models.PositiveBigIntegerField(default=0)
    retry_at = models.DateTimeField(null=True)
    last_error = models.TextField(blank=True)

    def __str__(self) -> str:
        return f"appraisal of {self.list_id} at {self.revision}"


class CandidateAppraisal(models.Model):
    """The results of one candidate, at the same revision as its list's."""

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
