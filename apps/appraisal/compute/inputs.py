"""All inputs of a list's results, as plain values.

They are read in a constant number of queries. None is a database row, so a what-if runs the same
computation on a changed copy.
"""

import uuid
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, fields, replace
from datetime import date
from decimal import Decimal
from typing import Any, Literal, cast

from django.utils import timezone

from apps.appraisal.opinions import NO_OPINIONS, Opinions, Reader
from apps.appraisal.pooling.pooled import Pooled, pooled_for
from apps.appraisal.stored.parts import WantTest
from apps.boats.exchange_rates import rate
from apps.boats.list_models import CandidateList
from apps.boats.models import Ballot, Candidate, Want
from apps.boats.particulars import BUILDS, FIGURES, ratios_of
from apps.boats.selectors import list_inputs
from apps.boats.usual_figures import amounts_of
from apps.boats.vocabulary import Stage
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.snapshot import Catalogue, Snapshot
from apps.outcomes.feeding import ClubExperience, outcomes_for
from apps.purchase.facts import LiveQuote, list_quotes
from apps.purchase.offers.facts import LiveOffer, list_offers
from apps.sellers.facts import LiveAnswer, list_answers
from apps.surveys.facts import PricedWork, list_priced, surveyed_whole
from apps.viewings.facts import LiveClearance, LiveFinding, list_clearances, list_findings
from apps.viewings.media.facts import LiveSound, list_sounds

Value = float | str | None
Ids = frozenset[uuid.UUID]


# Settings of the brief that no result depends on.
NOT_RECKONED = ("travel_km",)


@dataclass(frozen=True)
class Brief:
    """The money, the rates and the rules; money in `currency`. `brief_of` reads each field from the
    list by its name.
    """

    currency: str
    budget: float
    required_confidence: float
    survey_fee_per_m: float
    survey_fee_minimum: float
    survey_lift_out: float
    tax_rate: float
    transport: float
    registration: float
    reserve_rate: float
    expected_price_share: float
    expected_price_share_sd: float
    money_off_chance: float
    yard_hourly_rate: float
    own_remedies: tuple[str, ...]
    own_hours: float
    own_hour_value: float
    exchange_rates: Mapping[str, float]
    price_year: int
    years_kept: int
    discount_rate: float
    vote_weights: Literal["share", "head"]

    def in_own_currency(self, amount: float, currency: str) -> float | None:
        """None if the brief gives no rate for the other currency."""
        if currency == self.currency:
            return amount
        rate = self.exchange_rates.get(currency)
        return None if rate is None else amount * rate


@dataclass(frozen=True)
class BoatInputs:
    """One candidate. A value that is None or missing from a mapping is not known."""

    id: uuid.UUID
    name: str
    stage: str
    stage_reason: str
    asking_amount: float | None
    asking_currency: str
    numbers: Mapping[str, float]
    built_of: Mapping[str, str]
    ratios: Mapping[str, float]
    # The offer on the table: the price that is expected to be paid.
    offer: LiveOffer | None = None
    # Whether a surveyor has reported on the whole boat.
    surveyed: bool = False

    @property
    def struck_off(self) -> bool:
        return self.stage == Stage.STRUCK_OFF

    @property
    def loa_m(self) -> float | None:
        return self.numbers.get("loa_m")

    def value(self, key: str) -> Value:
        """A particular or a design ratio."""
        return self.numbers.get(key, self.built_of.get(key, self.ratios.get(key)))


@dataclass(frozen=True)
class Buyer:
    person_id: uuid.UUID
    share: float


@dataclass(frozen=True)
class WantFact:
    """One thing a buyer wants; `judged` holds the candidates for which a free one was judged."""

    id: uuid.UUID
    person_id: uuid.UUID
    must: bool
    weight: int
    subject: str
    key: str
    test: WantTest
    value: Any
    text: str
    judged: Mapping[uuid.UUID, bool]


