"""Computed answers, as JSON and as files."""

from typing import Any

from rest_framework.response import Response

from apps.common.digests import digest_of


def derived(answer: dict[str, Any]) -> Response:
    """A computed answer with an ETag of its content, so that clients can check it cheaply."""
    response = Response(answer)
    response["ETag"] = f'"{digest_of(answer)}"'
    return response


def as_file(content: str | bytes, media_type: str, name: str) -> Response:
    response = Response(content, content_type=media_type)
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response
