"""Answers that were worked out: as JSON, and as files that are made of it."""

import hashlib
import json
from typing import Any

from rest_framework.response import Response
from rest_framework.utils.encoders import JSONEncoder


def derived(answer: dict[str, Any]) -> Response:
    """A derived answer with an ETag of all it says: a client asks cheaply whether it changed."""
    response = Response(answer)
    said = json.dumps(answer, cls=JSONEncoder, sort_keys=True)
    response["ETag"] = f'"{hashlib.sha256(said.encode()).hexdigest()[:32]}"'
    return response


def as_file(content: str | bytes, media_type: str, name: str) -> Response:
    response = Response(content, content_type=media_type)
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response
