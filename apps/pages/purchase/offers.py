"""What to offer for a boat, what to ask her seller, and what was offered."""

import uuid

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.text import capfirst

from apps.appraisal.looks.offer_advice import offer_advice_read
from apps.boats.selectors import candidate_for
from apps.boats.vocabulary import SETTLED
from apps.pages.base import PageView
from apps.pages.boats import particulars
from apps.pages.lists.boards import may
from apps.purchase.models import Offer
from apps.purchase.offers.models import OfferCondition
from apps.purchase.offers.services import ANSWERS
from apps.purchase.selectors import of_candidate
from apps.reports.words import day, sea_trial_in_words
from apps.viewings.sea_trials import telling
from apps.viewings.selectors import viewings_of

ANSWER_WORDS: dict[str, str] = {
    Offer.State.ACCEPTED: "It was accepted",
    Offer.State.REFUSED: "It was refused",
    Offer.State.WITHDRAWN: "It was withdrawn",
}
# An offer without a survey is seldom wise: it is ticked unless somebody takes it out.
TICKED = (OfferCondition.SURVEY, OfferCondition.SEA_TRIAL, OfferCondition.TITLE)


class OffersPageView(PageView):
    def get(self, request: HttpRequest, candidate_id: uuid.UUID) -> HttpResponse:
        boat = candidate_for(self.person, candidate_id)
        offers = list(of_candidate(Offer, self.person, boat.pk).order_by("-pk"))
        live = next((one for one in offers if one.on_the_table), None)
        trial = sea_trial_in_words(telling(viewings_of(self.person, boat.pk)))
        return self.page(
            "pages/boat_offers.html",
            boat=boat,
            list=boat.list,
            may=may(self.person, boat.list.group_id),
            form=particulars.form_for(boat.list, boat),
            advice=offer_advice_read(self.person, boat.pk),
            offers=[(one, conditions_in_words(one, trial)) for one in offers],
            live=live,
            answers=[(one, ANSWER_WORDS[one]) for one in ANSWERS[live.state]] if live else [],
            settled=boat.stage in SETTLED,
            sides=[(value, capfirst(words)) for value, words in Offer.Side.choices],
            conditions=[
                (value, capfirst(words), value in TICKED) for value, words in OfferCondition.choices
            ],
            today=timezone.localdate(),
        )


def conditions_in_words(offer: Offer, sea_trial: str) -> list[str]:
    """sea_trial: whether one was made."""
    words, beside = dict(OfferCondition.choices), {OfferCondition.SEA_TRIAL: f" ({sea_trial})"}
    return [
        f"{words[one['code']]}{' by ' + day(one['until']) if one['until'] else ''}"
        f"{beside.get(one['code'], '')}"
        for one in offer.conditions
    ]
