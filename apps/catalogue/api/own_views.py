"""A club's or a group's own catalogue: the same views for both, translation only."""

import uuid
from typing import Any

from drf_spectacular.utils import (
    OpenApiExample,
    OpenApiParameter,
    extend_schema,
    extend_schema_view,
)
from rest_framework.request import Request
from rest_framework.response import Response

from apps.catalogue.api.own_serializers import (
    CatalogueChangeSerializer,
    CatalogueEntryListSerializer,
    CatalogueEntrySerializer,
    DifferencesQuery,
    DifferencesSerializer,
    EditionsQuery,
    EntryBody,
    OwnCatalogueSerializer,
)
from apps.catalogue.own import selectors, services
from apps.catalogue.own.kinds import KINDS
from apps.catalogue.own.owners import Owner
from apps.common.errors import NotVisible
from apps.common.wording import NOT_A_SURVEY, PRACTICE_FIRST
from apps.http.pages import page, page_of
from apps.http.views import View, no_content, versioned_response

CAUTION = f"{NOT_A_SURVEY} {PRACTICE_FIRST}"
KIND = OpenApiParameter(
    "kind", str, OpenApiParameter.PATH, enum=list(KINDS), description="of entry"
)
FIGURES = OpenApiExample(
    "Only what differs of a remedy",
    value={
        "own": {"parts": [240, 300, 390], "source": "price list of our yard"},
        "note": "The yard by the bridge, every spring",
    },
    request_only=True,
)
ADDED = OpenApiExample(
    "A caution that is added to the underlying layer",
    value={"own": {"text": "On our slipway stands creep at spring tides."}},
    request_only=True,
)
OUT = OpenApiExample(
    "Leave out something that does not exist here",
    value={"left_out": True, "note": "Members store free of charge"},
    request_only=True,
)
CODE = OpenApiParameter("code", str, OpenApiParameter.PATH, description="code of the entry")


def catalogue_response(held: selectors.Held, data: Any) -> Response:
    """An answer with an ETag that changes whenever the catalogue that holds changes."""
    answer = Response(data)
    answer["ETag"] = held.etag
    return answer


def known(kind: str) -> str:
    if kind not in KINDS:
        raise NotVisible
    return kind


class OwnView(View):
    scopes = {"GET": "lists:read"}

    @property
    def owner(self) -> Owner:
        of = {name: value for name, value in self.kwargs.items() if isinstance(value, uuid.UUID)}
        return selectors.owner_of(**of)


class CatalogueView(OwnView):
    def get(self, request: Request, **_: Any) -> Response:
        """The catalogue that holds here, in numbers, and the entries that no longer fit."""
        held = selectors.held(self.owner, self.person)
        payload = {
            "editions": held.holds.editions,
            "money": held.holds.catalogue.money.basis,
            "kinds": held.counts(),
            "set_aside": held.holds.set_aside,
            "caution": CAUTION,
        }
        return catalogue_response(held, OwnCatalogueSerializer(payload).data)


class EntriesView(OwnView):
    def get(self, request: Request, kind: str, **_: Any) -> Response:
        """All things of a kind as they hold here, with the underlying layer and the owner of each.

        A checkpoint with its cautions is for a screening, which is not a survey.
        """
        held = selectors.held(self.owner, self.person)
        payload = {
            "editions": held.holds.editions,
            "money": held.holds.catalogue.money.basis,
            "results": held.entries(known(kind)),
        }
        return catalogue_response(held, CatalogueEntryListSerializer(payload).data)


