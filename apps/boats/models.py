import uuid

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from uuid_utils.compat import uuid7

from apps.boats import vocabulary as words
from apps.boats.gates.models import Gate as Gate
from apps.boats.list_models import CandidateList, above_zero, at_least_zero, money_field, no_links
from apps.boats.yards.models import Yard
from apps.common.models import Versioned

Ranking = list[list[uuid.UUID]]


class Candidate(Versioned):
    """One boat on a list. Particulars are in SI; None: not known. `sources`: how each is known."""

    list = models.ForeignKey(CandidateList, on_delete=models.CASCADE, related_name="candidates")
    name = models.CharField(max_length=120, help_text="the group's name for her")
    hull_number = models.CharField(max_length=20, blank=True)
    loa_m = models.FloatField(null=True, blank=True)
    lwl_m = models.FloatField(null=True, blank=True)
    beam_m = models.FloatField(null=True, blank=True)
    draught_m = models.FloatField(null=True, blank=True)
    displacement_kg = models.FloatField(null=True, blank=True)
    ballast_kg = models.FloatField(null=True, blank=True)
    sail_area_m2 = models.FloatField(null=True, blank=True)
    hull_material = models.CharField(max_length=15, blank=True, choices=words.HullMaterial.choices)
    keel = models.CharField(max_length=15, blank=True, choices=words.Keel.choices)
    keel_ballast = models.CharField(max_length=15, blank=True, choices=words.KeelBallast.choices)
    rudder = models.CharField(max_length=15, blank=True, choices=words.Rudder.choices)
    drive = models.CharField(max_length=15, blank=True, choices=words.Drive.choices)
    propeller = models.CharField(max_length=15, blank=True, choices=words.Propeller.choices)
    mast = models.CharField(max_length=15, blank=True, choices=words.Mast.choices)
    standing_rigging = models.CharField(
        max_length=15, blank=True, choices=words.StandingRigging.choices
    )
    fuel = models.CharField(max_length=15, blank=True, choices=words.Fuel.choices)
    steering = models.CharField(max_length=15, blank=True, choices=words.Steering.choices)
    windlass = models.CharField(max_length=15, blank=True, choices=words.Windlass.choices)
    holding_tank = models.CharField(max_length=15, blank=True, choices=words.HoldingTank.choices)
    teak_deck = models.CharField(max_length=15, blank=True, choices=words.TeakDeck.choices)
    heater = models.CharField(max_length=15, blank=True, choices=words.Heater.choices)
    build_year = models.PositiveSmallIntegerField(null=True, blank=True)
    engine_year = models.PositiveSmallIntegerField(null=True, blank=True)
    engine_hours = models.PositiveIntegerField(null=True, blank=True)
    rigging_year = models.PositiveSmallIntegerField(null=True, blank=True)
    sails_year = models.PositiveSmallIntegerField(null=True, blank=True)
    sources = models.JSONField(
        default=dict, blank=True, help_text="claimed, documented or measured, by field"
    )
    asking_amount = money_field(null=True, blank=True)
    asking_currency = models.CharField(max_length=3, blank=True)
    yard = models.CharField(max_length=120, blank=True, help_text="in the group's own words")
    at_yard = models.ForeignKey(
        Yard, null=True, blank=True, on_delete=models.RESTRICT, related_name="candidates"
    )
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)
    seller_kind = models.CharField(
        max_length=10, choices=words.SellerKind.choices, default=words.SellerKind.UNKNOWN
    )
    # `list` is the candidate's list in this class, not the built-in.
    links = models.JSONField(
        default=no_links, blank=True, help_text="addresses of listings and papers"
    )
    note = models.TextField(blank=True, max_length=4000)
    stage = models.CharField(max_length=12, choices=words.Stage.choices, default=words.Stage.LISTED)
    stage_reason = models.TextField(blank=True, max_length=1000)
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="candidates_added"
    )

    class Meta:
        constraints = [
            above_zero(
                "candidate_sizes_above_0",
                "loa_m",
                "lwl_m",
                "beam_m",
                "draught_m",
                "displacement_kg",
                "sail_area_m2",
            ),
            at_least_zero("candidate_ballast_and_price_at_least_0", "ballast_kg", "asking_amount"),
            models.CheckConstraint(
                condition=Q(lwl_m=None) | Q(loa_m=None) | Q(lwl_m__lte=F("loa_m")),
                name="candidate_lwl_at_most_loa",
            ),
            models.CheckConstraint(
                condition=Q(ballast_kg=None)
                | Q(displacement_kg=None)
                | Q(ballast_kg__lt=F("displacement_kg")),
                name="candidate_ballast_below_displacement",
            ),
            models.CheckConstraint(
                condition=Q(beam_m=None) | Q(loa_m=None) | Q(beam_m__lte=F("loa_m")),
                name="candidate_beam_at_most_loa",
            ),
            # A check that gives NULL passes, so half a place needs an explicit rule.
            models.CheckConstraint(
                condition=(Q(latitude=None) & Q(longitude=None))
                | (
                    ~Q(latitude=None)
                    & ~Q(longitude=None)
                    & Q(latitude__gte=-90)
                    & Q(latitude__lte=90)
                    & Q(longitude__gte=-180)
                    & Q(longitude__lte=180)
                ),
                name="candidate_place_on_earth",
            ),
            models.CheckConstraint(
                condition=(Q(asking_amount=None) & Q(asking_currency=""))
                | (~Q(asking_amount=None) & ~Q(asking_currency="")),
                name="candidate_price_has_a_currency",
            ),
            models.CheckConstraint(
                condition=~Q(stage=words.Stage.STRUCK_OFF) | ~Q(stage_reason=""),
                name="candidate_struck_off_with_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def position(self) -> tuple[float, float] | None:
        """Latitude and longitude: her own if given, else those of the yard where she lies."""
        if self.latitude is not None and self.longitude is not None:
            return self.latitude, self.longitude
        return self.at_yard.place if self.at_yard else None

    @property
    def place_in_words(self) -> str:
        """The name of her yard, or else the words that say where she lies; may be empty."""
        return self.at_yard.name if self.at_yard else self.yard


class PriceRecord(models.Model):
    """An asking price of the boat and its day, with the advert that named it, as it was then.

    Records are only added, never changed.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    candidate = models.ForeignKey(Candidate, on_delete=models.CASCADE, related_name="prices")
    amount = money_field()
    currency = models.CharField(max_length=3)
    asked_on = models.DateField()
    note = models.CharField(max_length=300, blank=True)
    advert_link = models.CharField(max_length=500, blank=True)
    advert_text = models.TextField(max_length=20_000, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="prices_noted"
    )
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [at_least_zero("price_at_least_0", "amount")]

    def __str__(self) -> str:
        return f"{self.amount} {self.currency} on {self.asked_on}"


class StageChange(models.Model):
    """A change of a candidate's stage, by whom and why. It never changes."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    candidate = models.ForeignKey(Candidate, on_delete=models.CASCADE, related_name="stage_changes")
    from_stage = models.CharField(max_length=12, choices=words.Stage.choices)
    to_stage = models.CharField(max_length=12, choices=words.Stage.choices)
    reason = models.TextField(blank=True, max_length=1000)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="stage_changes"
    )
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(from_stage=F("to_stage")), name="stage_change_changes_the_stage"
            ),
            models.CheckConstraint(
                condition=~Q(to_stage=words.Stage.STRUCK_OFF) | ~Q(reason=""),
                name="striking_off_gives_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.from_stage} to {self.to_stage}"


class Want(Versioned):
    """One thing a member wants of a boat, as a must or with a weight."""

    class Kind(models.TextChoices):
        MUST = "must", "must"
        WEIGHT = "weight", "weight"

    class Subject(models.TextChoices):
        PARTICULAR = "particular", "a particular"
        RATIO = "ratio", "a design ratio"
        CHECKPOINT = "checkpoint", "a checkpoint's expected level"
        FREE = "free", "judged by the member for each candidate"

    class Test(models.TextChoices):
        AT_MOST = "at_most", "at most"
        AT_LEAST = "at_least", "at least"
        ONE_OF = "one_of", "one of"

    list = models.ForeignKey(CandidateList, on_delete=models.CASCADE, related_name="wants")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="wants"
    )
    kind = models.CharField(max_length=6, choices=Kind.choices)
    weight = models.PositiveSmallIntegerField(default=1, help_text="1 to 5, for weights")
    subject = models.CharField(max_length=10, choices=Subject.choices)
    key = models.CharField(
        max_length=60, blank=True, help_text="name of the particular, ratio or checkpoint"
    )
    test = models.CharField(max_length=8, choices=Test.choices, blank=True)
    value = models.JSONField(null=True, blank=True, help_text="a number, or a list of words")
    text = models.CharField(max_length=300, blank=True, help_text="the want in words")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(weight__gte=1) & Q(weight__lte=5), name="want_weight_1_to_5"
            ),
            models.CheckConstraint(
                condition=(Q(subject="free") & ~Q(text="") & Q(key=""))
                | (~Q(subject="free") & ~Q(key="") & ~Q(test="")),
                name="want_says_what_is_wanted",
            ),
        ]

    def __str__(self) -> str:
        return self.text or f"{self.key} {self.test} {self.value}"


