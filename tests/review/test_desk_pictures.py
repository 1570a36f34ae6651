"""What the page shows is what the files hold: frames, single cels, and the color under one pixel.

Oracles: Pillow decodes and lays opaque pixels, scikit-image converts to L*a*b* and measures CIEDE2000.
"""

import io

import desks
import numpy as np
import pytest
from PIL import Image, ImageColor
from skimage.color import deltaE_ciede2000, rgb2lab

COAT_AT, CLEAR_AT = (70, 45), (2, 2)


def picture(desk, path):
    answer = desk.client.get(path)
    assert (answer.status_code, answer.headers["content-type"]) == (200, "image/png")
    return Image.open(io.BytesIO(answer.content))


@pytest.fixture
def two_sizes(tmp_path):
    """A scene whose third cel is narrower than the others, and wrongly painted."""
    folder = desks.make_episode(tmp_path / "ep", off=(3,))
    path = folder / "sc001" / "A" / "A-0003.png"
    with Image.open(path) as whole:
        whole.crop((10, 0, 150, 90)).save(path)
    desks.check(folder)
    return desks.Desk(folder).enter()


def test_a_frame_shows_its_cel_and_gray_where_nothing_is(desk):
    shown = picture(desk, "/picture/0/frame/0/3/1")
    assert (shown.mode, shown.size) == ("RGB", (160, 90))
    assert "#{:02X}{:02X}{:02X}".format(*shown.getpixel(COAT_AT)) == desks.COAT
    assert shown.getpixel(CLEAR_AT) == (150, 150, 150)
    hidden = picture(desk, "/picture/0/frame/0/1/1")
    assert hidden.getpixel(COAT_AT) == (150, 150, 150), "the level is switched off"


def test_a_smaller_picture_has_the_same_colors(desk):
    shown = picture(desk, "/picture/0/frame/0/3/2")
    assert shown.size == (80, 45)
    assert "#{:02X}{:02X}{:02X}".format(*shown.getpixel((35, 22))) == desks.COAT


def test_a_cel_alone_keeps_its_alpha(desk, episode):
    shown = np.asarray(picture(desk, "/picture/0/cel/0/0/1"))
    with Image.open(episode / "sc001" / "A" / "A-0001.png") as file:
        assert np.array_equal(shown, np.asarray(file.convert("RGBA")))


def test_a_cel_of_another_size_lies_in_the_middle_and_says_by_how_much(two_sizes):
    assert two_sizes.scene()["levels"][0]["drawings"][2]["offset"] == [10, 0]
    shown = picture(two_sizes, "/picture/0/frame/2/3/1")
    assert shown.size == (160, 90)
    assert "#{:02X}{:02X}{:02X}".format(*shown.getpixel(COAT_AT)) == desks.OFF
    (cel,) = two_sizes.client.get("/api/scene/0/under/2/3/70/45").json()["cels"]
    assert cel["srgb"] == desks.OFF
    whole = np.asarray(picture(two_sizes, "/picture/0/cel/0/2/1"))
    assert not whole[:, :10].any(), "clear where it does not reach"


def test_the_pipette_measures_the_files_own_pixel(desk):
    x, y = COAT_AT
    (cel,) = desk.client.get(f"/api/scene/0/under/1/3/{x}/{y}").json()["cels"]
    assert (cel["level"], cel["srgb"], cel["alpha"]) == ("A", desks.OFF, 255)
    found, coat = (rgb2lab(np.array([ImageColor.getrgb(c)]) / 255.0) for c in (desks.OFF, desks.COAT))
    assert cel["lab"] == pytest.approx(found.ravel(), abs=0.02)  # it converts with rounded constants
    nearest = cel["paints"][0]
    assert (nearest["name"], nearest["within"]) == ("Coat", False)
    assert nearest["delta_e"] == pytest.approx(deltaE_ciede2000(found, coat).item(), abs=0.02)
    x, y = CLEAR_AT
    assert desk.client.get(f"/api/scene/0/under/1/3/{x}/{y}").json() == {"cels": []}


def test_a_repainted_cel_is_shown_as_it_is_now(desk, episode):
    picture(desk, "/picture/0/frame/0/3/1")
    desks.paint_cel(episode / "sc001" / "A" / "A-0001.png", "#00FF00", 1)
    assert picture(desk, "/picture/0/frame/0/3/1").getpixel(COAT_AT) == (0, 255, 0)