@dataclass(frozen=True)
class EvidenceInputs:
    """Boats and all statements about them: those of one list, or of many."""

    today: date
    boats: tuple[BoatInputs, ...]
    findings: tuple[LiveFinding, ...]
    clearances: tuple[LiveClearance, ...]
    snapshot: Snapshot
    sounds: tuple[LiveSound, ...] = field(default=(), kw_only=True)
    answers: tuple[LiveAnswer, ...] = field(default=(), kw_only=True)
    # Surveys' findings on boats of the club's other groups, if the group shares its own.
    experience: ClubExperience | None = field(default=None, kw_only=True)


@dataclass(frozen=True)
class Hidden:
    """Opinions that were left out because a reader may not see them: whose, without their content.

    valuations: by buyer, the boats that the buyer valued. ballots: the buyers who gave one.
    """

    valuations: Mapping[uuid.UUID, frozenset[uuid.UUID]] = field(default_factory=dict)
    ballots: frozenset[uuid.UUID] = frozenset()

    @property
    def boats(self) -> frozenset[uuid.UUID]:
        return frozenset().union(*self.valuations.values())

    def orders_of(self, live: frozenset[uuid.UUID], ballots: Collection[uuid.UUID]) -> Ids:
        """Buyers whose order of the live boats is not known in full. ballots: whose ballot is
        seen.
        """
        short = {who for who, boats in self.valuations.items() if boats & live}
        return self.ballots | (short - set(ballots))


@dataclass(frozen=True)
class Inputs(EvidenceInputs):
    """One list. `valuations` by (person, candidate); `ballots`: tiers of candidates by person.

    pooled: priors from the group's club, if its groups pool. priced: at checkpoints, by surveys.
    """

    list_id: uuid.UUID
    brief: Brief
    buyers: tuple[Buyer, ...]
    wants: tuple[WantFact, ...]
    valuations: Mapping[tuple[uuid.UUID, uuid.UUID], float]
    ballots: Mapping[uuid.UUID, tuple[tuple[uuid.UUID, ...], ...]]
    quotes: tuple[LiveQuote, ...]
    pooled: Pooled | None
    priced: tuple[PricedWork, ...] = field(default=(), kw_only=True)
    hidden: Hidden = field(default=Hidden(), kw_only=True)

    @property
    def opinions(self) -> Opinions:
        """All opinions in these inputs."""
        return Opinions(frozenset(str(boat) for _, boat in self.valuations), bool(self.ballots))

    def seen_by(self, reader: Reader) -> "Inputs":
        """These inputs with only the opinions that the reader may see."""
        return self if reader.sees(self.opinions) else self.with_only(reader.seen)

    def with_only(self, seen: Opinions) -> "Inputs":
        """These inputs with only these opinions; `hidden` says whose others exist."""
        kept = {
            key: valuation
            for key, valuation in self.valuations.items()
            if str(key[1]) in seen.valuations
        }
        valued: dict[uuid.UUID, set[uuid.UUID]] = {}
        for person, boat in self.valuations.keys() - kept.keys():
            valued.setdefault(person, set()).add(boat)
        hidden = Hidden(
            valuations={person: frozenset(boats) for person, boats in valued.items()},
            ballots=frozenset() if seen.ballots else frozenset(self.ballots),
        )
        ballots = self.ballots if seen.ballots else {}
        return replace(self, valuations=kept, ballots=ballots, hidden=hidden)

    def narrower(self) -> tuple[Opinions, ...]:
        """The sets of opinions that readers who may not see all of them may see.

        For each buyer, the opinions of the same kinds as the buyer gave; for others, none. A reader
        who may see several of these sets, but not all opinions, gets the largest one.
        """
        own = {
            Opinions(
                frozenset(str(boat) for who, boat in self.valuations if who == buyer.person_id),
                buyer.person_id in self.ballots,
            )
            for buyer in self.buyers
        }
        found = {NO_OPINIONS, *own} - {self.opinions}
        return tuple(sorted(found, key=lambda one: (sorted(one.valuations), one.ballots)))