class Judgement(Versioned):
    """Whether a candidate meets a free want, as its owner judges it."""

    want = models.ForeignKey(Want, on_delete=models.CASCADE, related_name="judgements")
    candidate = models.ForeignKey(Candidate, on_delete=models.CASCADE, related_name="judgements")
    met = models.BooleanField()
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["want", "candidate"], name="one_judgement_per_want_and_candidate"
            ),
        ]

    def __str__(self) -> str:
        return f"{'met' if self.met else 'not met'}: {self.want_id}"


class Valuation(Versioned):
    """The price that a member would pay for this candidate if everything were right."""

    candidate = models.ForeignKey(Candidate, on_delete=models.CASCADE, related_name="valuations")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="valuations"
    )
    amount = money_field(help_text="in the list's currency")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["candidate", "person"], name="one_valuation_per_candidate_and_person"
            ),
            at_least_zero("valuation_at_least_0", "amount"),
        ]

    def __str__(self) -> str:
        return f"{self.amount} by {self.person_id}"


class Ballot(Versioned):
    """A member's explicit order of the list: candidates best first, ties in one list."""

    list = models.ForeignKey(CandidateList, on_delete=models.CASCADE, related_name="ballots")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="ballots"
    )
    ranks = models.JSONField(help_text="a list of lists of candidate ids")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["list", "person"], name="one_ballot_per_list_and_person"
            ),
        ]

    def __str__(self) -> str:
        return f"ballot of {self.person_id}"

    @property
    def ranked(self) -> "Ranking":
        """Candidate ids, best first, ties in one list. Candidates left out are not ranked."""
        return [[uuid.UUID(one) for one in tied] for tied in self.ranks]
