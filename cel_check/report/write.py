"""Writes a scene's report: pictures first, then data, table and page, each whole or not at all."""

from collections.abc import Iterator
from pathlib import Path

from cel_check.report.as_csv import report_csv
from cel_check.report.as_json import report_json
from cel_check.report.page import ROWS, fault_anchor, loose_anchor, loose_faults
from cel_check.report.pictures import Pictures, faults_to_show, make_pictures
from cel_check.report.scene_page import render_html
from cel_check.report.store import Store
from cel_check.report.tiles import strip_tiles
from cel_check.scene.results import SceneResult
from cel_check.scene.summary import PictureLink, Place, Written


def write_report(result: SceneResult, scene_folder: Path, out: Path) -> tuple[Path, ...]:
    """Write `report.html`, `report.csv`, `report.json` and `pictures/` into `out`.

    The earlier report stays whole until the new one is: new pictures get new names, the three files are
    written beside their places and then moved there, and only then are the earlier report's pictures removed.

    Args:
        result: the scene's results.
        scene_folder: where the cels lie; the faulty ones are read again for their pictures.
        out: the report's folder; made where it does not exist.

    Returns:
        The three files, the page first.

    Raises:
        BadInput: where `out` cannot be written.
    """
    return write_scene(result, scene_folder, out).files


def write_scene(result: SceneResult, scene_folder: Path, out: Path) -> Written:
    """Write a scene's report as `write_report` does, and say also where it tells each fault."""
    store = Store(out)
    pictures = make_pictures(result, scene_folder, strip_tiles(result), store.put_picture)
    files = {
        "report.html": render_html(result, pictures),
        "report.csv": report_csv(result),
        "report.json": report_json(result),
    }
    written = store.put_reports(files)
    store.sweep()
    return Written(written, tuple(_places(result, pictures)), pictures.whole)


def _places(result: SceneResult, pictures: Pictures) -> Iterator[Place]:
    """Yield the place of every fault that the page tells in full."""
    for index, shown in pictures.cels:
        crops = dict(shown.crops)
        faults = result.cels[index].faults
        for number in faults_to_show(result.cels[index]):
            crop = crops.get(number)
            link = PictureLink(crop.picture.href, crop.picture.width, crop.picture.height) if crop else None
            yield Place(faults[number].id, fault_anchor(index, number), link)
    for number, fault in enumerate(loose_faults(result)[:ROWS], 1):
        yield Place(fault.id, loose_anchor(number))
