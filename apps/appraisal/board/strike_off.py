"""The reasons to strike a boat off: one table of their stored numbers and their sentences.

`apps.reckoning.advice` decides when a reason holds; its stored shape is in `stored.parts`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Generic, TypedDict, TypeVar

from rest_framework import serializers

from apps.appraisal.compute.computing import Computed
from apps.appraisal.compute.consensus import judged_by
from apps.appraisal.figures import as_level, chance, number
from apps.appraisal.stored import parts
from apps.appraisal.words import phrases
from apps.appraisal.words.phrases import Names
from apps.boats.api.fields import WantedValueField
from apps.common.wording import lead, percent
from apps.reckoning import reasons

Found = TypeVar("Found", bound=reasons.Advice)
Stored = TypeVar("Stored", bound=parts.Advice)
Field = serializers.Field[Any, Any, Any, Any]


@dataclass(frozen=True)
class Reason(Generic[Found, Stored]):
    """One reason.

    found: its class in the reckoning. stored: its code with the numbers behind it. sentence: the
    text for people, with names. in_short: the words of a notification. grave: whether its
    notification comes first. fields: its fields in the API's schema; a field that two reasons
    share has one meaning.
    """

    found: type[Found]
    stored: Callable[[Computed, Found], Stored]
    sentence: Callable[[Stored, Names], str]
    in_short: str
    grave: bool = False
    fields: Mapping[str, Field] = field(default_factory=dict)


def stored(computed: Computed, one: reasons.Advice) -> parts.Advice:
    """A reason with the numbers behind it."""
    reason: Reason[reasons.Advice, parts.Advice] = REASONS[one.code]
    return reason.stored(computed, one)


def sentence(one: parts.Advice, names: Names) -> str:
    return REASONS[one["code"]].sentence(one, names)


def in_short(code: str) -> str:
    """A code that an earlier version of the service stored may be missing from the table."""
    return REASONS[code].in_short if code in REASONS else code.replace("_", " ")


class CheckpointNamed(TypedDict):
    checkpoint: str
    title: str
    judged_by: str


def checkpoint_named(computed: Computed, j: int, level: int) -> CheckpointNamed:
    checkpoint = computed.arrays.checkpoints[j]
    return {
        "checkpoint": checkpoint.code,
        "title": checkpoint.title,
        "judged_by": judged_by(checkpoint, level),
    }


PROBABILITY: dict[str, Field] = {
    "probability": serializers.FloatField(
        required=False,
        help_text="depends on the code: of the level to walk away from; that she costs more than "
        "she is worth; that the other is better for every buyer",
    )
}
CHECKPOINT: dict[str, Field] = {
    **PROBABILITY,
    "checkpoint": serializers.SlugField(required=False),
    "title": serializers.CharField(required=False),
    "level": serializers.IntegerField(required=False, min_value=0, max_value=4),
    "judged_by": serializers.CharField(
        required=False, allow_blank=True, help_text="the professional who must judge it"
    ),
}


# --- A broken must -------------------------------------------------------------------------------


def must_broken(computed: Computed, one: reasons.MustBroken) -> parts.MustBroken:
    want = next(want for want in computed.inputs.wants if str(want.id) == one.want)
    return {
        "code": "must_broken",
        "want_id": one.want,
        "person_id": str(want.person_id),
        "subject": want.subject,
        "key": want.key,
        "test": want.test,
        "wanted": want.value,
        "text": want.text,
        "is": number(one.value, 3),
    }


def must_broken_sentence(one: parts.MustBroken, names: Names) -> str:
    return f"{names.person(one['person_id'])} must have {phrases.want(one)}; {phrases.broken(one)}."


MUST_BROKEN = Reason(
    reasons.MustBroken,
    must_broken,
    must_broken_sentence,
    in_short="she breaks a must",
    fields={
        "want_id": serializers.UUIDField(required=False),
        "person_id": serializers.UUIDField(required=False),
        "subject": serializers.CharField(required=False),
        "key": serializers.CharField(required=False, allow_blank=True),
        "test": serializers.CharField(required=False, allow_blank=True),
        "wanted": WantedValueField(required=False, allow_null=True),
        "text": serializers.CharField(required=False, allow_blank=True),
    },
)


# --- What was found ------------------------------------------------------------------------------


def walk_away_finding(
    computed: Computed, one: reasons.WalkAwayReason
) -> parts.StoredWalkAwayFinding:
    return {
        "code": "walk_away_finding",
        **checkpoint_named(computed, one.checkpoint, one.walk_away_level),
        "level": as_level(one.walk_away_level),
        "probability": chance(one.probability),
    }


def walk_away_finding_sentence(one: parts.StoredWalkAwayFinding, _: Names) -> str:
    return (
        f"{lead(one['title'])} {percent(one['probability'])} likely to be "
        f"{phrases.at_least(one['level'])}, which is reason to walk away"
        f"{phrases.to_judge(one['judged_by'])}."
    )


WALK_AWAY_FINDING = Reason(
    reasons.WalkAwayReason,
    walk_away_finding,
    walk_away_finding_sentence,
    in_short="a finding is reason to walk away",
    grave=True,
    fields=CHECKPOINT,
)


def open_doubt(computed: Computed, one: reasons.OpenDoubtReason) -> parts.StoredOpenDoubt:
    return {
        "code": "open_doubt",
        **checkpoint_named(computed, one.checkpoint, one.level),
        "level": as_level(one.level),
        "probability": chance(one.probability),
        "seen_by": one.seen_by,
    }


def open_doubt_sentence(one: parts.StoredOpenDoubt, _: Names) -> str:
    """Results of an earlier method lack the probability and the number of people."""
    seen_by, likely = one.get("seen_by", 1), one.get("probability")
    who = "somebody" if seen_by < 2 else f"{phrases.counted(seen_by)} people"
    saw = f"{lead(one['title'])} {who} saw it as {phrases.LEVELS[one['level']]}"
    saw += " and nobody has cleared it since"
    if likely is not None:
        saw += f"; corrected for how each of them sees, that is {percent(likely)} likely"
    return f"{saw}{phrases.to_judge(one['judged_by'])}."


OPEN_DOUBT = Reason(
    reasons.OpenDoubtReason,
    open_doubt,
    open_doubt_sentence,
    in_short="a doubt is open that a professional must judge",
    grave=True,
    fields={
        **CHECKPOINT,
        "seen_by": serializers.IntegerField(
            required=False, help_text="how many people reported it, each on their own"
        ),
    },
)


# --- Money ---------------------------------------------------------------------------------------


def over_budget(_: Computed, one: reasons.OverBudgetReason) -> parts.StoredOverBudget:
    return {
        "code": "over_budget",
        "within_budget": chance(one.chance_within_budget),
        "least": chance(one.least_chance),
    }


def over_budget_sentence(one: parts.StoredOverBudget, _: Names) -> str:
    return (
        f"The chance of staying within the budget is {percent(one['within_budget'])}, under your "
        f"limit of {percent(one['least'])}."
    )


OVER_BUDGET = Reason(
    reasons.OverBudgetReason,
    over_budget,
    over_budget_sentence,
    in_short="the chance of staying within the budget is too small",
    fields={
        "within_budget": serializers.FloatField(required=False),
        "least": serializers.FloatField(required=False),
    },
)


def costs_more(_: Computed, one: reasons.CostsMoreReason) -> parts.StoredCostsMore:
    return {
        "code": "costs_more",
        "probability": chance(one.probability),
        "best": chance(one.best),
        "overrun_counts": round(one.overrun_counts, 1),
    }


def costs_more_sentence(one: parts.StoredCostsMore, _: Names) -> str:
    """Results of an earlier method lack the chance that she is the best choice."""
    likely = one.get("best")
    best = "" if likely is None else f"; the best choice nevertheless: {percent(likely)}"
    return (
        f"She is {percent(one['probability'])} likely to cost more than she is worth to you, with "
        f"all work, and money over the budget counted {one['overrun_counts']:g} times{best}."
    )


COSTS_MORE = Reason(
    reasons.CostsMoreReason,
    costs_more,
    costs_more_sentence,
    in_short="she is likely to cost more than she is worth to you",
    fields={
        **PROBABILITY,
        "best": serializers.FloatField(
            required=False, help_text="the chance that she is still the best choice"
        ),
        "overrun_counts": serializers.FloatField(
            required=False, help_text="how many times money over the budget counts"
        ),
    },
)


# --- Another boat --------------------------------------------------------------------------------


def dominated(computed: Computed, one: reasons.DominatedReason) -> parts.StoredDominated:
    boats = computed.inputs.boats
    return {
        "code": "dominated",
        "by": str(boats[one.by].id),
        "probability": chance(one.probability),
        "also": [str(boats[other].id) for other in one.also],
    }


def dominated_sentence(one: parts.StoredDominated, names: Names) -> str:
    """The better boat may have been sold since. Results of an earlier method name one boat only."""
    likely, also = one.get("probability"), len(one.get("also", ()))
    sure = "" if likely is None else f"{percent(likely)} likely to be "
    phrase = f"She stands behind {names.boat(one['by'])}, who is {sure}better for every buyer"
    if also:
        phrase += f"; {phrases.counted(also)} other{'s' if also > 1 else ''} would be as well"
    return f"{phrase}."


DOMINATED = Reason(
    reasons.DominatedReason,
    dominated,
    dominated_sentence,
    in_short="she stands behind another boat for every buyer",
    fields={
        **PROBABILITY,
        "by": serializers.UUIDField(
            required=False, help_text="the candidate that beats this one by the most"
        ),
        "also": serializers.ListField(
            child=serializers.UUIDField(),
            required=False,
            help_text="the other candidates that beat this one",
        ),
    },
)


# In the order in which the reckoning gives them.
REASONS: dict[str, Reason[Any, Any]] = {
    reason.found.code: reason
    for reason in (
        MUST_BROKEN,
        WALK_AWAY_FINDING,
        OPEN_DOUBT,
        OVER_BUDGET,
        COSTS_MORE,
        DOMINATED,
    )
}
