from drf_spectacular.views import SpectacularAPIView


class SchemaView(SpectacularAPIView):
    """The OpenAPI 3.1 document of this service, open to all."""

    authentication_classes = ()
    permission_classes = ()
