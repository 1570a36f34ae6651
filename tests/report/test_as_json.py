"""`report.json` keeps its published shape (JSON Schema 2020-12), whatever the results and names hold."""

import json
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest
import report_scenes as scenes

from cel_check.faults import FaultKind, FoundColor, SendTo, Verdict
from cel_check.report import as_json
from cel_check.scene.results import CelResult

SCHEMA = json.loads(Path(as_json.__file__).with_name("schema.json").read_text("utf-8"))

CONTRACT_FAULT = {
    "id", "kind", "verdict", "level", "drawing", "frames", "box", "point", "area_px", "found", "nearest",
    "expected", "visibility", "text", "send_to", "confidence",
}  # fmt: skip
"""The keys of a fault as the file contract lists them (section 4 and its last lines)."""


def check(data):
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    jsonschema.Draft202012Validator(SCHEMA).validate(data)


def closed(node):
    """The schema with every object closed, so that a key that it does not describe fails."""
    if isinstance(node, dict):
        made = {key: closed(value) for key, value in node.items()}
        if "properties" in made and "required" in made:
            made["additionalProperties"] = False
        return made
    return [closed(value) for value in node] if isinstance(node, list) else node


@pytest.mark.parametrize("make", [scenes.full_scene, scenes.passing_scene, scenes.unchecked_scene])
def test_reports_hold_to_the_schema_and_every_key_is_described(make, tmp_path):
    data = json.loads(as_json.report_json(make(tmp_path)))
    check(data)
    jsonschema.Draft202012Validator(closed(SCHEMA)).validate(data)


def test_the_schema_rejects_a_missing_key(full):
    data = as_json.report_dict(full[0])
    del data["cels"][0]["error"]
    with pytest.raises(jsonschema.ValidationError):
        check(data)


def test_the_shape_is_that_of_the_contract(full):
    data = as_json.report_dict(full[0])
    assert {"schema", "tool", "scene", "verdict", "counts", "cels", "frames", "faults"} <= set(data)
    assert {"number", "folder", "source", "frames", "levels"} <= set(data["scene"])
    assert all(set(fault) >= CONTRACT_FAULT for fault in data["faults"])
    assert data["scene"]["frames"] == 16
    assert data["frames"][12]["cels"] == {"A": "7", "B": "2"}
    assert data["faults"][1]["expected"]["because"] == "same part on drawings 6 and 8"
    assert data["faults"][1]["box"] == [404, 212, 230, 268]


def test_counts_add_up_to_the_cels(full):
    counts = as_json.report_dict(full[0])["counts"]
    assert counts == {"cels": 11, "pass": 7, "query": 2, "retake": 1, "not-checked": 1}


def test_the_kinds_and_departments_of_the_schema_are_those_of_the_catalogue():
    fault = SCHEMA["$defs"]["fault"]["properties"]
    assert set(fault["kind"]["enum"]) == set(FaultKind)
    assert set(fault["send_to"]["enum"]) == set(SendTo)
    assert set(SCHEMA["$defs"]["verdict"]["enum"]) == set(Verdict)


def test_an_unchecked_cel_always_states_a_reason():
    data = as_json.report_dict(scenes.scene_of((CelResult("A", "1", "A/1.png", Verdict.NOT_CHECKED),)))
    check(data)
    assert data["cels"][0]["error"]


def test_what_is_no_number_becomes_null():
    nan = float("nan")
    fault = scenes.off_model(
        confidence=nan, visibility=float("inf"), found=FoundColor("#000000", (nan, 0.0, 0.0))
    )
    raw = as_json.report_json(scenes.scene_of((), faults=(fault,)))
    assert b"NaN" not in raw
    assert b"Infinity" not in raw
    data = json.loads(raw)
    check(data)
    assert data["faults"][0]["confidence"] is None
    assert data["faults"][0]["found"]["lab"] == [None, 0.0, 0.0]


def test_a_name_that_is_not_utf8_is_shown_and_its_bytes_are_kept(full):
    result, _ = full
    name = b"A/caf\xe9-0001\n.png".decode("utf-8", "surrogateescape")
    odd = replace(result.cels[0], file=name)
    raw = as_json.report_json(replace(result, cels=(odd, *result.cels[1:]), notes=("\udce9",)))
    data = json.loads(raw.decode("utf-8"))
    check(data)
    assert data["cels"][0]["file"] == "A/caf\\xe9-0001\\x0a.png"
    assert bytes.fromhex(data["cels"][0]["file_bytes"]) == b"A/caf\xe9-0001\n.png"
    assert data["cels"][1]["file_bytes"] is None


def test_the_same_results_give_the_same_bytes(full):
    assert as_json.report_json(full[0]) == as_json.report_json(full[0])
