from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.accounts.api.key_serializers import ClientField
from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.api.fields import AmountField
from apps.http.bodies import StrictBody
from apps.http.fields import CurrencyField, MoneyField
from apps.http.views import ClientIdMixin
from apps.surveys.comparing import RULINGS, VERDICTS
from apps.surveys.models import Survey, SurveyFinding, SurveyReport
from apps.surveys.reporting import EnteredReport, RepairRange, ReportedFinding
from apps.viewings.api.fields import OptionalWord
from apps.viewings.api.submission_serializers import MeasuredSerializer
from apps.viewings.measures import Measured
from apps.viewings.models import PROFESSIONS, REASONS, Finding

MOST_FINDINGS = 500


class SurveySerializer(serializers.ModelSerializer[Survey]):
    profession = serializers.ChoiceField(PROFESSIONS, help_text="whose judgement its findings are")
    fee = AmountField("fee_amount", "fee_currency", allow_null=True)
    payer = PersonRefSerializer(allow_null=True)
    commissioned_by = PersonRefSerializer()
    report = serializers.SerializerMethodField(help_text="the one that counts; null before")

    class Meta:
        model = Survey
        fields = (
            "id",
            "version",
            "candidate",
            "vote",
            "kind",
            "profession",
            "state",
            "surveyor",
            "scope",
            "lift_out",
            "planned_on",
            "fee",
            "payer",
            "note",
            "commissioned_by",
            "report",
            "created_at",
            "updated_at",
        )

    @extend_schema_field(serializers.UUIDField(allow_null=True))
    def get_report(self, survey: Survey) -> str | None:
        reports = sorted(survey.reports.all(), key=lambda one: one.number)
        return str(reports[-1].pk) if reports else None


class SurveyFields(StrictBody):
    """What was agreed on a survey."""

    surveyor = serializers.CharField(max_length=120, help_text="the group's name for them")
    scope = serializers.CharField(max_length=1000, default="", allow_blank=True)
    lift_out = serializers.BooleanField(default=False, help_text="she is lifted out for it")
    planned_on = serializers.DateField(default=None, allow_null=True)
    fee = MoneyField(
        default=None,
        allow_null=True,
        help_text="as agreed; what was paid belongs in the group's ledger",
    )
    payer = serializers.UUIDField(
        default=None, allow_null=True, help_text="who of the group pays it first"
    )
    note = serializers.CharField(max_length=1000, default="", allow_blank=True)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if "fee" in attrs:
            fee = attrs.pop("fee")
            attrs["fee_amount"] = fee and fee.amount
            attrs["fee_currency"] = fee.currency if fee else ""
        for name in ("payer", "vote"):
            if name in attrs:
                attrs[f"{name}_id"] = attrs.pop(name)
        return attrs


class SurveyBody(ClientIdMixin, SurveyFields):
    """A survey that the group commissions."""

    kind = serializers.ChoiceField(Survey.Kind.choices)
    vote = serializers.UUIDField(
        default=None, allow_null=True, help_text="the vote on this boat that decided it, if any"
    )


class SurveyChange(SurveyFields):
    """What changed; fields left out stay."""

    state = serializers.ChoiceField(Survey.State.choices)


class CostRangeBody(StrictBody):
    """What putting it right may cost, as the professional says."""

    low = serializers.DecimalField(max_digits=14, decimal_places=2, min_value=Decimal("0.01"))
    high = serializers.DecimalField(max_digits=14, decimal_places=2, min_value=Decimal("0.01"))
    currency = CurrencyField()


class SurveyFindingBody(StrictBody):
    """One finding. With a checkpoint it counts in results; else it is kept in words."""

    checkpoint = serializers.CharField(max_length=60, default=None, allow_null=True)
    kind = serializers.ChoiceField(Finding.Kind.choices, default=Finding.Kind.LOOKED)
    level = serializers.IntegerField(
        min_value=0,
        max_value=4,
        default=None,
        allow_null=True,
        help_text="0 sound, 1 serviceable, 2 tired, 3 defective, 4 failed; of a checkpoint. May be "
        "left out where a measured value gives it",
    )
    reason = OptionalWord(
        list(REASONS.items()), default="", help_text="if it could not be looked at"
    )
    measured = MeasuredSerializer(
        default=None, allow_null=True, help_text="where the checkpoint has a measure"
    )
    words = serializers.CharField(
        max_length=4000, default="", allow_blank=True, help_text="as the report says it"
    )
    urgency = OptionalWord(
        SurveyFinding.Urgency.choices, default="", help_text="how soon it is to be put right"
    )
    cost = CostRangeBody(default=None, allow_null=True)
    remedy = serializers.CharField(
        max_length=60,
        default=None,
        allow_null=True,
        help_text="code of the remedy that the cost is for: it then counts as an estimate of it",
    )


