"""Views of sign-in and one's own account."""

import uuid
from collections.abc import Sequence
from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts import services
from apps.accounts.api.serializers import (
    AccountBody,
    OpenedSessionSerializer,
    PasswordBody,
    PersonSerializer,
    SessionSerializer,
    SignInBody,
)
from apps.accounts.models import Token
from apps.accounts.passwords import password_change
from apps.accounts.selectors import own_tokens
from apps.http.limits import address_of
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, no_content, versioned_response


class SessionsView(View):
    """Sessions: signing in returns a token for all other requests."""

    atomic_writes = False  # the write lock must not wait for the slow password hash
    query_serializer = PageQuery

    def get_permissions(self) -> Sequence[Any]:
        return [] if self.request.method == "POST" else super().get_permissions()

    @extend_schema(operation_id="sessions_list", responses=page_of(SessionSerializer))
    def get(self, request: Request) -> Response:
        """Where you are signed in."""
        sessions = own_tokens(self.person, Token.Kind.SESSION)
        return page(request, sessions, self.query, SessionSerializer)

    @extend_schema(
        operation_id="sessions_open",
        request=SignInBody,
        responses={201: OpenedSessionSerializer, 503: None},
        auth=[],
    )
    def post(self, request: Request) -> Response:
        """Sign in with email and password."""
        token, secret = services.session_open(
            **self.read_body(SignInBody), address=address_of(request)
        )
        opened = {
            "id": token.id,
            "token": secret,
            "expires_at": token.expires_at,
            "person": token.person,
        }
        return Response(OpenedSessionSerializer(opened).data, status=201)


class SessionView(View):
    versioned_methods = ()

    @extend_schema(operation_id="sessions_close", request=None, responses={204: None})
    def delete(self, request: Request, token_id: uuid.UUID) -> Response:
        """Sign out: revoke the token."""
        sessions = own_tokens(self.person, Token.Kind.SESSION)
        services.token_revoke(token=get_object_or_404(sessions, pk=token_id))
        return no_content()


class MeView(View):
    """One's own account."""

    scopes = {"GET": "account:read"}

    @extend_schema(operation_id="people_me", responses=PersonSerializer)
    def get(self, request: Request) -> Response:
        """Your account."""
        return versioned_response(self.person, PersonSerializer(self.person).data)

    @extend_schema(operation_id="people_change_me", request=AccountBody, responses=PersonSerializer)
    def patch(self, request: Request) -> Response:
        """Change your name, and the units and the currency in which the pages show figures."""
        expected = self.expected_version(self.person)
        person = services.person_change(
            person=self.person, expected_version=expected, facts=self.read_body(AccountBody)
        )
        return versioned_response(person, PersonSerializer(person).data)


class PasswordChangesView(View):
    """Changes of one's password."""

    atomic_writes = False  # the write lock must not wait for the slow password hash

    @extend_schema(
        operation_id="people_change_password",
        request=PasswordBody,
        responses={204: None, 503: None},
    )
    def post(self, request: Request) -> Response:
        """Change your password. You stay signed in here, and all your other sign-ins end.

        A repeat is refused (422), because the present password is another one then.
        """
        password_change(
            person=self.person, address=address_of(request), **self.read_body(PasswordBody)
        )
        return no_content()
