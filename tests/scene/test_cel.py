"""One cel ends in exactly one result, whatever is in its file."""

import hashlib
import io
import os
import pickle
from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from cel_check.faults import FaultKind, SendTo, Verdict
from cel_check.model.colormodel import ModelColor, Palette, Use
from cel_check.picture.thumbnail import decode_thumbnail
from cel_check.scene import cel as cel_module
from cel_check.scene.cel import check_cel
from cel_check.scene.tasks import CelTask, tasks_of, unchecked
from cel_check.settings import DEFAULTS, Settings

# CIE L*a*b* (D65) of #C8553D and #202020 to a tenth, by scikit-image's rgb2lab.
COLORS = (
    ModelColor("coat", "Coat", Use.PAINT, (200, 85, 61), (49.6, 44.0, 37.2), 2.0, None, "tilda"),
    ModelColor("outline", "Outline", Use.INK, (32, 32, 32), (12.2, 0.0, 0.0), 2.0, None, "tilda"),
)
PALETTE = Palette(COLORS, ("Tilda Brake",))


def picture(size=(400, 300), coat="#C8553D"):
    image = Image.new("RGBA", size, (0, 0, 0, 0))
    ImageDraw.Draw(image).ellipse((100, 50, 300, 250), fill=coat, outline="#202020", width=5)
    return image


def png(**more):
    out = io.BytesIO()
    picture(**more).save(out, "PNG")
    return out.getvalue()


def task(path, **more):
    values = {"palette": PALETTE, "settings": DEFAULTS, "seconds": 60.0}
    return CelTask("A", "1", f"A/{path.name}", path, **(values | more))


@pytest.fixture
def put(tmp_path):
    def putter(data, name="A-0001.png"):
        path = tmp_path / name
        path.write_bytes(data)
        return task(path)

    return putter


def test_a_well_painted_cel_passes(put):
    data = png()
    result = check_cel(put(data))
    assert (result.verdict, result.faults, result.error) == (Verdict.PASS, (), None)
    assert (result.width, result.height, result.file) == (400, 300, "A/A-0001.png")
    assert result.sha256 == hashlib.sha256(data).hexdigest()


def test_a_cel_off_the_model_is_sent_back(put):
    result = check_cel(put(png(coat="#4055C0")))
    assert result.verdict is Verdict.RETAKE
    assert [fault.kind for fault in result.faults] == [FaultKind.OFF_MODEL]


def test_a_cel_with_nothing_on_it_passes_and_says_so(put):
    out = io.BytesIO()
    Image.new("RGBA", (400, 300), (0, 0, 0, 0)).save(out, "PNG")
    result = check_cel(put(out.getvalue()))
    assert (result.verdict, result.faults) == (Verdict.PASS, ())
    assert result.notes == ("Nothing is on this cel.",)


@pytest.mark.parametrize("cut", [0, 1, 40, 0.5, 0.99])
def test_a_file_that_is_cut_short_is_unreadable(put, cut):
    data = png()
    data = data[: cut if isinstance(cut, int) else int(len(data) * cut)]
    result = check_cel(put(data))
    (fault,) = result.faults
    assert (result.verdict, fault.kind, fault.send_to) == (Verdict.RETAKE, FaultKind.UNREADABLE, SendTo.SCAN)
    assert fault.text.startswith("A/A-0001.png ")
    assert result.sha256 == hashlib.sha256(data).hexdigest()


def test_a_picture_with_the_wrong_ending_is_read_and_noted(put):
    result = check_cel(put(png(), "A-0001.tga"))
    assert result.verdict is Verdict.PASS
    assert "PNG" in result.notes[0]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no fifos here")
def test_what_is_no_file_is_unreadable_and_keeps_nobody_waiting(tmp_path):
    os.mkfifo(tmp_path / "1.png")
    (tmp_path / "2.png").mkdir()
    (tmp_path / "3.png").symlink_to("nowhere.png")
    for name in ("1.png", "2.png", "3.png", "4.png"):
        result = check_cel(task(tmp_path / name))
        assert [fault.kind for fault in result.faults] == [FaultKind.UNREADABLE]
        assert result.sha256 is None


def test_a_link_that_leads_out_is_not_checked(put):
    result = check_cel(task(put(png()).path, outside=True))
    assert result.verdict is Verdict.NOT_CHECKED
    assert "outside the scene folder" in (result.error or "")


def test_a_picture_over_the_limit_is_not_checked(put):
    result = check_cel(task(put(png()).path, settings=Settings(max_megapixels=0.1)))
    assert (result.verdict, result.faults) == (Verdict.NOT_CHECKED, ())
    assert "0.1 megapixels" in (result.error or "")


def test_a_defect_of_the_check_costs_one_cel(put, monkeypatch):
    def broken(*_):
        raise IndexError("index 7 is out of\x1b bounds")

    monkeypatch.setattr(cel_module, "take_apart", broken)
    result = check_cel(put(png()))
    assert result.verdict is Verdict.NOT_CHECKED
    assert result.error == "the check failed: IndexError: index 7 is out of\\x1b bounds"


def test_want_of_memory_is_for_the_pool_to_judge(put, monkeypatch):
    def full(*_):
        raise MemoryError

    monkeypatch.setattr(cel_module, "take_apart", full)
    with pytest.raises(MemoryError):
        check_cel(put(png()))


def test_the_thumbnail_is_small_and_keeps_the_clear_cel_clear(put):
    result = check_cel(put(png(size=(1280, 720))))
    pixels = decode_thumbnail(result.thumbnail)
    assert pixels.shape == (135, 240, 4)
    assert pixels[0, 0, 3] == 0
    # Nothing of the clear pixels' black may bleed in.
    assert pixels[30, 38].tolist() == [200, 85, 61, 255]


def test_a_picture_narrower_than_a_thumbnail_is_not_enlarged(put):
    small = Image.new("RGBA", (8, 6), "#C8553D")
    out = io.BytesIO()
    small.save(out, "PNG")
    assert decode_thumbnail(check_cel(put(out.getvalue())).thumbnail).shape == (6, 8, 4)


def test_tasks_and_results_travel_between_processes(put):
    a_task = put(png())
    assert pickle.loads(pickle.dumps(a_task)) == a_task
    result = check_cel(a_task)
    assert pickle.loads(pickle.dumps(result)) == result


def test_a_scene_s_tasks_come_in_order_with_time_for_their_size(make_scene):
    scene = make_scene({"B": ["2.png", "1.png"], "A": ["1.png"]})
    tasks = tasks_of(scene, DEFAULTS)
    assert [(one.level, one.drawing) for one in tasks] == [("B", "1"), ("B", "2"), ("A", "1")]
    assert {one.seconds for one in tasks} == {DEFAULTS.seconds_at_least}
    assert tasks[0].path == Path("B/1.png")


def test_a_cel_that_was_not_checked_says_why(put):
    result = unchecked(put(png()), "its worker was killed")
    assert (result.verdict, result.error) == (Verdict.NOT_CHECKED, "its worker was killed")
