"""The base of every view: one transaction per write, stored answers for repeats, versions."""

import json
import logging
import re
import uuid
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, ClassVar, Protocol

from django.contrib.auth.models import AnonymousUser
from django.db import transaction
from django.http import HttpRequest, HttpResponseBase
from rest_framework import serializers
from rest_framework.exceptions import APIException, MethodNotAllowed, NotAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.encoders import JSONEncoder
from rest_framework.views import APIView

from apps.common.errors import Invalid, Stale
from apps.common.models import Versioned
from apps.http import limits
from apps.http.bodies import StrictBody, unknown_field
from apps.http.idempotency import idempotency_claim
from apps.http.models import IdempotencyRecord
from apps.http.problems import (
    LengthRequired,
    PreconditionRequired,
    ProblemResponse,
    ScopeMissing,
    TooMany,
    escape,
)
from apps.http.queries import query_read

if TYPE_CHECKING:
    # For mypy this is AUTH_USER_MODEL, which is in a higher app.
    from django.contrib.auth.models import _User as Person

log = logging.getLogger(__name__)

SAFE = ("GET", "HEAD", "OPTIONS")
STORED_HEADERS = ("ETag", "Location")


class Replayed(Exception):
    """The request is a repeat: return the stored answer and do nothing."""

    def __init__(self, answer: IdempotencyRecord) -> None:
        self.answer = answer


def person_of(request: Request | HttpRequest) -> "Person":
    """The person of the request. Raises `NotAuthenticated` if nobody is signed in."""
    if isinstance(request.user, AnonymousUser):
        raise NotAuthenticated
    return request.user


class AccessProtocol(Protocol):
    """The access of a token (apps/accounts/access.py)."""

    @property
    def id(self) -> uuid.UUID: ...
    @property
    def requests_per_minute(self) -> int | None: ...
    def allows(self, scope: str | None, /) -> bool: ...


