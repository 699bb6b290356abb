"""All addresses: pages for people at /, the API under /api/v1/, its guide under /docs/."""

from django.conf import settings
from django.contrib import admin
from django.urls import URLPattern, URLResolver, include, path
from django.views.generic import RedirectView
from oauth2_provider.views import OAuthServerMetadataView

from apps.http.schema_view import SchemaView
from apps.second_opinions.api.assignment_finding_views import assignment_media
from apps.viewings.api.file_views import media_file
from server import health

api: list[URLPattern | URLResolver] = [
    # Most requests read results: these are tried first.
    path("", include("apps.appraisal.api.urls")),
    path("", include("apps.accounts.api.urls")),
    path("", include("apps.groups.api.urls")),
    path("", include("apps.boats.api.urls")),
    path("", include("apps.catalogue.api.urls")),
    path("", include("apps.viewings.api.urls")),
    path("", include("apps.sellers.api.urls")),
    path("", include("apps.purchase.api.urls")),
    path("", include("apps.expenses.api.urls")),
    path("", include("apps.ownership.api.urls")),
    path("", include("apps.surveys.api.urls")),
    path("", include("apps.outcomes.api.urls")),
    path("", include("apps.second_opinions.api.urls")),
    path("", include("apps.planning.api.urls")),
    path("", include("apps.records.api.urls")),
    path("", include("apps.reports.api.urls")),
    path("", include("apps.notifications.api.urls")),
    path("", include("apps.archives.api.urls")),
    path("schema", SchemaView.as_view(), name="schema"),
]

urlpatterns = [
    path("api/v1/", include(api)),
    path("", include("apps.pages.urls")),
    path("docs", RedirectView.as_view(pattern_name="docs")),
    path("docs/", include("server.docs.urls")),
    path("archives/", include("apps.archives.urls")),
    path("notifications/", include("apps.notifications.urls")),
    path("oauth/", include("apps.accounts.oauth.urls")),
    path(".well-known/oauth-authorization-server", OAuthServerMetadataView.as_view()),
    # All passwords are entered at one address, which counts failed attempts.
    path("admin/login/", RedirectView.as_view(pattern_name=settings.LOGIN_URL, query_string=True)),
    path("admin/", admin.site.urls),
    path("media/<str:kind>/<id:id>/<str:form>", media_file, name="media"),
    path("assignment-media/<id:photo_id>/<str:form>", assignment_media, name="assignment-media"),
    path("health/live", health.live),
    path("health/ready", health.ready),
]

if settings.METRICS_TOKEN:
    from server.metrics import metrics

    urlpatterns.append(path("metrics", metrics))

handler400 = "apps.http.problems.bad_request"
handler403 = "apps.http.problems.forbidden"
handler404 = "apps.pages.base.not_found"
handler500 = "apps.http.middleware.database.server_error"
