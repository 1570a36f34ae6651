"""Pictures are made of the very file that was checked; where it is gone or changed the report says so."""

import io
from dataclasses import replace

import numpy as np
import pytest
import report_scenes as scenes
from PIL import Image

from cel_check.faults import RightPart, Verdict
from cel_check.report import pictures
from cel_check.report.scene_page import render_html
from cel_check.report.tiles import strip_tiles


def make(result, folder):
    made = {}

    def put(prefix, ending, data):
        made[name := f"pictures/{prefix}-{len(made)}.{ending}"] = data
        return name

    return pictures.make_pictures(result, folder, strip_tiles(result), put), made


def of(result, made, level, drawing):
    index = next(i for i, cel in enumerate(result.cels) if (cel.level, cel.drawing) == (level, drawing))
    return dict(made.cels)[index]


def test_a_faulty_cel_is_marked_and_each_fault_magnified(full):
    made, files = make(*full)
    cel = of(full[0], made, "A", "7")
    assert (cel.marked.width, cel.marked.height) == (960, 540)
    assert [index for index, _ in cel.crops] == [0, 1, 2]
    assert cel.crops[0][1].times == 12
    assert all(shown.picture.href in files for _, shown in cel.crops)


def test_the_sizes_told_are_those_of_the_files_and_no_file_carries_metadata(full):
    made, files = make(*full)
    shown = [cel.marked for _, cel in made.cels if cel.marked] + [tile for tile in made.tiles if tile]
    for one in shown:
        image = Image.open(io.BytesIO(files[one.href]))
        assert image.size == (one.width, one.height)
        assert not image.getexif()
        assert not {"icc_profile", "exif", "xmp", "comment", "dpi"} & set(image.info)


def test_a_file_that_is_gone_costs_only_its_pictures(full):
    result, folder = full
    (folder / "A" / "A-0007.png").unlink()
    made, _ = make(result, folder)
    cel = of(result, made, "A", "7")
    assert cel.crops == ()
    assert cel.problem
    assert cel.marked is not None, "the thumbnail stands in"
    assert of(result, made, "B", "2").crops


def test_a_file_that_changed_is_not_marked(full):
    result, folder = full
    Image.fromarray(scenes.draw_figure(3)).save(folder / "A" / "A-0007.png")
    cel = of(result, make(result, folder)[0], "A", "7")
    assert cel.crops == ()
    assert "changed" in cel.problem


def test_a_file_that_broke_says_why(full):
    result, folder = full
    path = folder / "A" / "A-0007.png"
    path.write_bytes(path.read_bytes()[:200])
    cel = of(result, make(result, folder)[0], "A", "7")
    assert cel.crops == ()
    assert "cannot be" in cel.problem


def test_a_background_that_is_gone_is_said(full):
    result, folder = full
    (folder / "bg" / "harbor.png").unlink()
    made, _ = make(result, folder)
    assert len(made.problems) == 1
    assert "bg/harbor.png" in made.problems[0]
    assert made.tiles[0] is not None


def test_a_cel_without_boxes_is_not_read_again(full):
    result, folder = full
    (folder / "B" / "B-012b.png").unlink()
    cel = of(result, make(result, folder)[0], "B", "12b")
    assert cel.marked is not None
    assert cel.problem == ""


def test_of_many_faults_the_worst_are_shown_in_the_order_of_the_cel():
    faults = tuple(scenes.stray("A", "1", n, (n, 0, 1, 1)) for n in range(1, 60))
    faults = (*faults, scenes.off_model(drawing="1", number=60))
    cel = replace(_bare(), faults=faults)
    chosen = pictures.faults_to_show(cel)
    assert len(chosen) == pictures.CROPS_PER_CEL
    assert chosen == tuple(sorted(chosen))
    assert 59 in chosen


def test_the_page_has_room_for_retakes_before_queries():
    query = replace(_bare(), verdict=Verdict.QUERY, faults=(scenes.stray("A", "1", 1, (1, 1, 1, 1)),))
    retake = replace(_bare(), verdict=Verdict.RETAKE, faults=(scenes.off_model(),))
    result = scenes.scene_of((query,) * pictures.FAULTS_ON_PAGE + (retake,))
    shown = pictures.cels_to_show(result)
    assert len(shown) == pictures.FAULTS_ON_PAGE
    assert pictures.FAULTS_ON_PAGE in shown


@pytest.mark.parametrize("size", [(1, 1), (1, 900), (900, 1), (3, 4000)])
def test_odd_sizes_are_drawn(tmp_path, size):
    rgba = np.full((*size, 4), 255, np.uint8)
    fault = scenes.off_model(drawing="1", box=(0, 0, 1, 1), point=(0, 0))
    cel = scenes.save_cel(tmp_path, "A", "1", rgba, verdict=Verdict.RETAKE, faults=(fault,))
    result = scenes.scene_of((cel,))
    assert of(result, make(result, tmp_path)[0], "A", "1").marked is not None


def _bare():
    return scenes.CelResult("A", "1", "A/1.png", Verdict.PASS)


def with_right(result, folder, sha256):
    """Return the scene with the first fault of A 7 shown beside its part on B 2."""
    other = next(cel for cel in result.cels if (cel.level, cel.drawing) == ("B", "2"))
    right = RightPart(
        "drawing 2", other.file, other.sha256 if sha256 is None else sha256, (10, 10, 40, 40), (20, 20)
    )
    cels = tuple(
        replace(cel, faults=(replace(cel.faults[0], right=right), *cel.faults[1:]))
        if (cel.level, cel.drawing) == ("A", "7")
        else cel
        for cel in result.cels
    )
    return replace(result, cels=cels)


def test_a_part_is_shown_beside_itself_where_it_is_right(full):
    result, folder = full
    shown = with_right(result, folder, None)
    made, files = make(shown, folder)
    cel = of(shown, made, "A", "7")
    ((index, crop),) = cel.rights
    assert index == 0
    assert crop.picture.href in files
    assert crop.times <= dict(cel.crops)[0].times
    page = render_html(shown, made).decode()
    assert "<b>right, on drawing 2</b>" in page
    assert page.count("<b>here</b>") == 1


def test_a_right_part_whose_picture_has_changed_or_gone_is_left_out(full):
    result, folder = full
    changed = with_right(result, folder, "0" * 64)
    made, _ = make(changed, folder)
    assert of(changed, made, "A", "7").rights == ()
    (folder / "B" / "B-0002.png").unlink()
    gone = with_right(result, folder, None)
    made, _ = make(gone, folder)
    assert of(gone, made, "A", "7").rights == ()
    assert "<b>here</b>" not in render_html(gone, made).decode()
