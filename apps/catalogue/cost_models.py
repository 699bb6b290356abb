"""Costs in an edition of the catalogue."""

from django.db import models
from django.db.models import F, Q

from apps.catalogue import vocabulary
from apps.catalogue.own.models import CatalogueChange  # noqa: F401 (a model of this app too)


class Coded(models.Model):
    """Named by a stable slug. Entries that leave the files are retired, never deleted."""

    code = models.SlugField(primary_key=True, max_length=60)
    title = models.CharField(max_length=200)
    retired = models.BooleanField(default=False)

    class Meta:
        abstract = True
        ordering = ("code",)

    def __str__(self) -> str:
        return self.code


class Priced(models.Model):
    """Three-point hours and parts for a boat of the reference length."""

    hours_low = models.FloatField()
    hours_likely = models.FloatField()
    hours_high = models.FloatField()
    parts_low = models.FloatField()
    parts_likely = models.FloatField()
    parts_high = models.FloatField()
    loa_exponent = models.FloatField(default=0)
    confidence = models.CharField(max_length=5)
    source = models.CharField(max_length=400)

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                condition=Q(hours_low__gte=0)
                & Q(hours_low__lte=F("hours_likely"))
                & Q(hours_likely__lte=F("hours_high"))
                & Q(parts_low__gte=0)
                & Q(parts_low__lte=F("parts_likely"))
                & Q(parts_likely__lte=F("parts_high")),
                name="%(class)s_points_in_order",
            ),
            models.CheckConstraint(
                condition=Q(loa_exponent__gte=0) & Q(loa_exponent__lte=3),
                name="%(class)s_loa_exponent_0_to_3",
            ),
            models.CheckConstraint(
                condition=Q(confidence__in=vocabulary.CONFIDENCES),
                name="%(class)s_confidence_known",
            ),
        ]


class Enabling(Coded, Priced):
    """Work that several remedies need first and that is paid once."""

    class Meta(Coded.Meta, Priced.Meta):
        verbose_name_plural = "enabling work"


class CostPerBasis(Coded):
    """A three-point cost per metre, per boat or as a share of value."""

    low = models.FloatField()
    likely = models.FloatField()
    high = models.FloatField()
    per = models.CharField(max_length=5)
    source = models.CharField(max_length=400)

    class Meta(Coded.Meta):
        abstract = True
        constraints = [
            models.CheckConstraint(
                condition=Q(low__gte=0) & Q(low__lte=F("likely")) & Q(likely__lte=F("high")),
                name="%(class)s_points_in_order",
            )
        ]


class Fee(CostPerBasis):
    """Costs of buying besides the price."""

    class Meta(CostPerBasis.Meta):
        constraints = [
            *CostPerBasis.Meta.constraints,
            models.CheckConstraint(
                condition=Q(per__in=vocabulary.FEE_BASES), name="fee_basis_known"
            ),
        ]


class RunningCost(CostPerBasis):
    """Yearly costs of keeping the boat."""

    class Meta(CostPerBasis.Meta):
        constraints = [
            *CostPerBasis.Meta.constraints,
            models.CheckConstraint(
                condition=Q(per__in=vocabulary.RUNNING_BASES), name="running_cost_basis_known"
            ),
        ]
