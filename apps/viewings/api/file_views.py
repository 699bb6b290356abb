"""Views of the files behind signed links. A link needs no token and works for a limited time."""

import logging
import uuid

from django.http import (
    FileResponse,
    Http404,
    HttpRequest,
    HttpResponseBase,
    HttpResponseNotModified,
    JsonResponse,
)
from django.views.decorators.http import require_safe

from apps.common.errors import Gone, NotVisible
from apps.http.problems import CONTENT_TYPE, problem
from apps.http.views import matches
from apps.viewings.media.files import file_open
from apps.viewings.media.links import link_open
from apps.viewings.media.models import Media
from apps.viewings.media.selectors import media_behind

log = logging.getLogger(__name__)

CONTENT_TYPES = {".jpg": "image/jpeg", ".flac": "audio/flac", ".pdf": "application/pdf"}


@require_safe
def media_file(request: HttpRequest, kind: str, id: uuid.UUID, form: str) -> HttpResponseBase:
    """One file, streamed. The file behind a link never changes while the link works."""
    try:
        opened = link_open(kind=kind, id=id, form=form, token=request.GET.get("token", ""))
        media = media_behind(opened)
    except (NotVisible, Http404):
        return _refusal(404, "not_found", "There is no such thing, or not for you.")
    except Gone as gone:
        return _refusal(410, gone.code, gone.detail)
    return file_answer(
        request,
        media,
        opened.form,
        kept=f"private, max-age={opened.seconds_left}, immutable",
    )


def file_answer(request: HttpRequest, media: Media, form: str, *, kept: str) -> HttpResponseBase:
    """A file as an answer. kept: how long it may be cached (Cache-Control)."""
    etag = f'"{media.pk}-{form}"'
    answer: HttpResponseBase
    if matches(request.headers.get("If-None-Match", ""), etag, weak=True):
        answer = HttpResponseNotModified()
    else:
        ending = media.FORMS[form]
        try:
            file = file_open(media, form)
        except FileNotFoundError:
            return _refusal(404, "not_found", "There is no such thing, or not for you.")
        except Exception:
            log.exception("the storage does not give %s", media.key(form))
            away = _refusal(503, "storage_unavailable", "The file cannot be read at the moment.")
            away["Retry-After"] = "60"
            return away
        answer = FileResponse(
            file,
            as_attachment=media.FOR_DOWNLOAD,
            filename=f"{form}-{media.pk}{ending}",
            content_type=CONTENT_TYPES[ending],
        )
    answer["ETag"] = etag
    answer["Cache-Control"] = kept
    answer["X-Content-Type-Options"] = "nosniff"
    # If a browser ever shows it as a page, it must run and load nothing.
    answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return answer


def _refusal(status: int, code: str, detail: str) -> JsonResponse:
    return JsonResponse(problem(status, code, detail), status=status, content_type=CONTENT_TYPE)
