"""Serializers of photos and sounds."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request

from apps.accounts.api.key_serializers import ClientField
from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.api.fields import StrictBody
from apps.common.wording import NOT_A_SURVEY
from apps.http.pages import PageQuery
from apps.http.views import ClientIdMixin, person_of
from apps.reckoning.sound import compare
from apps.viewings.media.links import link
from apps.viewings.media.models import Media, Photo, SellerPhoto, Sound
from apps.viewings.media.selectors import rings_of

CAUTION = (
    "Taps measured by a program, at the places tapped and no others: a reason to look closer, "
    f"never a verdict, and it clears nothing. {NOT_A_SURVEY}"
)


class MediaQuery(PageQuery):
    checkpoint = serializers.CharField(
        max_length=60, required=False, help_text="only those of findings on this checkpoint"
    )


class SoundQuery(MediaQuery):
    purpose = serializers.ChoiceField(Sound.Purpose.choices, required=False)


class FaultSerializer(serializers.Serializer[Any]):
    """Why a file was rejected. Send another one under another id."""

    code = serializers.ChoiceField(Media.Fault.choices)
    detail = serializers.CharField()


class MediaSerializer(serializers.ModelSerializer[Media]):
    """The common fields of photos and sounds. The context has the `request`."""

    candidate = serializers.UUIDField(source="of.pk")
    added_by = PersonRefSerializer()
    client = ClientField(help_text="with what it was sent")
    fault = serializers.SerializerMethodField(help_text="why it was rejected, if it was")

    @extend_schema_field(FaultSerializer(allow_null=True))
    def get_fault(self, media: Media) -> dict[str, str] | None:
        return {"code": media.fault, "detail": media.get_fault_display()} if media.fault else None

    def address(self, media: Media, form: str) -> str | None:
        if media.state != Media.State.READY or form not in media.forms_made:
            return None
        request: Request = self.context["request"]
        return request.build_absolute_uri(link(media, form, person_of(request)))


OF_ALL = (
    "id",
    "version",
    "candidate",
    "note",
    "added_by",
    "client",
    "state",
    "fault",
    "storage_failing_since",
    "created_at",
    "updated_at",
)
COMMON = (*OF_ALL, "viewing", "submission", "checkpoint")
ADDRESS = serializers.URLField(
    allow_null=True, help_text="works without a token for a limited time; null until it is ready"
)


PICTURE = ("taken_at", "width", "height", "image", "thumbnail")


class PictureSerializer(MediaSerializer):
    """A picture as JPEG, without place, device or other data from the camera."""

    image = serializers.SerializerMethodField()
    thumbnail = serializers.SerializerMethodField()

    @extend_schema_field(ADDRESS)
    def get_image(self, photo: Media) -> str | None:
        return self.address(photo, "image")

    @extend_schema_field(ADDRESS)
    def get_thumbnail(self, photo: Media) -> str | None:
        return self.address(photo, "thumbnail")


class PhotoSerializer(PictureSerializer):
    """A picture of a visit as JPEG, without place, device or other data from the camera."""

    class Meta:
        model = Photo
        fields = (*COMMON, *PICTURE)


class SellerPhotoSerializer(PictureSerializer):
    """A picture from the seller as JPEG. It shows what the seller chose to show: no finding."""

    class Meta:
        model = SellerPhoto
        fields = (*OF_ALL, "source", "dated_on", *PICTURE)


class TapSerializer(serializers.Serializer[Any]):
    """One tap of a recording."""

    at_s = serializers.FloatField(help_text="seconds from the beginning")
    decay_s = serializers.FloatField(
        allow_null=True,
        help_text="time to fall by 60 dB, from the line between -5 and -25 dB (T20 of "
        "ISO 3382-1); null where noise, clipping or the next tap leave too little of it",
    )
    frequency_hz = serializers.FloatField(help_text="where its spectrum is highest")
    peak_db = serializers.FloatField(help_text="of full scale")
    range_db = serializers.FloatField(help_text="of the blow over the noise; 35 are needed")
    clipped = serializers.BooleanField(help_text="too loud for the recording")


class ComparisonSerializer(serializers.Serializer[Any]):
    """The taps compared with this boat's reference taps: a measured value, no verdict."""

    taps = serializers.IntegerField(help_text="of this recording, with a decay")
    reference_taps = serializers.IntegerField()
    decay_ratio = serializers.FloatField(help_text="median decay over that of the reference")
    frequency_ratio = serializers.FloatField(
        help_text="median frequency over that of the reference"
    )
    dull_share = serializers.FloatField(
        help_text="share of the taps, 0 to 1, with a clearly shorter decay or lower frequency"
    )


