"""Computed answers, as JSON and as files."""

import hashlib
import json
from typing import Any

from rest_framework.response import Response
from rest_framework.utils.encoders import JSONEncoder


def derived(answer: dict[str, Any]) -> Response:
    """A computed answer with an ETag of its content, so that clients can check it cheaply."""
    response = Response(answer)
    response["ETag"] = f'"{digest_of(answer)}"'
    return response


def digest_of(content: Any) -> str:
    """A digest of JSON content."""
    text = json.dumps(content, cls=JSONEncoder, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def as_file(content: str | bytes, media_type: str, name: str) -> Response:
    response = Response(content, content_type=media_type)
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response
