"""Django REST framework's settings."""

SETTINGS = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "apps.accounts.authentication.TokenAuthentication",
        "apps.accounts.authentication.CookieAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_PARSER_CLASSES": ["apps.http.parsing.BodyParser"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_CONTENT_NEGOTIATION_CLASS": "apps.http.renderers.Negotiation",
    "DEFAULT_SCHEMA_CLASS": "apps.http.schema.Schema",
    "EXCEPTION_HANDLER": "apps.http.problems.handle_exception",
    "DEFAULT_VERSIONING_CLASS": None,
    "URL_FORMAT_OVERRIDE": None,  # a parameter like any other: refused where it is not known
    "COERCE_DECIMAL_TO_STRING": True,
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
