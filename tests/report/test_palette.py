"""What a validation found is written as a page, as data of a published shape, and as charts."""

import json
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest

from cel_check.errors import BadInput
from cel_check.model.drawdowns import Drawdown
from cel_check.model.finding import Finding, Kind, Severity
from cel_check.model.load import load_leniently
from cel_check.model.looks import looks_of
from cel_check.model.shown import Levels
from cel_check.model.together import UNKNOWN
from cel_check.model.validate import file_findings, validate
from cel_check.report.palette import palette_html, write_palette
from cel_check.report.palette_json import PaletteResult, palette_json

ROOT = Path(__file__).resolve().parents[2]
SCHEMA = json.loads((ROOT / "cel_check/report/palette_schema.json").read_text(encoding="utf-8"))
HOSTILE = "<img src=x onerror=alert(1)> \u202e & \"'"


def result_of(*names, **more):
    read = [load_leniently(ROOT / name) for name in names]
    looks = looks_of([model for model, _ in read])
    found = [one for model, problems in read for one in file_findings(model, problems)]
    return PaletteResult(looks, (*found, *validate(looks, UNKNOWN, Levels.SCALED)), **more)


@pytest.fixture
def bad():
    drawdown = Drawdown(
        "pointsman", "vest", "R-60", "lot 7", "a.txt", 12, (40.0, 20.0, 20.0), 3.0, 1.5, None, 0.2
    )
    return result_of("samples/bad_palette/pointsman.toml", drawdowns=(drawdown,), scenes=("sc012",))


def test_the_data_have_the_published_shape(bad):
    told = json.loads(palette_json(bad))
    jsonschema.validate(told, SCHEMA, jsonschema.Draft202012Validator)
    assert told["verdict"] == "error"
    assert sum(told["counts"].values()) == len(told["findings"]) == len(bad.findings)
    assert told["drawdowns"][0]["passes"] is False


def test_the_schema_names_every_kind_and_severity():
    item = SCHEMA["properties"]["findings"]["items"]["properties"]
    assert set(item["kind"]["enum"]) == {kind.value for kind in Kind}
    assert set(item["severity"]["enum"]) == {severity.value for severity in Severity}


def test_the_same_results_give_the_same_bytes(bad):
    assert palette_json(bad) == palette_json(bad)
    assert palette_html(bad, ()) == palette_html(bad, ())


@pytest.mark.parametrize(
    ("severities", "verdict"),
    [((), "pass"), ((Severity.NOTE,), "pass"), ((Severity.NOTE, Severity.WARNING), "warning"),
     ((Severity.WARNING, Severity.ERROR), "error")],
)  # fmt: skip
def test_the_verdict_is_that_of_the_worst(bad, severities, verdict):
    findings = tuple(Finding(one, Kind.FILE, "", "text", "mend") for one in severities)
    assert replace(bad, findings=findings).verdict == verdict


def test_the_page_tells_every_finding_and_the_cautions(bad):
    text = palette_html(bad, [("charts.html", "all")]).decode()
    assert text.count('<article class="finding">') == len(bad.findings)
    assert "Not ready to be painted with" in text
    assert "Vest (R-60) and Vest, shade (R-61) are" in text
    assert "lot 7" in text
    assert "no color standard" in text
    assert 'href="charts.html"' in text


def test_hostile_names_are_only_text(bad):
    finding = Finding(Severity.ERROR, Kind.FILE, "", HOSTILE, HOSTILE)
    text = palette_html(replace(bad, findings=(finding,)), [("a b#.png", HOSTILE)]).decode()
    assert "<img" not in text
    assert "\u202e" not in text
    assert 'href="a%20b%23.png"' in text


def test_all_files_are_written(bad, tmp_path):
    names = [path.name for path in write_palette(bad, UNKNOWN, tmp_path / "out")]
    assert names == ["palette.html", "palette.json", "charts.html", "chart-pointsman.png"]
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == sorted(names)


def test_a_folder_that_cannot_be_written_is_told(bad, tmp_path):
    (tmp_path / "out").write_text("a file")
    with pytest.raises(BadInput, match="cannot be written"):
        write_palette(bad, UNKNOWN, tmp_path / "out")
