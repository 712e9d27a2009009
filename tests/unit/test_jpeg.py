"""Pictures are read strictly and written without what a camera says of time and place; no dot of them changes."""

from __future__ import annotations

from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms

from matrixcheck.errors import InputError
from matrixcheck.layout.limits import LARGEST_PHOTO, LARGEST_PICTURE, LONGEST_SIDE
from matrixcheck.record.jpeg import MOST_SCANS, read_jpeg
from matrixcheck.record.photos import check_kept, name_of, photo_of
from tests.drawn_photos import MADE_BY, behind_the_start, dots, drawn, jpeg, noise, segment

CAMERA = jpeg(camera=True)
FORMS = {
    "baseline": jpeg(),
    "progressive": jpeg(progressive=True),
    "grey": jpeg(drawn().convert("L")),
    "no subsampling": jpeg(subsampling=0),
    "restarts": jpeg(restart_marker_blocks=2),
    "colours as they are": jpeg(keep_rgb=True),
}


@pytest.mark.parametrize("form", FORMS)
def test_a_picture_stays_the_same_to_the_last_dot(form: str) -> None:
    read = read_jpeg(FORMS[form], "a picture")
    assert dots(read.data) == dots(FORMS[form])
    assert (read.width, read.height, read.orientation) == (48, 32, 1)
    assert read_jpeg(read.data, "a picture") == read, "what is clean stays as it is"


def test_nothing_of_what_a_camera_says_is_left() -> None:
    assert MADE_BY in CAMERA
    assert b"taken at the pier" in CAMERA
    read = read_jpeg(CAMERA, "a picture")
    assert MADE_BY not in read.data
    assert b"taken at the pier" not in read.data
    with Image.open(BytesIO(read.data)) as picture:
        assert dict(picture.getexif()) == {}
        assert "comment" not in picture.info
    assert dots(read.data) == dots(CAMERA)


SECRET = b"54.1833 N 7.8833 E"


@pytest.mark.parametrize("marker", [*range(0xE0, 0xF0), 0xFE])
def test_no_segment_of_a_program_goes_along(marker: int) -> None:
    for lead in (b"", b"Exif\0\0", b"http://names.invalid/1.0/\0", b"PAIR\0", b"JFXX\0", b"another 3.0\0"):
        planted = behind_the_start(jpeg(), segment(marker, lead + SECRET))
        assert SECRET not in read_jpeg(planted, "a picture").data


def test_what_hides_in_a_thumbnail_or_behind_the_picture_goes_too() -> None:
    with_thumbnail = segment(0xE0, b"JFIF\0\1\2\0\0\1\0\1\1\6" + SECRET)
    adobe = segment(0xEE, b"Adobe\0\x64\0\0\0\0\1" + SECRET)
    planted = behind_the_start(jpeg(), with_thumbnail, adobe) + SECRET + jpeg()
    read = read_jpeg(planted, "a picture")
    assert SECRET not in read.data
    assert read.data.endswith(b"\xff\xd9")
    assert read.data.count(b"\xff\xd8") == 1
    assert dots(read.data) == dots(jpeg())


def test_the_profile_of_its_colours_stays() -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    with Image.open(BytesIO(read_jpeg(jpeg(icc_profile=profile), "a picture").data)) as picture:
        assert picture.info["icc_profile"] == profile


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("order", ["II", "MM"])
def test_the_orientation_is_read_in_either_order_of_bytes(orientation: int, order: str) -> None:
    byte_order = "little" if order == "II" else "big"

    def number(value: int, size: int) -> bytes:
        return value.to_bytes(size, byte_order)

    make = number(0x010F, 2) + number(2, 2) + number(4, 4) + b"abc\0"
    turn = number(0x0112, 2) + number(3, 2) + number(1, 4) + number(orientation, 2) + b"\0\0"
    exif = order.encode() + number(42, 2) + number(8, 4) + number(2, 2) + make + turn + number(0, 4)
    read = read_jpeg(behind_the_start(jpeg(), segment(0xE1, b"Exif\0\0" + exif)), "a picture")
    assert read.orientation == orientation


