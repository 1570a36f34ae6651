"""What a scene's `[scan]` table says, as each worker needs it; errors are told before a cel is opened."""

import hashlib
import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from cel_check.errors import BadInput, Problem
from cel_check.model.colormodel import Palette
from cel_check.scan.profile import read_profile
from cel_check.scan.punch import Punch, Side
from cel_check.scene.toml import ScanTable

WITHOUT_PROFILE = 5.0
"""ΔE00 allowed at least without a profile: a house choice, not measured. No color is a retake then."""


@dataclass(frozen=True)
class ScanTerms:
    """How scans of a scene are taken; it can be pickled.

    Attributes:
        dpi: pixels an inch; None to take the file's own.
        profile: path of the scanner's profile; empty where there is none.
        profile_sha256: hex digest of that file.
        supported: ΔE00 closer than which no color can be told (the profile's 95th percentile).
        backing: the card's own sRGB; None to take what the border shows.
        punch: the peg holes.
        residual: mean ΔE00 by which the profile misses a color it was not fitted to; 0 where there is none.
    """

    dpi: float | None
    profile: str
    profile_sha256: str
    supported: float
    backing: tuple[int, int, int] | None
    punch: Punch
    residual: float = 0.0

    @property
    def digest(self) -> str:
        """16 hex digits that change with whatever changes a result; where the profile lies does not."""
        text = json.dumps(asdict(replace(self, profile="")), sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:16]


def scan_terms(folder: Path, table: ScanTable | None) -> ScanTerms:
    """Return the terms of a scene that is scanned.

    Raises:
        BadInput: where the profile is missing or broken.
    """
    table = table or ScanTable()
    profile, digest, supported, residual = "", "", WITHOUT_PROFILE, 0.0
    if table.profile is not None:
        path = folder / table.profile
        missed = read_profile(path).residual
        supported, residual = missed.p95, missed.mean
        try:
            digest = hashlib.sha256(path.read_bytes()).hexdigest()
        except OSError:
            wrong, mend = "the profile cannot be read", "Check its rights."
            raise BadInput(Problem(str(path), "", wrong, mend)) from None
        profile = str(path)
    return ScanTerms(
        dpi=table.dpi,
        profile=profile,
        profile_sha256=digest,
        supported=supported,
        backing=None if table.backing is None else _rgb(table.backing),
        punch=Punch(side=Side(table.pegs), **table.punch.model_dump()),
        residual=residual,
    )


def widened(palette: Palette, terms: ScanTerms) -> Palette:
    """Return a palette with no tolerance tighter than its scans support."""
    colors = (
        replace(color, tolerance=max(color.tolerance, round(terms.supported, 2))) for color in palette.colors
    )
    return replace(palette, colors=tuple(colors))


def scan_notes(terms: ScanTerms) -> tuple[str, ...]:
    """Say what the scans support, and what is missing, for the report."""
    if not terms.profile:
        lead = (
            "There is no scanner profile: colors are taken as the files say, allowed "
            f"{terms.supported:.1f} ΔE00 at least, and none is a retake. Make one with `cel-check calibrate`."
        )
    else:
        lead = (
            f"The scanner's profile supports a tolerance of {terms.supported:.1f} ΔE00; closer is not judged."
        )
    card = (
        ()
        if terms.backing is not None
        else ("scene.toml names no backing, so the acetate's own tint could not be taken off.",)
    )
    return (lead, *card, QUERIES_ONLY)


QUERIES_ONLY = (
    "Of scans only a color off the model by more than tolerance and uncertainty, a model color on the wrong "
    "part, a spot without paint and a line that does not close are retakes, every other kind is a query. "
    "Paint less than a millimeter past its line, specks below 0.33 mm and inks slightly off are not surely "
    "found: a scan that passes may have them."
)


def _rgb(text: str) -> tuple[int, int, int]:
    return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)
