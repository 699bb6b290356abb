"""From a picture as it was sent to one that may be shown: upright, in plain colour, and bare.

Pixels are painted on a fresh canvas, so that nothing else of the file is left: no place, no device,
no comment, no colour profile, no hidden thumbnail.
"""

import io
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import IO

import pillow_heif
from django.utils import timezone
from PIL import ExifTags, Image, ImageCms, ImageOps

from apps.viewings.media.models import Media
from apps.viewings.media.reading import Unreadable

pillow_heif.register_heif_opener()

FORMATS = ("JPEG", "PNG", "WEBP", "HEIF")
# A few kilobytes can unpack to gigabytes: the size is read before the pixels are. Measured at this
# bound: 230 to 390 MB while it is read.
MOST_PIXELS = 40_000_000
LONGEST_SIDE = 3000  # pixels; a hairline crack of a hand's width still shows
THUMBNAIL_SIDE = 400
QUALITY = 85
SRGB = ImageCms.createProfile("sRGB")
WHITE = (255, 255, 255)
SMOOTH = ("RGB", "RGBA", "CMYK", "L")  # modes in which pixels can be averaged


@dataclass(frozen=True, slots=True)
class DecodedPicture:
    """Both JPEG; width and height in pixels. taken_at None: the camera did not say."""

    image: bytes
    thumbnail: bytes
    width: int
    height: int
    taken_at: datetime | None


def picture_read(file: IO[bytes]) -> DecodedPicture:
    """Raises `Unreadable`."""
    try:
        with Image.open(file, formats=FORMATS) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                raise Unreadable(Media.Fault.TOO_MANY_PIXELS)
            taken_at = _taken_at(opened)
            image = _fresh(ImageOps.exif_transpose(_smaller(opened)), LONGEST_SIDE)
    except Unreadable:
        raise
    except Image.DecompressionBombError as error:
        raise Unreadable(Media.Fault.TOO_MANY_PIXELS) from error
    except MemoryError:  # of the machine, not of the file: its pixels were counted
        raise
    except Exception as error:  # whatever a decoder trips over lies in the file
        raise Unreadable(Media.Fault.DAMAGED) from error
    return DecodedPicture(
        image=_jpeg(image),
        thumbnail=_jpeg(_fresh(image, THUMBNAIL_SIDE)),
        width=image.width,
        height=image.height,
        taken_at=taken_at,
    )


def _smaller(opened: Image.Image) -> Image.Image:
    """The picture itself where it can be, made smaller before anything copies it."""
    if opened.mode not in SMOOTH:
        opened = opened.convert("RGBA" if opened.has_transparency_data else "RGB")
    opened.thumbnail((LONGEST_SIDE, LONGEST_SIDE), Image.Resampling.LANCZOS)
    return opened


def _fresh(image: Image.Image, longest_side: int) -> Image.Image:
    """A copy in sRGB that holds nothing but pixels, no larger than that."""
    image = _plain_colour(image)
    image.thumbnail((longest_side, longest_side), Image.Resampling.LANCZOS)
    canvas = Image.new("RGB", image.size, WHITE)
    canvas.paste(image, mask=image.getchannel("A") if image.mode == "RGBA" else None)
    return canvas


def _plain_colour(image: Image.Image) -> Image.Image:
    """In RGB or RGBA, from whatever colours the camera meant."""
    mode = "RGBA" if image.has_transparency_data else "RGB"
    profile = image.info.get("icc_profile")
    if profile and image.mode in ("RGB", "CMYK", "L"):
        try:
            meant = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            converted = ImageCms.profileToProfile(image, meant, SRGB, outputMode="RGB")
            assert converted is not None  # only an inPlace one is
            return converted
        except (ImageCms.PyCMSError, OSError):
            pass  # a broken profile costs a shade of colour, not the picture
    return image.convert(mode)


def _jpeg(image: Image.Image) -> bytes:
    written = io.BytesIO()
    image.save(written, "JPEG", quality=QUALITY, optimize=True, progressive=True)
    return written.getvalue()


def _taken_at(image: Image.Image) -> datetime | None:
    """When the camera says it was taken, if it also says by which clock and that can be true."""
    try:
        exif = image.getexif().get_ifd(ExifTags.IFD.Exif)
        stated = exif[ExifTags.Base.DateTimeOriginal] + exif[ExifTags.Base.OffsetTimeOriginal]
        taken_at = datetime.strptime(stated, "%Y:%m:%d %H:%M:%S%z")
    except Exception:  # many cameras do not say it, and some say rubbish
        return None
    return taken_at if taken_at <= timezone.now() + timedelta(days=1) else None
