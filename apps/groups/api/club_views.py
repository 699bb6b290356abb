"""Views of clubs and their members."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.groups import selectors, services
from apps.groups.api.serializers import (
    ClubBody,
    ClubInvitationBody,
    ClubMembershipBody,
    ClubMembershipSerializer,
    ClubSerializer,
    InvitationSerializer,
    NameBody,
    NewInvitationSerializer,
)
from apps.groups.api.views import token_response
from apps.groups.needs import in_club, in_club_of_member, own_or
from apps.groups.rules import ClubAction
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, no_content, person_of, versioned_response


class ClubsView(View):
    scopes = {"GET": "lists:read", "POST": "group:manage"}
    query_serializer = PageQuery

    @extend_schema(operation_id="clubs_list", responses=page_of(ClubSerializer))
    def get(self, request: Request) -> Response:
        """The clubs you belong to."""
        return page(request, selectors.clubs_for(self.person), self.query, ClubSerializer)

    @extend_schema(operation_id="clubs_create", request=ClubBody, responses={201: ClubSerializer})
    def post(self, request: Request) -> Response:
        """Found a club; you become its secretary."""
        club = services.club_create(by=self.person, **self.read_body(ClubBody))
        return club_response(request, club.id, status=201)


def club_response(request: Request, club_id: uuid.UUID, *, status: int = 200) -> Response:
    club = selectors.club_for(person_of(request), club_id)
    return versioned_response(club, ClubSerializer(club).data, status=status)


class ClubView(View):
    scopes = {"GET": "lists:read", "PATCH": "group:manage"}
    needs = {"PATCH": in_club(ClubAction.MANAGE)}

    @extend_schema(operation_id="clubs_read", responses=ClubSerializer)
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """One club."""
        return club_response(request, club_id)

    @extend_schema(operation_id="clubs_rename", request=NameBody, responses=ClubSerializer)
    def patch(self, request: Request, club_id: uuid.UUID) -> Response:
        """Rename the club."""
        club = selectors.club_for(self.person, club_id)
        services.club_rename(
            club=club,
            by=self.person,
            expected_version=self.expected_version(club),
            **self.read_body(NameBody),
        )
        return club_response(request, club_id)


class ClubMembersView(View):
    scopes = {"GET": "lists:read"}
    query_serializer = PageQuery

    @extend_schema(operation_id="club_members_list", responses=page_of(ClubMembershipSerializer))
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """The members of the club."""
        members = selectors.club_members_of(self.person, club_id)
        return page(request, members, self.query, ClubMembershipSerializer)


class ClubMembershipView(View):
    scopes = {"GET": "lists:read", "PUT": "group:manage", "DELETE": "group:manage"}
    needs = {
        "PUT": in_club_of_member(ClubAction.MANAGE),
        "DELETE": own_or(in_club_of_member(ClubAction.MANAGE), "groups.ClubMembership"),
    }

    @extend_schema(operation_id="club_members_read", responses=ClubMembershipSerializer)
    def get(self, request: Request, membership_id: uuid.UUID) -> Response:
        """One member of the club."""
        membership = selectors.club_membership_for(self.person, membership_id)
        return versioned_response(membership, ClubMembershipSerializer(membership).data)

    @extend_schema(
        operation_id="club_members_change",
        request=ClubMembershipBody,
        responses=ClubMembershipSerializer,
    )
    def put(self, request: Request, membership_id: uuid.UUID) -> Response:
        """Give a member of the club another role."""
        membership = selectors.club_membership_for(self.person, membership_id)
        services.club_membership_change(
            membership=membership,
            by=self.person,
            expected_version=self.expected_version(membership),
            **self.read_body(ClubMembershipBody),
        )
        return versioned_response(membership, ClubMembershipSerializer(membership).data)

    @extend_schema(operation_id="club_members_end", request=None, responses={204: None})
    def delete(self, request: Request, membership_id: uuid.UUID) -> Response:
        """Leave the club, or remove a member."""
        membership = selectors.club_membership_for(self.person, membership_id)
        services.club_membership_end(
            membership=membership,
            by=self.person,
            expected_version=self.expected_version(membership),
        )
        return no_content()


class ClubInvitationsView(View):
    scopes = {"GET": "group:manage", "POST": "group:manage"}
    needs = {"POST": in_club(ClubAction.MANAGE)}
    secret_fields = ("token",)
    query_serializer = PageQuery

    @extend_schema(operation_id="club_invitations_list", responses=page_of(InvitationSerializer))
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """The club's invitations, including used ones."""
        invitations = selectors.club_invitations_of(self.person, club_id)
        return page(request, invitations, self.query, InvitationSerializer)

    @extend_schema(
        operation_id="club_invitations_create",
        request=ClubInvitationBody,
        responses={201: NewInvitationSerializer},
    )
    def post(self, request: Request, club_id: uuid.UUID) -> Response:
        """Make a one-use link into the club."""
        invitation, token = services.club_invitation_create(
            club_id=club_id, by=self.person, **self.read_body(ClubInvitationBody)
        )
        return token_response(invitation, token)
