"""Pages by keyset: a cursor names the last row seen, so new rows do not shift pages."""

import base64
import binascii
import uuid
from functools import cache
from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import inline_serializer
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from apps.common.errors import Invalid

LARGEST_PAGE = 200
ORDERS = ("oldest", "newest")


class PageQuery(serializers.Serializer[Any]):
    """The parameters of every collection."""

    cursor = serializers.CharField(required=False, help_text="from `next` of the page before")
    limit = serializers.IntegerField(
        default=50, min_value=1, max_value=LARGEST_PAGE, help_text="rows on a page"
    )
    order = serializers.ChoiceField(
        ORDERS, default="oldest", help_text="by when the thing was made"
    )


def encode(last: uuid.UUID) -> str:
    return base64.urlsafe_b64encode(last.bytes).rstrip(b"=").decode()


def decode(cursor: str) -> uuid.UUID:
    try:
        return uuid.UUID(bytes=base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)))
    except (binascii.Error, ValueError) as error:
        raise Invalid.at("?cursor", "bad_cursor", "Take the cursor from `next`.") from error


def page(
    request: Request,
    rows: QuerySet[Any],
    query: dict[str, Any],
    serializer_class: type[serializers.BaseSerializer[Any]],
    **context: Any,
) -> Response:
    """One page of `rows`, ordered by their ids (UUIDv7: by when they were made).

    The rows must have the reader's scope already. One query, besides the queryset's prefetches.
    """
    newest = query["order"] == "newest"
    if cursor := query.get("cursor"):
        rows = rows.filter(**{"pk__lt" if newest else "pk__gt": decode(cursor)})
    found = list(rows.order_by("-pk" if newest else "pk")[: query["limit"] + 1])
    on_page = found[: query["limit"]]
    more = len(found) > len(on_page)
    return Response(
        {
            "results": serializer_class(
                on_page, many=True, context={"request": request, **context}
            ).data,
            "next": next_link(request, encode(on_page[-1].pk)) if more else None,
        }
    )


def next_link(request: Request, cursor: str) -> str:
    parameters = request.query_params.copy()
    parameters["cursor"] = cursor
    return request.build_absolute_uri(f"{request.path}?{parameters.urlencode()}")


@cache
def page_of(serializer_class: type[serializers.BaseSerializer[Any]]) -> Any:
    """The serializer of a page of these rows, for the schema."""
    name = serializer_class.__name__.removesuffix("Serializer") + "Page"
    return inline_serializer(
        name,
        {
            "results": serializer_class(many=True),
            "next": serializers.CharField(
                allow_null=True, help_text="address of the next page, or null at the end"
            ),
        },
    )
