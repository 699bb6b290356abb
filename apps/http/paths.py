"""Ids in paths."""

from django.urls.converters import UUIDConverter


class IdConverter(UUIDConverter):
    """`<id:…>`: a UUID in either case. RFC 9562 section 4: input is case-insensitive."""

    regex = "(?i:[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12})"
