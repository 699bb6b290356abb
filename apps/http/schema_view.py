from drf_spectacular.views import SpectacularAPIView


class SchemaView(SpectacularAPIView):
    """The OpenAPI 3.1 document of this service, for everybody."""

    authentication_classes = ()
    permission_classes = ()
