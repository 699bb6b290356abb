"""Views of the change feed."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from apps.events.feed import cursor_of, positions_of
from apps.events.models import Event
from apps.groups.changes import changes_for
from apps.http.pages import LARGEST_PAGE
from apps.http.views import View


class ChangesQuery(serializers.Serializer[Any]):
    since = serializers.CharField(
        required=False, help_text="`cursor` of the previous answer; left out the first time"
    )
    limit = serializers.IntegerField(
        default=100, min_value=1, max_value=LARGEST_PAGE, help_text="changes in one answer"
    )


class ChangeSerializer(serializers.ModelSerializer[Event]):
    kind = serializers.CharField(help_text="what happened, e.g. candidate.stage_changed")
    group = serializers.UUIDField(help_text="in which group")
    number = serializers.IntegerField(help_text="its number in the group's order")
    thing = serializers.CharField(help_text="the kind of record, e.g. candidate")
    thing_version = serializers.IntegerField(help_text="read the record if yours is older")
    deleted = serializers.BooleanField(help_text="delete your copy")
    by = serializers.UUIDField(source="by_id", allow_null=True, help_text="a person")
    at = serializers.DateTimeField(source="created_at")
    facts = serializers.DictField(child=serializers.JSONField(), help_text="more about this kind")

    class Meta:
        model = Event
        fields = (
            "kind",
            "group",
            "number",
            "thing",
            "thing_id",
            "thing_version",
            "deleted",
            "by",
            "at",
            "facts",
        )


class ChangesSerializer(serializers.Serializer[Any]):
    results = ChangeSerializer(many=True)
    cursor = serializers.CharField(help_text="send it as `since` the next time")
    more = serializers.BooleanField(help_text="more changes wait: ask again at once")


class ChangesView(View):
    scopes = {"GET": "lists:read"}
    query_serializer = ChangesQuery

    @extend_schema(operation_id="changes_list", responses={200: ChangesSerializer, 410: None})
    def get(self, request: Request) -> Response:
        """All changes since a cursor in all your groups, including deletions.

        Changes of one group come in the order in which they were stored. Each names a record and
        its version; read the record at its own address. The same change may come twice.

        Send the first request without `since`: each of your groups shows as `access.gained`. Keep
        the cursor, read what you need of these groups, then ask for later changes. A group you join
        later shows in the same way; one you leave shows as `access.lost`: delete your copies of its
        records. A cursor that is too old is answered by 410: start again.
        """
        since = positions_of(self.query["since"]) if "since" in self.query else {}
        changes = changes_for(self.person, since, limit=self.query["limit"])
        answer = {
            "results": changes.events,
            "cursor": cursor_of(changes.positions),
            "more": changes.more,
        }
        return Response(ChangesSerializer(answer).data)
