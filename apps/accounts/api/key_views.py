"""Views of a person's tokens for scripts and allowed programs. Only for signed-in people."""

import uuid

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts import services
from apps.accounts.api.key_serializers import (
    GrantSerializer,
    NewTokenSerializer,
    TokenBody,
    TokenSerializer,
)
from apps.accounts.models import Token
from apps.accounts.program_services import grant_revoke
from apps.accounts.selectors import grants_of, own_tokens
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, no_content


class TokensView(View):
    query_serializer = PageQuery
    secret_fields = ("token",)

    @extend_schema(operation_id="tokens_list", responses=page_of(TokenSerializer))
    def get(self, request: Request) -> Response:
        """Your valid tokens for scripts."""
        tokens = own_tokens(self.person, Token.Kind.PERSONAL)
        return page(request, tokens, self.query, TokenSerializer)

    @extend_schema(
        operation_id="tokens_create", request=TokenBody, responses={201: NewTokenSerializer}
    )
    def post(self, request: Request) -> Response:
        """Make a token for a script of yours, limited to what it needs.

        Only a signed-in person makes one: a token cannot make another.
        """
        token, secret = services.personal_token_create(
            person=self.person, **self.read_body(TokenBody)
        )
        token.token = secret
        return Response(NewTokenSerializer(token).data, status=201)


class TokenView(View):
    versioned_methods = ()

    @extend_schema(operation_id="tokens_revoke", request=None, responses={204: None})
    def delete(self, request: Request, token_id: uuid.UUID) -> Response:
        """Revoke the token."""
        tokens = own_tokens(self.person, Token.Kind.PERSONAL)
        services.token_revoke(token=get_object_or_404(tokens, pk=token_id))
        return no_content()


class GrantsView(View):
    query_serializer = PageQuery

    @extend_schema(operation_id="grants_list", responses=page_of(GrantSerializer))
    def get(self, request: Request) -> Response:
        """Other people's programs that you allowed to act as you."""
        return page(request, grants_of(self.person), self.query, GrantSerializer)


class GrantView(View):
    versioned_methods = ()

    @extend_schema(operation_id="grants_revoke", request=None, responses={204: None})
    def delete(self, request: Request, program_id: uuid.UUID) -> Response:
        """End the program's access: all its tokens for you end at once."""
        program = get_object_or_404(grants_of(self.person), pk=program_id)
        grant_revoke(person=self.person, program=program)
        return no_content()
