"""Every threshold once, with its unit, its default and where the number comes from.

Settings are frozen; `fingerprint` changes with any of them, so that stored results are re-judged when one
does. Lengths that scale with the art are given in pen widths (the scene's own median ink width), not in
pixels.
"""

import hashlib
import json
from dataclasses import asdict, dataclass, field
from typing import Any


def _setting(default: Any, unit: str, why: str) -> Any:
    return field(default=default, metadata={"unit": unit, "why": why})


@dataclass(frozen=True)
class Settings:
    """The program's thresholds. Each field's metadata holds `unit` and `why` (the source of its default)."""

    tolerance: float = _setting(
        2.0,
        "ΔE00",
        "allowed where neither color nor model names one; between the 50:50 acceptability of "
        "1.8 (Paravina et al. 2015) and 2.3 (the just noticeable ΔE*ab of Mahy et al. 1994); a house choice",
    )
    max_megapixels: float = _setting(
        120.0, "megapixels", "a 600 dpi scan of a 12 field is 38; more is likely a lie of the header"
    )
    max_side: int = _setting(20000, "px", "the longest pan that a scanner of this trade gives, twice over")
    seconds_per_megapixel: float = _setting(
        20.0, "s", "a cel takes some 0.05 s a megapixel; a worker that takes hundreds of times longer hangs"
    )
    seconds_at_least: float = _setting(60.0, "s", "what any cel is given before it counts as hung")

    def fingerprint(self) -> str:
        """Return 16 hex digits that change when any setting does."""
        text = json.dumps(asdict(self), sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:16]


DEFAULTS = Settings()
