from django.urls import path

from apps.purchase.api import bill_views, views

urlpatterns = [
    path("candidates/<uuid:candidate_id>/quotes", views.QuotesView.as_view()),
    path("quotes/<uuid:quote_id>", views.QuoteView.as_view()),
    path("candidates/<uuid:candidate_id>/bills", bill_views.BillsView.as_view()),
    path("bills/<uuid:bill_id>", bill_views.BillView.as_view()),
]