class EntryView(OwnView):
    scopes = {"GET": "lists:read", "PUT": "group:manage", "DELETE": "group:manage"}
    put_makes = True

    def get(self, request: Request, kind: str, code: str, **_: Any) -> Response:
        """One thing as it holds here, with the underlying layer."""
        return self.entry_response(kind, code)

    def put(self, request: Request, kind: str, code: str, **_: Any) -> Response:
        """Change an entry for your waters, add one, or leave one out.

        The first change of an entry needs no If-Match. Cautions, the professional who must judge,
        and entries about structure, safety or flooding can be made stricter, never less strict
        (`safety_kept`).
        """
        owner = self.owner
        owner.require_curator(self.person)
        counts = selectors.counting(owner, known(kind), code)
        self.expected_of(counts)
        payload = self.read_body(EntryBody)
        target = {"kind": kind, "code": code, "note": payload["note"], "replacing": counts}
        if "own" in payload:
            services.entry_say(owner=owner, by=self.person, own=payload["own"], **target)
        else:
            services.entry_leave_out(owner=owner, by=self.person, **target)
        return self.entry_response(kind, code, status=200 if counts else 201)

    def delete(self, request: Request, kind: str, code: str, **_: Any) -> Response:
        """Take back your entry: the underlying layer holds again; an added entry is gone."""
        owner = self.owner
        owner.require_curator(self.person)
        counts = selectors.counting(owner, known(kind), code)
        if counts is None:
            raise NotVisible
        self.expected_version(counts)
        services.entry_take_back(
            owner=owner, by=self.person, kind=kind, code=code, replacing=counts
        )
        return no_content()

    def entry_response(self, kind: str, code: str, *, status: int = 200) -> Response:
        held = selectors.held(self.owner, self.person)
        entry = held.entry(known(kind), code)
        data = CatalogueEntrySerializer(entry).data
        if entry.change is None:
            return catalogue_response(held, data)
        return versioned_response(entry.change, data, status=status, variant=held.etag.strip('"'))


class EditionsView(OwnView):
    query_serializer = EditionsQuery

    def get(self, request: Request, **_: Any) -> Response:
        """Every change made here; each began an edition."""
        only = {name: self.query[name] for name in ("kind", "code") if name in self.query}
        changes = selectors.history(self.owner, self.person, **only)
        return page(request, changes, self.query, CatalogueChangeSerializer)


class DifferencesView(OwnView):
    query_serializer = DifferencesQuery

    def get(self, request: Request, **_: Any) -> Response:
        """Differences, field by field: from the underlying layer, or between two editions."""
        later, found = selectors.differences_between(
            self.owner,
            self.person,
            first=self.query["from_edition"],
            last=self.query.get("to_edition"),
            against=self.query["against"],
        )
        payload = {"editions": later.editions, "results": found}
        answer = Response(DifferencesSerializer(payload).data)
        first, last = self.query["from_edition"], self.query.get("to_edition", "latest")
        between = f"{self.query['against']}-{first}-{last}"
        answer["ETag"] = f'"differences-{"-".join(map(str, later.editions.values()))}-{between}"'
        return answer


# --- Under a club and under a group --------------------------------------------------------------


def under(owner: str) -> dict[str, Any]:
    """The views by name, with operations of their own for the owner's addresses."""
    entry, of = CatalogueEntrySerializer, {"parameters": [KIND, CODE]}
    put = {"request": EntryBody, "examples": [FIGURES, ADDED, OUT], **of}
    operations: dict[str, tuple[type[OwnView], dict[str, dict[str, Any]]]] = {
        "catalogue": (CatalogueView, {"get": _operation("read", OwnCatalogueSerializer)}),
        "entries": (
            EntriesView,
            {"get": _operation("entries_list", CatalogueEntryListSerializer, parameters=[KIND])},
        ),
        "entry": (
            EntryView,
            {
                "get": _operation("entries_read", entry, **of),
                "put": _operation("entries_say", {200: entry, 201: entry}, **put),
                "delete": _operation("entries_take_back", {204: None}, request=None, **of),
            },
        ),
        "editions": (
            EditionsView,
            {"get": _operation("editions_list", page_of(CatalogueChangeSerializer))},
        ),
        "diff": (DifferencesView, {"get": _operation("differences_list", DifferencesSerializer)}),
    }
    return {name: _named(owner, view, methods) for name, (view, methods) in operations.items()}


def _operation(name: str, responses: Any, **more: Any) -> dict[str, Any]:
    return {"operation_id": name, "responses": responses, **more}


def _named(owner: str, view: type[OwnView], methods: dict[str, dict[str, Any]]) -> type[OwnView]:
    described = {
        method: extend_schema(
            **{**payload, "operation_id": f"{owner}_catalogue_{payload['operation_id']}"}
        )
        for method, payload in methods.items()
    }
    own = type(f"{owner.title()}{view.__name__}", (view,), {})
    return extend_schema_view(**described)(own)
