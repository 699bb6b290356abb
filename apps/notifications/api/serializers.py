"""Serializers of notifications and their settings."""

from collections.abc import Iterable
from typing import Any
from zoneinfo import available_timezones

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.http.bodies import StrictBody
from apps.http.pages import PageQuery
from apps.http.views import person_of
from apps.notifications.models import DigestEmail, GroupChoice, Inbox, Notification, Rhythm
from apps.notifications.selectors import inbox_of
from apps.notifications.sentences.table import sentence
from apps.notifications.types import CHOICES, NotificationKind
from apps.notifications.words import Words, words_for


class NotificationsQuery(PageQuery):
    kind = serializers.ChoiceField(NotificationKind.choices, required=False)
    group = serializers.UUIDField(required=False, help_text="of one group alone")
    read = serializers.BooleanField(
        required=False, allow_null=True, default=None, help_text="only read ones, or unread"
    )
    open = serializers.BooleanField(
        default=True, help_text="false: those that are done or no longer apply"
    )


class PlaceRefSerializer(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    name = serializers.CharField()


class NotificationsSerializer(serializers.ListSerializer[Any]):
    """Names are looked up for all rows together."""

    # Always a page of rows.
    def to_representation(self, data: Iterable[Notification]) -> list[Any]:  # type: ignore[override]
        rows = list(data)
        assert isinstance(self.child, NotificationSerializer)
        self.child.words = words_of(rows, person_of(self.context["request"]))
        return super().to_representation(rows)


def words_of(notifications: list[Notification], reader: Any) -> Words:
    """Three queries at any number."""
    return words_for(notifications, inbox_of(reader).zone)


class NotificationSerializer(serializers.ModelSerializer[Notification]):
    kind = serializers.ChoiceField(NotificationKind.choices)
    type = serializers.ChoiceField(CHOICES, help_text="the type, for programs")
    sentence = serializers.SerializerMethodField(help_text="the same for people")
    group = PlaceRefSerializer(allow_null=True)
    club = PlaceRefSerializer(allow_null=True)
    list = PlaceRefSerializer(allow_null=True)
    candidate = PlaceRefSerializer(allow_null=True)
    thing = serializers.CharField(help_text="the kind of record to read, e.g. candidate")
    facts = serializers.DictField(
        child=serializers.JSONField(), help_text="more about this type: ids and figures"
    )
    number = serializers.IntegerField(help_text="mark all up to this number")
    added_at = serializers.DateTimeField(help_text="when something was last added to it")
    times = serializers.IntegerField(help_text="number of changes in it")
    grave = serializers.SerializerMethodField(help_text="structure, safety or flooding")
    read = serializers.SerializerMethodField()
    done = serializers.SerializerMethodField()
    settled_at = serializers.DateTimeField(allow_null=True, help_text="when it stopped applying")
    mailed = serializers.SerializerMethodField(help_text="when it went into a digest")

    class Meta:
        model = Notification
        list_serializer_class = NotificationsSerializer
        fields = (
            "id",
            "version",
            "kind",
            "type",
            "sentence",
            "group",
            "club",
            "list",
            "candidate",
            "thing",
            "thing_id",
            "facts",
            "number",
            "added_at",
            "times",
            "grave",
            "read",
            "done",
            "settled_at",
            "mailed",
            "created_at",
        )

    words: Words | None = None

    def get_sentence(self, notification: Notification) -> str:
        if self.words is None:
            self.words = words_of([notification], person_of(self.context["request"]))
        return sentence(notification, self.words)

    def get_grave(self, notification: Notification) -> bool:
        return notification.weight > 0

    def get_read(self, notification: Notification) -> bool:
        return notification.read_at is not None

    def get_done(self, notification: Notification) -> bool:
        return notification.done_at is not None

    def get_mailed(self, notification: Notification) -> bool:
        return notification.digest_id is not None


class NotificationPageSerializer(serializers.Serializer[Any]):
    results = NotificationSerializer(many=True)
    next = serializers.CharField(
        allow_null=True, help_text="address of the next page, or null at the end"
    )
    unread = serializers.IntegerField(help_text="in the whole inbox")
    last = serializers.IntegerField(help_text="number of the newest: mark all up to this number")
    caution = serializers.CharField()


class NotificationMarkBody(StrictBody):
    read = serializers.BooleanField(required=False)
    done = serializers.BooleanField(required=False, help_text="done implies read")


class MarksBody(StrictBody):
    up_to = serializers.IntegerField(min_value=0, help_text="`last` of the page you have seen")
    done = serializers.BooleanField(default=False, help_text="mark as done, not only as read")
    kind = serializers.ChoiceField(NotificationKind.choices, required=False)
    group = serializers.UUIDField(required=False)


class MarkedSerializer(serializers.Serializer[Any]):
    marked = serializers.IntegerField()
    unread = serializers.IntegerField(help_text="that are left")


# --- Choices -------------------------------------------------------------------------------------


class KindsField(serializers.ListField):
    """Kinds of notification, each once."""

    def __init__(self, **options: Any) -> None:
        super().__init__(
            child=serializers.ChoiceField(NotificationKind.choices),
            max_length=len(NotificationKind.values),
            **options,
        )

    def to_internal_value(self, data: Any) -> list[str]:
        named = super().to_internal_value(data)
        return [kind for kind in NotificationKind.values if kind in named]


class AddressSerializer(serializers.Serializer[Any]):
    address = serializers.EmailField()
    confirmed = serializers.BooleanField(help_text="no mail is sent before this")


class InboxSerializer(serializers.ModelSerializer[Inbox]):
    in_service = KindsField(help_text="kinds that are shown in the inbox")
    by_mail = KindsField(help_text="kinds that go into digests")
    rhythm = serializers.ChoiceField(Rhythm.choices, help_text="of digests")
    mail = serializers.SerializerMethodField()

    class Meta:
        model = Inbox
        fields = (
            "version",
            "in_service",
            "by_mail",
            "rhythm",
            "hour",
            "weekday",
            "time_zone",
            "mail",
        )

    @extend_schema_field(AddressSerializer)
    def get_mail(self, inbox: Inbox) -> dict[str, Any]:
        confirmed = inbox.confirmed_email == inbox.person.email
        return AddressSerializer({"address": inbox.person.email, "confirmed": confirmed}).data


class InboxBody(StrictBody):
    in_service = KindsField(required=False)
    by_mail = KindsField(required=False)
    rhythm = serializers.ChoiceField(Rhythm.choices, required=False)
    hour = serializers.IntegerField(
        min_value=0, max_value=23, required=False, help_text="of the day, on your clock"
    )
    weekday = serializers.IntegerField(
        min_value=1, max_value=7, required=False, help_text="1 Monday to 7 Sunday, for weekly ones"
    )
    time_zone = serializers.CharField(
        max_length=60, required=False, help_text="of the IANA database, e.g. Europe/Copenhagen"
    )

    def validate_time_zone(self, value: str) -> str:
        if value not in available_timezones():
            raise serializers.ValidationError(
                "Not a name of the IANA time zone database.", code="unknown_time_zone"
            )
        return value


class GroupChoiceSerializer(serializers.ModelSerializer[GroupChoice]):
    in_service = KindsField(allow_null=True)
    by_mail = KindsField(allow_null=True)
    rhythm = serializers.ChoiceField(Rhythm.choices, source="own_rhythm", allow_null=True)

    class Meta:
        model = GroupChoice
        fields = ("version", "group", "in_service", "by_mail", "rhythm")


class GroupChoiceBody(StrictBody):
    in_service = KindsField(required=False, allow_null=True, help_text="null: the general setting")
    by_mail = KindsField(required=False, allow_null=True)
    rhythm = serializers.ChoiceField(Rhythm.choices, required=False, allow_null=True)

    def validate_rhythm(self, value: str | None) -> str:
        return value or ""


class ConfirmationSerializer(serializers.ModelSerializer[DigestEmail]):
    address = serializers.EmailField(source="person.email", help_text="where the mail goes")

    class Meta:
        model = DigestEmail
        fields = ("id", "address", "created_at")
