"""Renderers of answers other than JSON. Refusals are still JSON (problem details)."""

from collections.abc import Iterable, Mapping
from typing import Any

from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.settings import api_settings


class Made(BaseRenderer):
    """Passes text and bytes on unchanged."""

    charset: str | None = None
    render_style = "binary"

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: Mapping[str, Any] | None = None,
    ) -> Any:
        if isinstance(data, str | bytes):
            return data
        return JSONRenderer().render(data, accepted_media_type, renderer_context)


class CsvText(Made):
    media_type = "text/csv"
    format = "csv"
    charset = "utf-8"


class PlainText(Made):
    media_type = "text/plain"
    format = "txt"
    charset = "utf-8"


class HtmlPage(Made):
    media_type = "text/html"
    format = "html"
    charset = "utf-8"


class SvgPicture(Made):
    media_type = "image/svg+xml"
    format = "svg"


class PngPicture(Made):
    media_type = "image/png"
    format = "png"


def file_or_json(file: type[BaseRenderer]) -> list[type[BaseRenderer]]:
    """The renderers of a view that answers with a file, or with JSON for a refusal."""
    usual: list[type[BaseRenderer]] = api_settings.DEFAULT_RENDERER_CLASSES  # type: ignore[assignment]  # names in the settings are classes here
    return [file, *usual]


class Negotiation(DefaultContentNegotiation):
    """The framework's, without parsing what most requests accept: anything, or the usual type."""

    def select_renderer(
        self, request: Request, renderers: Iterable[BaseRenderer], format_suffix: str | None = None
    ) -> tuple[BaseRenderer, str]:
        usual = next(iter(renderers))
        if request.META.get("HTTP_ACCEPT", "*/*") in ("*/*", usual.media_type):
            return usual, usual.media_type
        found: tuple[BaseRenderer, str] = super().select_renderer(request, renderers, format_suffix)
        return found