class View(APIView):
    """One resource. Writes run in one transaction that is undone whenever the answer is a refusal.

    A POST with an Idempotency-Key runs once: the first answer is stored in the same transaction and
    returned to every repeat. A GET with the client's ETag in If-None-Match answers 304.
    """

    # The scope that a limited token needs for each method (names: apps/accounts/scopes.py). A
    # method without one is for signed-in people only.
    scopes: ClassVar[Mapping[str, str]] = {}
    # A method's permission check, before the body is read (apps/groups/needs.py): it is called with
    # the person and the names in the address, and raises if the person may not.
    needs: ClassVar[Mapping[str, Callable[["Person", Mapping[str, Any]], object]]] = {}
    # The same for a repeat, if `needs` is not enough: it also gets the stored answer.
    needs_again: ClassVar[Mapping[str, Callable[["Person", Mapping[str, Any], Any], object]]] = {}
    # Secrets in an answer: they are not stored, so a repeat gets null in their place.
    secret_fields: ClassVar[tuple[str, ...]] = ()
    counts: Sequence[limits.Count] = ()
    # The query parameters of a GET; others are refused by name.
    query_serializer: ClassVar[type[serializers.Serializer[Any]] | None] = None
    # Whether a PUT may create the record, and then names no version.
    put_makes: ClassVar[bool] = False
    # Whether the body was read.
    body_read: bool = False
    # Slow reads (a bounded wait) and writes that hash passwords opt out.
    atomic_writes: ClassVar[bool] = True

    @property
    def person(self) -> "Person":
        return person_of(self.request)

    @property
    def access(self) -> AccessProtocol | None:
        """The access of the request; None without a token."""
        user = self.request.user
        return None if isinstance(user, AnonymousUser) else user.via

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if request.method in SAFE or not self.atomic_writes:
            return super().dispatch(request, *args, **kwargs)
        with transaction.atomic():
            response = super().dispatch(request, *args, **kwargs)
            if response.status_code >= 400:
                transaction.set_rollback(True)
        return response

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        method = method_of(request)
        if not hasattr(self, method.lower()):
            raise MethodNotAllowed(method)
        self.require_scope(method)
        if request.user.is_authenticated and (need := self.needs.get(method)):
            need(self.person, kwargs)
        self.answer: IdempotencyRecord | None = None
        self.query = self.read_query(request)
        self.require_length(request)
        # An answer can be stored only in the transaction of its write.
        if method != "POST" or not self.atomic_writes:
            return
        key = request.headers.get("Idempotency-Key", "").strip().strip('"')
        if key and request.user.is_authenticated:
            answer = idempotency_claim(
                principal=self.person.pk,
                key=key,
                method=method,
                path=request.path,
                body=self.sent(request),
            )
            if answer.status is not None:
                if again := self.needs_again.get(method):
                    again(self.person, kwargs, json.loads(answer.body))
                raise Replayed(answer)
            self.answer = answer

    def require_length(self, request: Request) -> None:
        """Refuse a body in chunks, which would be read as an empty one."""
        if "Transfer-Encoding" in request.headers and not request.headers.get("Content-Length"):
            raise LengthRequired

    def sent(self, request: Request) -> bytes:
        """The content that distinguishes a repeat from another request with the same key."""
        return request.body

    def check_throttles(self, request: Request) -> None:
        """Count the request against its person and client, or its address if it is anonymous.

        If the cache is away, requests are not counted but still answered.
        """
        try:
            self.counts = limits.hit_all(*self.rates(request))
        except limits.CacheDown:
            log.warning("the cache does not answer: requests are not counted")
            return
        if (wait_s := limits.wait_s(self.counts)) is not None:
            raise TooMany(wait_s)

    def rates(self, request: Request) -> list[tuple[limits.Policy, str]]:
        access = self.access
        if access is None:
            return [(limits.Policy.of("address"), limits.address_of(request))]
        client = limits.Policy.of("client")
        if access.requests_per_minute is not None:
            client = limits.Policy("client", access.requests_per_minute, 60)
        return [(limits.Policy.of("person"), str(self.person.pk)), (client, str(access.id))]

    def require_scope(self, method: str) -> None:
        if self.access is None:
            return  # anonymous and allowed
        scope = self.scopes.get("GET" if method == "HEAD" else method)
        if not self.access.allows(scope):
            raise ScopeMissing(scope)

    def read_query(self, request: Request) -> dict[str, Any]:
        serializer_class = self.query_serializer if request.method in SAFE else None
        return query_read(serializer_class, request.query_params)

    def require_nothing_unread(self, request: Request) -> None:
        """Refuse a body that the operation does not read, so that it is not lost unnoticed."""
        if request.method in SAFE or self.body_read or not request.data:
            return
        if not isinstance(request.data, dict):
            raise Invalid.at("", "no_body", "Nothing is to be sent here.")
        raise Invalid([unknown_field(f"/{escape(name)}", name) for name in request.data])

    def handle_exception(self, exc: Exception) -> Response:
        if isinstance(exc, Replayed):
            self.body_read = True  # the first request read it
            again = Response(json.loads(exc.answer.body), status=exc.answer.status)
            for name, value in exc.answer.headers.items():
                again[name] = value
            again["Idempotent-Replay"] = "true"
            return again
        return super().handle_exception(exc)

    # The framework passes on any Django answer; its stubs only have its own class.
    def finalize_response(  # type: ignore[override]
        self, request: Request, response: HttpResponseBase, *args: Any, **kwargs: Any
    ) -> HttpResponseBase:
        if response.status_code < 400:
            try:
                self.require_nothing_unread(request)
            except (Invalid, APIException) as refused:
                response = self.handle_exception(refused)
        # As above: any answer of Django.
        response = super().finalize_response(request, response, *args, **kwargs)  # type: ignore[arg-type]
        for name, value in limits.headers(self.counts).items():
            response[name] = value
        self.store_answer(response)
        etag = response.headers.get("ETag")
        if response.status_code != 304 and etag and is_held(request, etag):
            unchanged = Response(status=304)
            unchanged["ETag"] = etag
            return super().finalize_response(request, unchanged, *args, **kwargs)
        return response

    def store_answer(self, response: HttpResponseBase) -> None:
        answer = getattr(self, "answer", None)
        if answer is None or not isinstance(response, Response) or response.status_code >= 400:
            return
        answer.status = response.status_code
        answer.headers = {n: response[n] for n in STORED_HEADERS if response.has_header(n)}
        data = response.data
        if self.secret_fields:
            data = {**data, **dict.fromkeys(self.secret_fields)}
        answer.body = json.dumps(data, cls=JSONEncoder)
        answer.save(update_fields=["status", "headers", "body"])

    def read_body(self, serializer_class: type[StrictBody], **options: Any) -> dict[str, Any]:
        """The body, validated by the serializer; raises with pointers to every bad field."""
        self.body_read = True
        if not isinstance(self.request.data, dict):
            raise Invalid.at("", "not_an_object", "Send a JSON object.")
        body = serializer_class(data=self.request.data, **options)
        body.is_valid(raise_exception=True)
        checked: dict[str, Any] = body.validated_data
        return checked

    def expected_version(self, thing: Versioned) -> int:
        """The version in If-Match. Raises if it is missing (428) or differs (412)."""
        held = self.request.headers.get("If-Match")
        if held is None:
            raise PreconditionRequired
        if not matches(held, thing.etag, weak=False):
            raise Stale
        return thing.version

    def expected_of(self, own: Versioned | None) -> int | None:
        """The version to replace, or None to create the record (RFC 9110 section 13.1).

        If the record exists, raises if If-Match is missing (428) or differs (412), or with
        If-None-Match: *. If it does not exist, raises if If-Match names a version.
        """
        if own is None:
            if "If-Match" in self.request.headers:
                raise Stale
            return None
        if self.request.headers.get("If-None-Match", "").strip() == "*":
            raise Stale
        return self.expected_version(own)


