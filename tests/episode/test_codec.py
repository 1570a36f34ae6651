"""What the ledger keeps of a cel comes back as it was, and damage to it is seen."""

import pytest
from cel_art import COAT, faults_of, figure, off
from hypothesis import given
from hypothesis import strategies as st

from cel_check.drawing.place import Place
from cel_check.episode.codec import DamagedRowError, answer_of, decode, encode, restored
from cel_check.faults import Fault, FaultKind, FoundColor, ModelMatch, SendTo, Verdict
from cel_check.model.colormodel import Palette
from cel_check.scene.results import CelResult, Measured
from cel_check.scene.tasks import CelTask
from cel_check.settings import DEFAULTS

TASK = CelTask("A", "7", "A/A-0007.png", None, Palette((), ()), DEFAULTS, 60.0)

NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
INTEGERS = st.integers(-(2**31), 2**31)
# What a check writes is safe to show (`names.shown`): any text but lone surrogates.
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=40)
BOXES = st.tuples(INTEGERS, INTEGERS, INTEGERS, INTEGERS)
MATCHES = st.builds(
    ModelMatch, TEXTS, TEXTS, st.none() | TEXTS, TEXTS, TEXTS, NUMBERS, NUMBERS, because=TEXTS
)
FAULTS = st.builds(
    Fault,
    kind=st.sampled_from(FaultKind),
    verdict=st.sampled_from([Verdict.RETAKE, Verdict.QUERY]),
    text=TEXTS,
    send_to=st.sampled_from(SendTo),
    confidence=NUMBERS,
    box=st.none() | BOXES,
    point=st.none() | st.tuples(INTEGERS, INTEGERS),
    area_px=st.none() | INTEGERS,
    found=st.none() | st.builds(FoundColor, TEXTS, st.tuples(NUMBERS, NUMBERS, NUMBERS)),
    nearest=st.none() | MATCHES,
    expected=st.none() | MATCHES,
    contrast=NUMBERS,
)
PLACES = st.builds(
    Place, INTEGERS, INTEGERS, BOXES, st.tuples(NUMBERS, NUMBERS),
    st.lists(st.tuples(INTEGERS, NUMBERS), max_size=4).map(tuple),
)  # fmt: skip
RESULTS = st.builds(
    CelResult,
    level=st.just("A"),
    drawing=st.just("7"),
    file=st.just("A/A-0007.png"),
    verdict=st.sampled_from([Verdict.PASS, Verdict.QUERY, Verdict.RETAKE]),
    faults=st.lists(FAULTS, max_size=3).map(tuple),
    sha256=st.text("0123456789abcdef", min_size=64, max_size=64),
    width=INTEGERS,
    height=INTEGERS,
    notes=st.lists(TEXTS, max_size=2).map(tuple),
    thumbnail=st.binary(max_size=50),
    dpi=st.none() | NUMBERS,
    places=st.lists(PLACES, max_size=3).map(tuple),
    measured=st.builds(Measured, st.binary(max_size=30).map(bytes.hex), st.booleans()),
)


@given(RESULTS)
def test_it_comes_back_exactly(result):
    payload = encode(result)
    assert restored(decode(payload), result.thumbnail, TASK) == result
    assert encode(result) == payload


def test_a_real_cels_faults_come_back_exactly():
    faults = faults_of(figure(coat=off(COAT, 5.0)).rgba())
    assert faults
    result = CelResult("A", "7", TASK.file, Verdict.RETAKE, faults, "0" * 64, 8, 8, measured=Measured())
    assert restored(decode(encode(result)), b"", TASK) == result


@given(RESULTS, st.data())
def test_one_changed_byte_is_seen_or_changes_nothing(result, data):
    payload = bytearray(encode(result))
    place = data.draw(st.integers(0, len(payload) - 1))
    payload[place] ^= data.draw(st.integers(1, 255))
    try:
        there = decode(bytes(payload))
    except DamagedRowError:
        return
    assert there == decode(encode(result))


@pytest.mark.parametrize("payload", [b"", b"{}", bytes(40)])
def test_nonsense_is_damage(payload):
    with pytest.raises(DamagedRowError):
        decode(payload)


def unread(file, sha256):
    """The result of a file that is no whole picture, or of which nothing could be read (no sha256)."""
    text = f"{file} is cut short. Save or copy it again."
    fault = Fault(FaultKind.UNREADABLE, Verdict.RETAKE, text, SendTo.SCAN, 1.0)
    return CelResult("A", "7", file, Verdict.RETAKE, (fault,), sha256)


@pytest.mark.parametrize(
    "result",
    [
        CelResult("A", "7", "x", Verdict.NOT_CHECKED, sha256="0" * 64, error="it took too long"),
        unread("A/A-0007.png", None),
    ],
)
def test_what_was_not_checked_and_what_no_drive_gave_is_never_remembered(result):
    answer = answer_of(result)
    assert answer.payload == b""
    assert answer.result == result


def test_bytes_that_are_no_picture_are_remembered_under_whatever_name_they_lie():
    answer = answer_of(unread("A/A-0003 copy.png", "0" * 64))
    assert (answer.sha256, answer.size, answer.thumbnail) == ("0" * 64, (None, None), b"")
    assert restored(decode(answer.payload), answer.thumbnail, TASK) == unread(TASK.file, "0" * 64)
