"""Views by which groups join and leave clubs."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.groups import admissions, selectors
from apps.groups.api.admission_serializers import (
    AdmissionDecisionBody,
    AdmissionRequestBody,
    AdmissionRequestQuery,
    AdmissionRequestSerializer,
    ClubGroupSerializer,
)
from apps.groups.api.serializers import ClubRefSerializer
from apps.groups.needs import in_club, in_group, in_group_of_admission, to_decide
from apps.groups.rules import Action, ClubAction
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, no_content, person_of, versioned_response


class GroupAdmissionRequestsView(View):
    scopes = {"GET": "lists:read", "POST": "group:manage"}
    needs = {"POST": in_group(Action.MANAGE)}
    query_serializer = AdmissionRequestQuery

    @extend_schema(
        operation_id="group_admission_requests_list", responses=page_of(AdmissionRequestSerializer)
    )
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """The group's requests to join clubs, and the clubs' answers."""
        asked = selectors.admissions_of_group(self.person, group_id, state=self.query.get("state"))
        return page(request, asked, self.query, AdmissionRequestSerializer)

    @extend_schema(
        operation_id="admission_requests_create",
        request=AdmissionRequestBody,
        responses={201: AdmissionRequestSerializer},
    )
    def post(self, request: Request, group_id: uuid.UUID) -> Response:
        """Ask a club that you belong to whether the group may join. One request at a time.

        Its secretaries see the group's name, its organisers, the note and who asks, and nothing
        else, now or after the group has joined. The group then decides what it shares.
        """
        asked = admissions.admission_ask(
            group_id=group_id, by=self.person, **self.read_body(AdmissionRequestBody)
        )
        return admission_response(request, asked.pk, status=201)


class ClubAdmissionRequestsView(View):
    scopes = {"GET": "group:manage"}
    query_serializer = AdmissionRequestQuery

    @extend_schema(
        operation_id="club_admission_requests_list", responses=page_of(AdmissionRequestSerializer)
    )
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """The groups that asked to join the club; for its secretaries."""
        asked = selectors.admissions_of_club(self.person, club_id, state=self.query.get("state"))
        return page(request, asked, self.query, AdmissionRequestSerializer)


def admission_response(request: Request, request_id: uuid.UUID, *, status: int = 200) -> Response:
    asked = selectors.admission_for(person_of(request), request_id)
    return versioned_response(asked, AdmissionRequestSerializer(asked).data, status=status)


class AdmissionRequestView(View):
    scopes = {"GET": "lists:read", "PATCH": "group:manage", "DELETE": "group:manage"}
    needs = {"PATCH": to_decide, "DELETE": in_group_of_admission(Action.MANAGE)}

    @extend_schema(operation_id="admission_requests_read", responses=AdmissionRequestSerializer)
    def get(self, request: Request, request_id: uuid.UUID) -> Response:
        """One request: of your group, or to the club whose secretary you are."""
        return admission_response(request, request_id)

    @extend_schema(
        operation_id="admission_requests_decide",
        request=AdmissionDecisionBody,
        responses=AdmissionRequestSerializer,
    )
    def patch(self, request: Request, request_id: uuid.UUID) -> Response:
        """Accept the group, or decline; by a secretary of the club.

        Once accepted, the group uses the club's catalogue and yards, and its results are computed
        again.
        """
        asked = selectors.admission_for(self.person, request_id)
        admissions.admission_decide(
            request=asked,
            by=self.person,
            expected_version=self.expected_version(asked),
            **self.read_body(AdmissionDecisionBody),
        )
        return admission_response(request, request_id)

    @extend_schema(operation_id="admission_requests_withdraw", request=None, responses={204: None})
    def delete(self, request: Request, request_id: uuid.UUID) -> Response:
        """Withdraw an undecided request; by an organiser of the group."""
        asked = selectors.admission_for(self.person, request_id)
        admissions.admission_withdraw(
            request=asked, by=self.person, expected_version=self.expected_version(asked)
        )
        return no_content()


class GroupClubView(View):
    scopes = {"GET": "lists:read", "DELETE": "group:manage"}
    needs = {"DELETE": in_group(Action.MANAGE)}

    @extend_schema(operation_id="group_club_read", responses=ClubRefSerializer)
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """The club that the group belongs to. The ETag is the group's."""
        group = selectors.group_in_club(self.person, group_id)
        return versioned_response(group, ClubRefSerializer(group.club).data)

    @extend_schema(operation_id="group_club_leave", request=None, responses={204: None})
    def delete(self, request: Request, group_id: uuid.UUID) -> Response:
        """Leave the club, at once; by an organiser.

        Second opinions asked of its advisers end, with their access, and so do yard days and what
        the group agreed to share. Findings keep their words; yards of the club where boats lie
        become the group's own. The club's catalogue no longer applies to the group.
        """
        group = selectors.group_in_club(self.person, group_id)
        admissions.club_leave(
            group=group, by=self.person, expected_version=self.expected_version(group)
        )
        return no_content()


class ClubGroupsView(View):
    scopes = {"GET": "group:manage"}
    query_serializer = PageQuery

    @extend_schema(operation_id="club_groups_list", responses=page_of(ClubGroupSerializer))
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """The groups of the club, and who organises them; for its secretaries."""
        groups = selectors.groups_of_club(self.person, club_id)
        return page(request, groups, self.query, ClubGroupSerializer)


class ClubGroupView(View):
    scopes = {"GET": "group:manage", "DELETE": "group:manage"}
    needs = {"DELETE": in_club(ClubAction.MANAGE)}

    @extend_schema(operation_id="club_groups_read", responses=ClubGroupSerializer)
    def get(self, request: Request, club_id: uuid.UUID, group_id: uuid.UUID) -> Response:
        """One group of the club."""
        group = selectors.group_of_club(self.person, club_id, group_id)
        return versioned_response(group, ClubGroupSerializer(group).data)

    @extend_schema(operation_id="club_groups_let_go", request=None, responses={204: None})
    def delete(self, request: Request, club_id: uuid.UUID, group_id: uuid.UUID) -> Response:
        """Remove a group at once; by a secretary. The effects are those of leaving."""
        group = selectors.group_of_club(self.person, club_id, group_id)
        admissions.club_let_go(
            group=group, by=self.person, expected_version=self.expected_version(group)
        )
        return no_content()