class SurveyReportBody(ClientIdMixin, StrictBody):
    """A professional's report, findings and all."""

    document = serializers.CharField(max_length=300, help_text="its number, date or file")
    looked_at = serializers.DateTimeField(help_text="when the professional looked")
    summary = serializers.CharField(max_length=4000, default="", allow_blank=True)
    findings = SurveyFindingBody(many=True, min_length=1, max_length=MOST_FINDINGS)  # type: ignore[call-arg]  # for the list


def report_of(body: dict[str, Any]) -> EnteredReport:
    """The content of a validated body."""
    findings = tuple(
        ReportedFinding(
            **{
                **one,
                "cost": RepairRange(**cost) if (cost := one["cost"]) else None,
                "measured": Measured(**read) if (read := one["measured"]) else None,
            }
        )
        for one in body["findings"]
    )
    return EnteredReport(**{**body, "findings": findings})


class SurveyFindingSerializer(serializers.ModelSerializer[SurveyFinding]):
    reason = OptionalWord(list(REASONS.items()))
    urgency = OptionalWord(SurveyFinding.Urgency.choices)
    measured = serializers.SerializerMethodField()
    cost = serializers.SerializerMethodField()

    class Meta:
        model = SurveyFinding
        fields = (
            "checkpoint",
            "kind",
            "level",
            "reason",
            "measured",
            "words",
            "urgency",
            "cost",
            "remedy",
            "quote",
        )

    @extend_schema_field(MeasuredSerializer(allow_null=True))
    def get_measured(self, finding: SurveyFinding) -> dict[str, float | str] | None:
        if finding.measured_value is None:
            return None
        return {"value": finding.measured_value, "unit": finding.measured_unit}

    @extend_schema_field(CostRangeBody(allow_null=True))
    def get_cost(self, finding: SurveyFinding) -> dict[str, str] | None:
        if finding.low is None or finding.high is None:
            return None
        return {
            "low": f"{finding.low:.2f}",
            "high": f"{finding.high:.2f}",
            "currency": finding.currency,
        }


class SurveyReportSerializer(serializers.ModelSerializer[SurveyReport]):
    """`submission`: the findings as they count in results. The highest `number` counts."""

    entered_by = PersonRefSerializer()
    client = ClientField(help_text="the program that sent it")
    findings = SurveyFindingSerializer(many=True)

    class Meta:
        model = SurveyReport
        fields = (
            "id",
            "version",
            "survey",
            "number",
            "submission",
            "document",
            "looked_at",
            "summary",
            "entered_by",
            "client",
            "findings",
            "created_at",
        )


# --- The survey beside what the group had seen ---------------------------------------------------


class GlanceSerializer(serializers.Serializer[Any]):
    person_id = serializers.UUIDField()
    name = serializers.CharField()
    level = serializers.IntegerField()
    verdict = serializers.ChoiceField(VERDICTS)


class ComparedCheckpointSerializer(serializers.Serializer[Any]):
    code = serializers.CharField()
    title = serializers.CharField()
    area = serializers.CharField()
    level = serializers.IntegerField(help_text="what the survey says; it stands above all looks")
    judged_by = serializers.CharField(help_text="the professional who must judge it, if any")
    looks = GlanceSerializer(many=True, help_text="each member's last look before the survey")
    verdict = serializers.ChoiceField(VERDICTS, help_text="of the group")
    ruled = serializers.ChoiceField(
        RULINGS,
        allow_null=True,
        help_text="in: trouble; out: a doubt of the group's that proved to be less",
    )


class ComparedPersonSerializer(serializers.Serializer[Any]):
    person_id = serializers.UUIDField()
    name = serializers.CharField()
    found = serializers.IntegerField()
    missed = serializers.IntegerField()
    overcalled = serializers.IntegerField()
    agreed = serializers.IntegerField()
    difference = serializers.FloatField(
        help_text="mean of the person's levels minus the survey's; above 0: took things for worse"
    )


class SurveyComparisonSerializer(serializers.Serializer[Any]):
    report = serializers.UUIDField()
    caution = serializers.CharField()
    checkpoints = ComparedCheckpointSerializer(many=True)
    people = ComparedPersonSerializer(many=True)