def read_inputs(list_id: uuid.UUID) -> Inputs:
    """Raises CandidateList.DoesNotExist if the list is gone."""
    facts = list_inputs(list_id)
    group_id = facts.candidate_list.group_id
    snapshot = catalogue_snapshot(group_id)
    offers, surveyed = list_offers(list_id), surveyed_whole(list_id)
    return Inputs(
        list_id=list_id,
        today=timezone.localdate(),
        brief=brief_of(facts.candidate_list, snapshot.catalogue),
        boats=tuple(
            boat_of(one, offers.get(one.pk), surveyed=one.pk in surveyed)
            for one in facts.candidates
        ),
        buyers=buyers_of(facts.shares),
        wants=tuple(want_of(want) for want in facts.wants),
        valuations={(w.person_id, w.candidate_id): float(w.amount) for w in facts.valuations},
        ballots={ballot.person_id: tiers_of(ballot) for ballot in facts.ballots},
        findings=tuple(list_findings(list_id)),
        clearances=tuple(list_clearances(list_id)),
        sounds=tuple(list_sounds(list_id)),
        answers=tuple(list_answers(list_id)),
        quotes=tuple(list_quotes(list_id)),
        priced=tuple(list_priced(list_id)),
        snapshot=snapshot,
        pooled=pooled_for(group_id, snapshot),
        experience=outcomes_for(group_id, snapshot),
    )


def buyers_of(shares: Mapping[uuid.UUID, Decimal]) -> tuple[Buyer, ...]:
    """Shares are stored to six places, so they are scaled to a sum of 1 (three thirds)."""
    whole = float(sum(shares.values())) or 1.0
    return tuple(Buyer(person_id, float(share) / whole) for person_id, share in shares.items())


def brief_of(candidate_list: CandidateList, catalogue: Catalogue) -> Brief:
    """Amounts that nobody gave are the catalogue's; they are 0 if the brief has no rate for its
    currency, and then no boat can be priced (`costing.missing_for_cost`).
    """
    given = {f.name: plain(getattr(candidate_list, f.name)) for f in fields(Brief)}
    in_own = rate(candidate_list, catalogue.money.basis.currency) or Decimal(0)
    usual = {name: float(amount * in_own) for name, amount in amounts_of(catalogue).items()}
    return Brief(**{**given, **{name: usual[name] for name in usual if given[name] is None}})


def plain(value: Any) -> Any:
    """Decimals, also as text inside mappings, as floats; lists as tuples."""
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, list):
        return tuple(value)
    if isinstance(value, dict):
        return {key: float(inner) for key, inner in value.items()}
    return value


def boat_of(
    candidate: Candidate, offer: LiveOffer | None = None, *, surveyed: bool = False
) -> BoatInputs:
    ratios = ratios_of(candidate)
    return BoatInputs(
        id=candidate.pk,
        name=candidate.name,
        stage=candidate.stage,
        stage_reason=candidate.stage_reason,
        asking_amount=None if candidate.asking_amount is None else float(candidate.asking_amount),
        asking_currency=candidate.asking_currency,
        numbers=known({name: getattr(candidate, name) for name in FIGURES}),
        built_of={name: word for name in BUILDS if (word := getattr(candidate, name))},
        ratios=known({field.name: getattr(ratios, field.name) for field in fields(ratios)}),
        offer=offer,
        surveyed=surveyed,
    )


def known(values: Mapping[str, float | None]) -> dict[str, float]:
    return {name: float(value) for name, value in values.items() if value is not None}


def want_of(want: Want) -> WantFact:
    return WantFact(
        id=want.pk,
        person_id=want.person_id,
        must=want.kind == Want.Kind.MUST,
        weight=want.weight,
        subject=want.subject,
        key=want.key,
        test=cast(WantTest, want.test),
        value=want.value,
        text=want.text,
        judged={judgement.candidate_id: judgement.met for judgement in want.judgements.all()},
    )


def tiers_of(ballot: Ballot) -> tuple[tuple[uuid.UUID, ...], ...]:
    return tuple(tuple(tier) for tier in ballot.ranked)
