from django.urls import path

from apps.purchase.api import bill_views, offer_views, views

urlpatterns = [
    path("candidates/<id:candidate_id>/quotes", views.QuotesView.as_view()),
    path("quotes/<id:quote_id>", views.QuoteView.as_view()),
    path("candidates/<id:candidate_id>/bills", bill_views.BillsView.as_view()),
    path("bills/<id:bill_id>", bill_views.BillView.as_view()),
    path("candidates/<id:candidate_id>/offers", offer_views.OffersView.as_view()),
    path("offers/<id:offer_id>", offer_views.OfferView.as_view()),
]