WRONG = {
    "nothing": (b"", "is not a JPEG"),
    "a text": (b"a note, and no picture", "is not a JPEG"),
    "PNG": (b"\x89PNG\r\n\x1a\n" + bytes(40), "is not a JPEG"),
    "only a start": (jpeg()[:2], "cut off"),
    "no picture": (b"\xff\xd8\xff\xd9", "holds no picture"),
    "no scan": (jpeg()[: jpeg().index(b"\xff\xda")] + b"\xff\xd9", "holds no picture"),
    "four colours": (jpeg(drawn().convert("CMYK")), "browsers don't show"),
    "no loss": (jpeg().replace(b"\xff\xc0", b"\xff\xc3"), "browsers don't show"),
    "arithmetic": (jpeg().replace(b"\xff\xc0", b"\xff\xc9"), "browsers don't show"),
    "twelve bits": (jpeg().replace(b"\xff\xc0\0\x11\x08", b"\xff\xc0\0\x11\x0c"), "browsers don't show"),
    "no height": (jpeg().replace(b"\xff\xc0\0\x11\x08\0\x20", b"\xff\xc0\0\x11\x08\0\0"), "damaged"),
    "two frames": (jpeg().replace(b"\xff\xda", jpeg()[jpeg().index(b"\xff\xc0") :][:19] + b"\xff\xda"), "two pictures"),
}


@pytest.mark.parametrize("what", WRONG)
def test_what_is_no_ordinary_picture_is_refused_in_one_line(what: str) -> None:
    data, said = WRONG[what]
    with pytest.raises(InputError, match=said) as caught:
        read_jpeg(data, "pin.jpg")
    assert str(caught.value).startswith("pin.jpg")
    assert "\n" not in str(caught.value)


def test_a_picture_cut_off_anywhere_is_refused() -> None:
    whole = jpeg(progressive=True)
    for left in range(len(whole)):
        with pytest.raises(InputError):
            read_jpeg(whole[:left], "pin.jpg")


def test_no_picture_keeps_a_browser_busy_with_its_scans() -> None:
    whole = jpeg()
    start = whole.index(b"\xff\xda")
    many = whole[:start] + whole[start:-2] * (MOST_SCANS + 1) + whole[-2:]
    with pytest.raises(InputError, match="more than 64 scans"):
        read_jpeg(many, "pin.jpg")


@given(st.binary(max_size=300) | st.binary(max_size=300).map(lambda body: b"\xff\xd8" + body))
def test_any_bytes_are_a_picture_or_refused(data: bytes) -> None:
    try:
        read = read_jpeg(data, "pin.jpg")
    except InputError as error:
        assert "\n" not in str(error)  # noqa: PT017
    else:
        assert read_jpeg(read.data, "pin.jpg").data == read.data


@given(st.data())
def test_a_picture_with_bytes_gone_wrong_is_refused_or_still_clean(data: st.DataObject) -> None:
    wrong = bytearray(CAMERA)
    for _ in range(data.draw(st.integers(1, 5))):
        wrong[data.draw(st.integers(0, len(wrong) - 1))] = data.draw(st.integers(0, 255))
    try:
        read = read_jpeg(bytes(wrong), "pin.jpg")
    except InputError:
        return
    again = read_jpeg(read.data, "pin.jpg")
    assert again.data == read.data
    assert again.orientation == 1


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_photo_stands_upright_whatever_way_the_camera_was_held(orientation: int) -> None:
    """Pillow shows the same file turned as Exif asks for; the photo that is kept asks for nothing."""
    corners = Image.new("RGB", (64, 32), "white")
    corners.paste("red", (0, 0, 32, 16))
    corners.paste("blue", (32, 16, 64, 32))
    turned = jpeg(corners, orientation=orientation, quality=95)
    photo = photo_of(turned, "pin.jpg", shrink=True)
    wide = orientation < 5
    assert (photo.width, photo.height) == ((64, 32) if wide else (32, 64))
    with Image.open(BytesIO(photo.jpeg)) as kept:
        assert ORIENTATION_TAG not in kept.getexif()
        red = {
            corner
            for corner in ((4, 4), (photo.width - 5, 4), (4, photo.height - 5), (photo.width - 5, photo.height - 5))
            if _is_red(kept.convert("RGB").getpixel(corner))
        }
    right, low = photo.width - 5, photo.height - 5
    where = {1: (4, 4), 2: (right, 4), 3: (right, low), 4: (4, low), 5: (4, 4), 6: (right, 4), 7: (right, low)}
    assert red == {where.get(orientation, (4, low))}


