"""Whatever happens to an episode between runs, what is remembered says the same as a check from nothing."""

import shutil
import tempfile
import time
from pathlib import Path

import pytest
from episodes import OFF, PAINTED_WRONG, Night, make_episode, paint_cel, write_model
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from cel_check.episode import untouched

SCENES, DRAWINGS = ("sc001", "sc002"), (1, 2)
SMALL = (110, 80)
CELS = st.tuples(st.sampled_from(SCENES), st.sampled_from(DRAWINGS))


class Nights(RuleBasedStateMachine):
    """An episode on which people work, and the runs on it."""

    @initialize()
    def begin(self):
        self.root = Path(tempfile.mkdtemp())
        self.clock = pytest.MonkeyPatch()
        # An hour later nothing is too new to be trusted: scenes that nobody touched are not loaded again.
        self.clock.setattr(untouched, "now_ns", lambda: time.time_ns() + 3600 * 10**9)
        self.folder = make_episode(self.root / "ep01", scenes=2, drawings=2)
        self.runs = 0
        self.tolerance = 2.0

    def teardown(self):
        self.clock.undo()
        shutil.rmtree(self.root)

    @rule(cel=CELS, coat=st.sampled_from(["#C8553D", OFF, PAINTED_WRONG]), number=st.integers(0, 3))
    def paint(self, cel, coat, number):
        paint_cel(self.path(cel), coat, number, SMALL)

    @rule(cel=CELS)
    def spoil(self, cel):
        if self.path(cel).exists():
            self.path(cel).write_bytes(self.path(cel).read_bytes()[:90])

    @rule(cel=CELS)
    def lose(self, cel):
        others = [path for path in self.path(cel).parent.glob("*.png") if path != self.path(cel)]
        if others:
            self.path(cel).unlink(missing_ok=True)

    @rule(tolerance=st.sampled_from([0.5, 2.0, 4.0]), paint=st.sampled_from(["R-31", "R-32"]))
    def allow(self, tolerance, paint):
        write_model(self.folder / "tilda.toml", tolerance=tolerance, paint=paint)

    @rule(coat=st.sampled_from(["#C8553D", "#C9563E"]))
    def mix_anew(self, coat):
        write_model(self.folder / "tilda.toml", coat=coat)

    @rule(after=st.integers(1, 3))
    def stop_early(self, after):
        Night(self.folder, stop_after=after, out=self.root / "out")

    @rule()
    def run(self):
        remembered = Night(self.folder, out=self.root / "out")
        self.runs += 1
        fresh = Night(self.folder, out=self.root / f"fresh-{self.runs}")
        assert remembered.states == fresh.states
        for scene in SCENES:
            one, other = remembered.out / scene / "report.json", fresh.out / scene / "report.json"
            assert one.read_bytes() == other.read_bytes()
        assert Night(self.folder, out=self.root / "out").checked == []

    @invariant()
    def no_fault_has_two_identities(self):
        report = self.root / "out" / "episode.json" if hasattr(self, "root") else Path("absent")
        if report.exists():
            found = Night.read(report)
            assert len(set(found)) == len(found)

    def path(self, cel):
        return self.folder / cel[0] / "A" / f"A-{cel[1]:04}.png"


TestNights = Nights.TestCase
TestNights.settings = settings(max_examples=6, stateful_step_count=8, deadline=None)
