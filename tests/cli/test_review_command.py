"""`cel-check review` opens the desk only on an episode that was checked; it tells of agreement without it."""

import json
import subprocess
import sys

import pytest
from click.testing import CliRunner

from cel_check.cli.review import command
from cel_check.episode.decisions import Decision, record
from cel_check.episode.ledger import open_ledger
from cel_check.errors import BadInput
from cel_check.faults import FaultKind
from cel_check.scene.summary import Deed


@pytest.fixture
def episode(tmp_path):
    """An episode with a ledger of one fault, which a person called none."""
    (tmp_path / "ep04" / "sc001" / "A").mkdir(parents=True)
    (tmp_path / "ep04" / "sc001" / "scene.toml").write_text("schema = 1\n", encoding="utf-8")
    (tmp_path / "ep04" / "check").mkdir()
    ledger = open_ledger(tmp_path / "ep04" / "check" / "ledger.sqlite")
    row = ("0123456789abcdef", b"sc001", b"A", b"1", FaultKind.SPILL.value, "", "null", None, 1, 1, None)
    ledger.db.execute(f"INSERT INTO fault VALUES ({', '.join('?' * len(row))})", row)
    record(ledger.db, Decision("Mara Quill", Deed.NO_FAULT, "sc001", "A", "1", "0123456789abcdef"))
    ledger.close()
    return tmp_path / "ep04"


def call(*arguments):
    return CliRunner().invoke(command, [str(argument) for argument in arguments], standalone_mode=False)


def test_without_a_ledger_it_says_what_to_run_first(episode):
    (episode / "check" / "ledger.sqlite").unlink()
    answer = call(episode, "--agreement")
    assert isinstance(answer.exception, BadInput)
    assert "Run `cel-check episode` on it first" in answer.exception.problems[0].line()
    assert not (episode / "check" / "ledger.sqlite").exists(), "none is begun"


def test_agreement_is_told_kind_by_kind(episode):
    assert "Paint across the line" in call(episode, "--agreement").output
    told = json.loads(call(episode, "--agreement", "--json").output)
    assert [(row["kind"], row["shown"], row["not-a-fault"]) for row in told["agreement"]] == [("spill", 1, 1)]
    assert told["lessons"] == []


def test_a_desk_for_a_network_wants_a_password_worth_the_name(episode):
    answer = CliRunner().invoke(command, [str(episode), "--host", "0.0.0.0"], input="short\nshort\n")
    assert answer.exit_code == 2
    assert "at least 8 characters" in answer.output


def test_help_imports_no_server():
    import_line = "import cel_check.cli.main, sys; print({'starlette', 'uvicorn', 'cv2'} & set(sys.modules))"
    told = subprocess.run(
        [sys.executable, "-c", import_line], capture_output=True, encoding="utf-8", check=True
    )
    assert told.stdout.strip() == "set()"