ORIENTATION_TAG = 0x0112


def _is_red(dot: object) -> bool:
    assert isinstance(dot, tuple)
    return bool(dot[0] > 200 and dot[1] < 80 and dot[2] < 80)


@pytest.mark.parametrize(("width", "height"), [(3000, 2000), (1601, 40), (40, 1601), (1600, 1200)])
def test_a_photo_is_at_most_1600_dots_long_and_keeps_its_shape(width: int, height: int) -> None:
    photo = photo_of(jpeg(drawn(width, height), camera=True), "pin.jpg", shrink=True)
    assert max(photo.width, photo.height) == min(max(width, height), LONGEST_SIDE)
    scale = max(width, height) / max(photo.width, photo.height)
    assert (photo.width, photo.height) == pytest.approx((width / scale, height / scale), abs=1)
    assert dots(photo.jpeg)[0] == (photo.width, photo.height)
    assert MADE_BY not in photo.jpeg
    assert photo.name == name_of(photo.jpeg)
    check_kept(photo.name, photo.jpeg, "a file")


def test_a_photo_that_fits_is_kept_as_it_is() -> None:
    photo = photo_of(CAMERA, "pin.jpg", shrink=True)
    assert photo.jpeg == read_jpeg(CAMERA, "pin.jpg").data


def test_a_picture_of_many_bytes_gets_smaller() -> None:
    large = jpeg(noise(1600, 1200), quality=95)
    assert len(large) > LARGEST_PHOTO
    photo = photo_of(large, "pin.jpg", shrink=True)
    assert len(photo.jpeg) <= LARGEST_PHOTO
    assert (photo.width, photo.height) == (1600, 1200)


def test_where_nothing_may_be_decoded_only_what_fits_is_taken() -> None:
    assert photo_of(CAMERA, "pin.jpg", shrink=False).width == 48
    for picture in (jpeg(drawn(1700, 20)), jpeg(orientation=6), jpeg(noise(1600, 1200), quality=95)):
        with pytest.raises(InputError, match="too large, or lies on its side"):
            photo_of(picture, "pin.jpg", shrink=False)


def test_a_picture_beyond_all_measure_is_refused_before_it_is_decoded() -> None:
    with pytest.raises(InputError, match="more than 30 MB"):
        photo_of(bytes(LARGEST_PICTURE + 1), "pin.jpg", shrink=True)
    bomb = jpeg().replace(b"\xff\xc0\0\x11\x08\0\x20\0\x30", b"\xff\xc0\0\x11\x08\xff\xff\xff\xff")
    with pytest.raises(InputError, match="more than 50 megapixels"):
        photo_of(bomb, "pin.jpg", shrink=True)


def test_a_picture_that_only_looks_like_one_is_refused_when_it_has_to_be_decoded() -> None:
    whole = jpeg(orientation=6)
    tables = whole.index(b"\xff\xc4")
    spoilt = whole[: tables + 5] + bytes(16) + whole[tables + 21 :]
    with pytest.raises(InputError, match="can't be decoded"):
        photo_of(spoilt, "pin.jpg", shrink=True)


def test_only_the_photo_itself_goes_by_its_name() -> None:
    photo = photo_of(CAMERA, "pin.jpg", shrink=True)
    with pytest.raises(InputError, match="altered or is damaged"):
        check_kept(photo.name, jpeg(drawn(seed=2)), "a file")
    for other in (CAMERA, jpeg(drawn(1700, 20)), b"text"):
        with pytest.raises(InputError):
            check_kept(name_of(other), other, "a file")
