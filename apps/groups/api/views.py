"""Views of groups, their members, shares and invitations."""

import uuid
from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.groups import selectors, services
from apps.groups.api.serializers import (
    AcceptanceBody,
    GroupBody,
    GroupChangeBody,
    GroupSerializer,
    InvitationBody,
    InvitationSerializer,
    MembershipBody,
    MembershipSerializer,
    NewInvitationSerializer,
    SharesSerializer,
)
from apps.groups.models import Invitation
from apps.groups.needs import in_group, in_group_of_member, own_or
from apps.groups.rules import Action, ClubAction, require_in_club
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, no_content, person_of, versioned_response


def still_in_club(person: Person, named: Mapping[str, Any], answer: Any) -> None:
    if answer["club"] is not None:
        require_in_club(person, ClubAction.READ, answer["club"])


class GroupsView(View):
    scopes = {"GET": "lists:read", "POST": "group:manage"}
    needs_again = {"POST": still_in_club}
    query_serializer = PageQuery

    @extend_schema(operation_id="groups_list", responses=page_of(GroupSerializer))
    def get(self, request: Request) -> Response:
        """The groups you belong to."""
        return page(request, selectors.groups_for(self.person), self.query, GroupSerializer)

    @extend_schema(
        operation_id="groups_create", request=GroupBody, responses={201: GroupSerializer}
    )
    def post(self, request: Request) -> Response:
        """Found a group; you become its organiser."""
        group = services.group_create(by=self.person, **self.read_body(GroupBody))
        return group_response(request, group.id, status=201)


def group_response(request: Request, group_id: uuid.UUID, *, status: int = 200) -> Response:
    group = selectors.group_for(person_of(request), group_id)
    return versioned_response(group, GroupSerializer(group).data, status=status)


class GroupView(View):
    scopes = {"GET": "lists:read", "PATCH": "group:manage"}
    needs = {"PATCH": in_group(Action.MANAGE)}

    @extend_schema(operation_id="groups_read", responses=GroupSerializer)
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """One group."""
        return group_response(request, group_id)

    @extend_schema(operation_id="groups_change", request=GroupChangeBody, responses=GroupSerializer)
    def patch(self, request: Request, group_id: uuid.UUID) -> Response:
        """Rename the group, or set what it agrees to share with its club."""
        group = selectors.group_for(self.person, group_id)
        services.group_change(
            group=group,
            by=self.person,
            expected_version=self.expected_version(group),
            **self.read_body(GroupChangeBody),
        )
        return group_response(request, group_id)


class MembersView(View):
    scopes = {"GET": "lists:read"}
    query_serializer = PageQuery

    @extend_schema(operation_id="members_list", responses=page_of(MembershipSerializer))
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """The members of the group."""
        members = selectors.members_of(self.person, group_id)
        return page(request, members, self.query, MembershipSerializer)


class MembershipView(View):
    scopes = {"GET": "lists:read", "PUT": "group:manage", "DELETE": "group:manage"}
    needs = {
        "PUT": in_group_of_member(Action.MANAGE),
        "DELETE": own_or(in_group_of_member(Action.MANAGE)),
    }

    @extend_schema(operation_id="members_read", responses=MembershipSerializer)
    def get(self, request: Request, membership_id: uuid.UUID) -> Response:
        """One member."""
        membership = selectors.membership_for(self.person, membership_id)
        return versioned_response(membership, MembershipSerializer(membership).data)

    @extend_schema(
        operation_id="members_change", request=MembershipBody, responses=MembershipSerializer
    )
    def put(self, request: Request, membership_id: uuid.UUID) -> Response:
        """Give a member another role."""
        membership = selectors.membership_for(self.person, membership_id)
        services.membership_change(
            membership=membership,
            by=self.person,
            expected_version=self.expected_version(membership),
            **self.read_body(MembershipBody),
        )
        return versioned_response(membership, MembershipSerializer(membership).data)

    @extend_schema(operation_id="members_end", request=None, responses={204: None})
    def delete(self, request: Request, membership_id: uuid.UUID) -> Response:
        """Leave the group, or remove a member. Their findings stay on record."""
        membership = selectors.membership_for(self.person, membership_id)
        services.membership_end(
            membership=membership,
            by=self.person,
            expected_version=self.expected_version(membership),
        )
        return no_content()


