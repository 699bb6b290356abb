"""Download and upload of archives' files by signed links, without a token."""

import logging

from django.conf import settings
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from apps.archives.files import file_open, spool
from apps.archives.links import export_behind, import_behind
from apps.archives.selectors import may_fetch
from apps.archives.services import import_upload
from apps.common.errors import Conflict, StorageFailed, is_full
from apps.http.problems import CONTENT_TYPE, problem

log = logging.getLogger(__name__)

CHUNK = 1024 * 1024


@require_http_methods(["GET", "HEAD"])
def download(request: HttpRequest, token: str) -> FileResponse | JsonResponse:
    export = export_behind(token)
    if not may_fetch(export, export.asked_by):
        raise Http404
    try:
        file = file_open(export.key)
    except FileNotFoundError as error:
        raise Http404 from error
    except Exception:
        log.exception("the storage does not give %s", export.key)
        return _away()
    answer = FileResponse(
        file,
        as_attachment=True,
        filename=f"hardstand-{export.created_at:%Y-%m-%d}.zip",
        content_type="application/zip",
    )
    answer["Cache-Control"] = "private, no-store"
    return answer


@csrf_exempt  # no cookie is read: the link authorises
@require_http_methods(["PUT"])
def upload(request: HttpRequest, token: str) -> HttpResponse:
    opened = import_behind(token)
    if opened.state != opened.State.UPLOAD or not opened.asked_by.is_active:
        return _refusal(409, "sent_already", "Nothing can be sent here any more.")
    with spool() as file:
        size = 0
        while chunk := request.read(CHUNK):
            size += len(chunk)
            if size > settings.ARCHIVE_LARGEST_BYTES:
                most = settings.ARCHIVE_LARGEST_BYTES
                return _refusal(413, "too_large", f"At most {most} bytes.")
            try:
                file.write(chunk)
            except OSError as error:  # a large archive is in a temporary file
                return _away(full=is_full(error))
        try:
            import_upload(opened=opened, file=file)
        except Conflict as refused:
            return _refusal(409, refused.code, refused.detail)
        except StorageFailed as error:
            log.exception("an archive was not kept")
            return _away(full=error.full)
    return HttpResponse(status=204)


def _away(*, full: bool = False) -> JsonResponse:
    if full:
        answer = _refusal(507, "storage_full", "There is no room for files at the moment.")
    else:
        answer = _refusal(
            503, "storage_unavailable", "Files can be neither stored nor read at the moment."
        )
    answer["Retry-After"] = "300" if full else "60"
    return answer


def _refusal(status: int, code: str, detail: str) -> JsonResponse:
    return JsonResponse(problem(status, code, detail), status=status, content_type=CONTENT_TYPE)