def method_of(request: HttpRequest) -> str:
    """The method as text; the stubs allow None."""
    return request.method or ""


def is_held(request: Request, etag: str) -> bool:
    """Whether a reading client says that it holds the answer with this ETag."""
    held = request.headers.get("If-None-Match")
    return request.method in SAFE and held is not None and matches(held, etag, weak=True)


def matches(header: str, etag: str, *, weak: bool) -> bool:
    """Whether an If-Match or If-None-Match header names this ETag (RFC 9110 section 13.1)."""
    if header.strip() == "*":
        return True
    named = re.findall(r'(?:W/)?"[^"]*"', header)
    if weak:
        return etag in [tag.removeprefix("W/") for tag in named]
    return etag in [re.sub(r'\+[^"]*"$', '"', tag) for tag in named]


def versioned_response(
    thing: Versioned, data: Any, *, status: int = 200, variant: str = ""
) -> Response:
    """One shared record as an answer, with its ETag.

    variant: distinguishes answers of one version that differ by time or reader, so that no wrong
    one is cached. A change may name any variant of the version.
    """
    answer = Response(data, status=status)
    answer["ETag"] = f'{thing.etag[:-1]}+{variant}"' if variant else thing.etag
    return answer


def no_content() -> Response:
    return Response(status=204)


class ClientIdMixin(StrictBody):
    """A create may have the client's own id, so that a client without signal can refer to it."""

    id = serializers.UUIDField(
        required=False, help_text="a UUIDv7 made by the client; the service makes one if left out"
    )

    def validate_id(self, value: uuid.UUID) -> uuid.UUID:
        if value.version != 7:
            raise serializers.ValidationError(
                "A client-made id is a UUIDv7 (RFC 9562).", code="uuid_version"
            )
        return value


__all__ = [
    "ClientIdMixin",
    "ProblemResponse",
    "View",
    "no_content",
    "person_of",
    "versioned_response",
]