class SharesView(View):
    scopes = {"GET": "lists:read", "PUT": "group:manage"}
    needs = {"PUT": in_group(Action.MANAGE)}

    @extend_schema(operation_id="shares_read", responses=SharesSerializer)
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """Each buyer's share of the purchase."""
        group = selectors.group_for(self.person, group_id)
        return versioned_response(group, shares_serialized(group_id))

    @extend_schema(operation_id="shares_set", request=SharesSerializer, responses=SharesSerializer)
    def put(self, request: Request, group_id: uuid.UUID) -> Response:
        """Set all shares at once: every buyer once, with the sum 1. The ETag is the group's."""
        group = selectors.group_for(self.person, group_id)
        rows = self.read_body(SharesSerializer)["shares"]
        services.shares_set(
            group=group,
            by=self.person,
            shares={row["person"]: row["share"] for row in rows},
            expected_version=self.expected_version(group),
        )
        return versioned_response(group, shares_serialized(group_id))


def shares_serialized(group_id: uuid.UUID) -> dict[str, Any]:
    shares = selectors.shares_of(selectors.buyers_of(group_id))
    rows = [{"person": person, "share": share} for person, share in shares.items()]
    return SharesSerializer({"shares": rows}).data


class InvitationsView(View):
    scopes = {"GET": "group:manage", "POST": "group:manage"}
    needs = {"POST": in_group(Action.MANAGE)}
    secret_fields = ("token",)
    query_serializer = PageQuery

    @extend_schema(operation_id="invitations_list", responses=page_of(InvitationSerializer))
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """The group's invitations, including used ones."""
        invitations = selectors.invitations_of(self.person, group_id)
        return page(request, invitations, self.query, InvitationSerializer)

    @extend_schema(
        operation_id="invitations_create",
        request=InvitationBody,
        responses={201: NewInvitationSerializer},
    )
    def post(self, request: Request, group_id: uuid.UUID) -> Response:
        """Make a one-use link into the group."""
        invitation, token = services.invitation_create(
            group_id=group_id, by=self.person, **self.read_body(InvitationBody)
        )
        return token_response(invitation, token)


def token_response(invitation: Invitation, token: str) -> Response:
    invitation.token = token
    return versioned_response(invitation, NewInvitationSerializer(invitation).data, status=201)


class InvitationView(View):
    scopes = {"GET": "group:manage", "DELETE": "group:manage"}

    @extend_schema(operation_id="invitations_read", responses=InvitationSerializer)
    def get(self, request: Request, invitation_id: uuid.UUID) -> Response:
        """One invitation, into a group or a club that you manage; without its token."""
        invitation = selectors.invitation_for(self.person, invitation_id)
        return versioned_response(invitation, InvitationSerializer(invitation).data)

    @extend_schema(operation_id="invitations_withdraw", request=None, responses={204: None})
    def delete(self, request: Request, invitation_id: uuid.UUID) -> Response:
        """Withdraw an unused invitation."""
        invitation = selectors.invitation_for(self.person, invitation_id)
        services.invitation_withdraw(
            invitation=invitation,
            by=self.person,
            expected_version=self.expected_version(invitation),
        )
        return no_content()


class AcceptancesView(View):
    """Join by a link. No sign-in is needed, only the token of the invitation."""

    permission_classes = ()

    @extend_schema(
        operation_id="invitations_accept",
        request=AcceptanceBody,
        responses={201: InvitationSerializer},
        auth=[{}, {"token": []}, {"cookie": []}],  # type: ignore[list-item]  # the library takes them, its hint not
    )
    def post(self, request: Request) -> Response:
        """Join a group or club: signed in as yourself, or with a new account made here."""
        by = None if self.access is None else self.person
        invitation = services.invitation_accept(by=by, **self.read_body(AcceptanceBody))
        return Response(InvitationSerializer(invitation).data, status=201)