class SoundSerializer(MediaSerializer):
    """Recorded taps, each measured, and how they compare with reference taps of the boat."""

    # The context also has the `references` by checkpoint.

    recording = serializers.SerializerMethodField()
    taps = TapSerializer(many=True)
    comparison = serializers.SerializerMethodField(
        help_text="null for a reference, or with fewer than three taps of either"
    )
    caution = serializers.SerializerMethodField()

    class Meta:
        model = Sound
        fields = (
            *COMMON,
            "purpose",
            "duration_s",
            "rate_hz",
            "recording",
            "taps",
            "comparison",
            "caution",
        )

    @extend_schema_field(ADDRESS)
    def get_recording(self, sound: Sound) -> str | None:
        return self.address(sound, "recording")

    @extend_schema_field(ComparisonSerializer(allow_null=True))
    def get_comparison(self, sound: Sound) -> dict[str, Any] | None:
        reference = self.context["references"].get(sound.checkpoint_id)
        if sound.purpose == Sound.Purpose.REFERENCE or reference is None:
            return None
        taps = rings_of(sound.taps)
        found = compare(taps, reference)
        if found is None:
            return None
        return {
            "taps": len(taps),
            "reference_taps": len(reference),
            "decay_ratio": round(found.decay_ratio, 3),
            "frequency_ratio": round(found.frequency_ratio, 3),
            "dull_share": round(found.dull_share, 3),
        }

    def get_caution(self, sound: Sound) -> str:
        return CAUTION


class MediaRefSerializer(serializers.Serializer[Any]):
    """The id of a photo or a sound that belongs to a submission."""

    id = serializers.UUIDField()
    checkpoint = serializers.CharField(
        source="checkpoint_id", allow_null=True, help_text="of the finding that it belongs to"
    )
    state = serializers.ChoiceField(Media.State.choices)


class MediaBody(ClientIdMixin, StrictBody):
    note = serializers.CharField(max_length=300, required=False, allow_blank=True)


class VisitPhotoBody(MediaBody):
    """One picture of a visit."""

    file = serializers.FileField(help_text="JPEG, PNG, WebP or HEIC")


class PhotoBody(VisitPhotoBody):
    """One picture of a submission or of one finding in it."""

    checkpoint = serializers.CharField(
        max_length=60, required=False, help_text="code, if it belongs to one finding"
    )


class SellerPhotoBody(VisitPhotoBody):
    """One picture of a boat from her seller."""

    # Declared fields are taken off the class, so this is not the `source` of a serializer.
    source = serializers.ChoiceField(SellerPhoto.Source.choices)  # type: ignore[assignment]
    dated_on = serializers.DateField(
        required=False, help_text="when the seller showed or sent it; today if left out"
    )


class SoundBody(MediaBody):
    """One recording of taps that belongs to a finding."""

    file = serializers.FileField(
        help_text="WAV or FLAC, up to 30 s and two channels, 16 to 192 kHz; tap lightly, with the "
        "owner's leave, twice a second, the phone held still a hand away"
    )
    checkpoint = serializers.CharField(max_length=60, help_text="code of the finding's checkpoint")
    purpose = serializers.ChoiceField(
        Sound.Purpose.choices,
        default=Sound.Purpose.CHECK,
        help_text="reference: taps on a place of the same boat and surface that is certainly sound",
    )
