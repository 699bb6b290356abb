from django.urls import path

from apps.expenses.api import views

urlpatterns = [
    path("groups/<id:group_id>/ledger", views.LedgerView.as_view()),
    path("groups/<id:group_id>/ledger.csv", views.LedgerTableView.as_view()),
    path("groups/<id:group_id>/ledger-entries", views.LedgerEntriesView.as_view()),
    path("groups/<id:group_id>/expenses", views.ExpensesView.as_view()),
    path("groups/<id:group_id>/payments", views.PaymentsView.as_view()),
    path("ledger-entries/<id:entry_id>", views.LedgerEntryView.as_view()),
    path("ledger-entries/<id:entry_id>/reversals", views.ReversalsView.as_view()),
]
