"""Makes a picture that may be shown from one that was sent: upright, in sRGB, without metadata.

Only the pixels are copied to a new picture: no place, device, comment, colour profile or hidden
thumbnail remains.
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
# A few kilobytes can unpack to gigabytes, so the size is checked before the pixels are read. At
# this limit reading takes 230 to 390 MB (measured).
MOST_PIXELS = 40_000_000
LONGEST_SIDE = 3000  # pixels; a hairline crack as long as a hand is still visible
THUMBNAIL_SIDE = 400
QUALITY = 85
SRGB = ImageCms.createProfile("sRGB")
WHITE = (255, 255, 255)
SMOOTH = ("RGB", "RGBA", "CMYK", "L")  # modes in which pixels can be averaged


@dataclass(frozen=True, slots=True)
class DecodedPicture:
    """Both JPEG; width and height in pixels. taken_at: None if the camera gave none."""

    image: bytes
    thumbnail: bytes
    width: int
    height: int
    taken_at: datetime | None


def picture_read(file: IO[bytes]) -> DecodedPicture:
    """The picture in a file. Raises `Unreadable`."""
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
    except MemoryError:  # the machine's fault: the file's pixels were counted
        raise
    except Exception as error:  # any error of a decoder is the file's fault
        raise Unreadable(Media.Fault.DAMAGED) from error
    return DecodedPicture(
        image=_jpeg(image),
        thumbnail=_jpeg(_fresh(image, THUMBNAIL_SIDE)),
        width=image.width,
        height=image.height,
        taken_at=taken_at,
    )


def _smaller(opened: Image.Image) -> Image.Image:
    """The picture, made smaller in place if possible, before anything copies it."""
    if opened.mode not in SMOOTH:
        opened = opened.convert("RGBA" if opened.has_transparency_data else "RGB")
    opened.thumbnail((LONGEST_SIDE, LONGEST_SIDE), Image.Resampling.LANCZOS)
    return opened


def _fresh(image: Image.Image, longest_side: int) -> Image.Image:
    """A copy of the pixels in sRGB, no larger than that."""
    image = _plain_colour(image)
    image.thumbnail((longest_side, longest_side), Image.Resampling.LANCZOS)
    canvas = Image.new("RGB", image.size, WHITE)
    canvas.paste(image, mask=image.getchannel("A") if image.mode == "RGBA" else None)
    return canvas


def _plain_colour(image: Image.Image) -> Image.Image:
    """The image in RGB or RGBA, converted from the camera's colours."""
    mode = "RGBA" if image.has_transparency_data else "RGB"
    profile = image.info.get("icc_profile")
    if profile and image.mode in ("RGB", "CMYK", "L"):
        try:
            meant = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            converted = ImageCms.profileToProfile(image, meant, SRGB, outputMode="RGB")
            assert converted is not None  # None only with inPlace
            return converted
        except (ImageCms.PyCMSError, OSError):
            pass  # without a valid profile only colours are slightly wrong
    return image.convert(mode)


def _jpeg(image: Image.Image) -> bytes:
    written = io.BytesIO()
    image.save(written, "JPEG", quality=QUALITY, optimize=True, progressive=True)
    return written.getvalue()


def _taken_at(image: Image.Image) -> datetime | None:
    """The camera's time of the picture, if it has a time zone and is plausible."""
    try:
        exif = image.getexif().get_ifd(ExifTags.IFD.Exif)
        stated = exif[ExifTags.Base.DateTimeOriginal] + exif[ExifTags.Base.OffsetTimeOriginal]
        taken_at = datetime.strptime(stated, "%Y:%m:%d %H:%M:%S%z")
    except Exception:  # many cameras write no time, some write garbage
        return None
    return taken_at if taken_at <= timezone.now() + timedelta(days=1) else None
