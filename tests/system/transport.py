"""The demo's transport without a socket."""

from django.test import Client

from server.demo.client import Answer


def in_process(method: str, path: str, body: bytes | None, headers: dict[str, str]) -> Answer:
    content_type = headers.pop("Content-Type", "application/json")
    response = Client().generic(
        method, path, body or b"", content_type=content_type, headers=headers
    )
    content = b"".join(response) if response.streaming else response.content
    return Answer(response.status_code, response.headers, content)
