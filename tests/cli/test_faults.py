"""`cel-check faults` says what the catalogue says."""

import json

import pytest
from click.testing import CliRunner

from cel_check.cli.faults import command
from cel_check.faults import CATALOGUE, FaultKind


def run(*arguments):
    result = CliRunner().invoke(command, arguments)
    assert result.exit_code == 0
    return result.output


def test_every_kind_is_listed_with_its_meaning():
    plain = " ".join(run().split())
    assert all(f"{entry.kind.value} {entry.meaning}" in plain for entry in CATALOGUE.values())


@pytest.mark.parametrize("kind", FaultKind)
def test_one_kind_is_explained_in_full(kind):
    plain = " ".join(run(kind.value).split())
    entry = CATALOGUE[kind]
    assert all(text in plain for text in (entry.why, entry.false_alarms, entry.send_to.value))


def test_the_catalogue_as_data():
    entries = json.loads(run("--json"))
    assert [entry["kind"] for entry in entries] == [kind.value for kind in CATALOGUE]
    assert json.loads(run("--json", "spill"))[0]["send_to"] == "paint"


def test_quiet_prints_names_only():
    assert run("--quiet").split() == [kind.value for kind in CATALOGUE]
