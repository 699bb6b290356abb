from celery import shared_task

from apps.purchase.offers.services import offers_lapse


@shared_task(ignore_result=True)
def lapse_offers() -> None:
    """End the offers that were not answered in time. Safe to run twice."""
    offers_lapse()
