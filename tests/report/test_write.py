"""Writing a report twice gives the same bytes, follows the results, and needs nothing but its own folder."""

import re
from dataclasses import replace

import report_scenes as scenes

from cel_check.report.write import write_report


def files_of(folder):
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_the_three_files_and_the_pictures_are_written(full, tmp_path):
    result, folder = full
    written = write_report(result, folder, tmp_path / "out")
    assert [path.name for path in written] == ["report.html", "report.csv", "report.json"]
    assert all(path.stat().st_size for path in written)


def test_the_same_results_give_the_same_files(full, tmp_path):
    result, folder = full
    write_report(result, folder, tmp_path / "one")
    write_report(result, folder, tmp_path / "two")
    write_report(result, folder, tmp_path / "two")
    assert files_of(tmp_path / "one") == files_of(tmp_path / "two")


def test_every_link_leads_to_a_file_or_a_place_on_the_page(full, tmp_path):
    result, folder = full
    page = write_report(result, folder, tmp_path / "out")[0].read_text("utf-8")
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    for address in re.findall(r'(?:href|src)="([^"]+)"', page):
        if address.startswith("#"):
            assert address[1:] in ids
        else:
            assert (tmp_path / "out" / address).is_file()


def test_pictures_of_an_earlier_report_go_when_the_fault_is_mended(full, tmp_path):
    result, folder = full
    out = tmp_path / "out"
    write_report(result, folder, out)
    before = set(files_of(out))
    mended = scenes.passing_scene(tmp_path / "mended")
    write_report(mended, tmp_path / "mended", out)
    write_report(mended, tmp_path / "mended", tmp_path / "clean")
    assert files_of(out) == files_of(tmp_path / "clean")
    assert any(name.startswith("pictures/fault-") for name in before)


def test_the_report_is_made_even_where_every_file_is_gone(full, tmp_path):
    result, _ = full
    page = write_report(result, tmp_path / "nowhere", tmp_path / "out")[0].read_text("utf-8")
    assert "Check the scene again." in page


def test_a_file_name_never_becomes_a_path_of_the_report(full, tmp_path):
    result, folder = full
    odd = tuple(replace(cel, file=f"../../{cel.file}", level="../..", drawing="/etc") for cel in result.cels)
    write_report(replace(result, cels=odd), folder, tmp_path / "a" / "out")
    assert {path.name for path in (tmp_path / "a").iterdir()} == {"out"}
    names = [path.name for path in (tmp_path / "a" / "out" / "pictures").iterdir()]
    assert all(re.fullmatch(r"(cel|fault|frame)-[0-9a-f]{16}\.(png|jpg)", name) for name in names)
