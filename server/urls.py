"""Where everything hangs: the API under /api/v1/, its pages under /docs/, the operator's admin."""

from django.contrib import admin
from django.urls import include, path
from drf_spectacular.views import SpectacularSwaggerView

from apps.exchange.http.schema_view import SchemaView
from server import health

api = [
    path("", include("apps.accounts.api.urls")),
    path("", include("apps.groups.api.urls")),
    path("", include("apps.boats.api.urls")),
    path("", include("apps.catalogue.api.urls")),
    path("", include("apps.viewings.api.urls")),
    path("", include("apps.purchase.api.urls")),
    path("schema", SchemaView.as_view(), name="schema"),
]

urlpatterns = [
    path("api/v1/", include(api)),
    path("docs/", SpectacularSwaggerView.as_view(url_name="schema"), name="docs"),
    path("admin/", admin.site.urls),
    path("health/live", health.live),
    path("health/ready", health.ready),
]

handler400 = "apps.exchange.http.problems.bad_request"
handler403 = "apps.exchange.http.problems.forbidden"
handler404 = "apps.exchange.http.problems.not_found"
handler500 = "apps.exchange.http.problems.server_error"
