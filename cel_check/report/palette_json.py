"""What a palette's validation found, as data: the published shape of `palette.json`."""

import json
import math
from dataclasses import dataclass
from typing import Any

from cel_check.model.cels_above import CelLaw
from cel_check.model.changes import Change
from cel_check.model.colormodel import ColorModel
from cel_check.model.drawdowns import Drawdown
from cel_check.model.finding import Finding, Severity
from cel_check.model.level_looks import Graded, LevelLook
from cel_check.model.looks import Looks
from cel_check.scene.found_colors import FoundColors
from cel_check.scene.model_uses import Stale
from cel_check.scene.names import shown
from cel_check.version import NAME, VERSION

SCHEMA = 1
"""Number of the shape; it is described by `palette_schema.json` beside this module."""


@dataclass(frozen=True, eq=False)
class PaletteResult:
    """Everything that a validation found.

    Attributes:
        looks: the models' colors.
        findings: the worst first.
        drawdowns: measured batches, in the order of measurement.
        scenes: names of the scenes that were looked at.
        graded: what a measured strip of cels tells, or None.
    """

    looks: Looks
    findings: tuple[Finding, ...]
    drawdowns: tuple[Drawdown, ...] = ()
    scenes: tuple[str, ...] = ()
    graded: Graded | None = None

    def count(self, severity: Severity) -> int:
        """Return how many findings have a severity."""
        return sum(finding.severity is severity for finding in self.findings)

    @property
    def verdict(self) -> str:
        """`error`, `warning` or `pass`."""
        return next((s.value for s in (Severity.ERROR, Severity.WARNING) if self.count(s)), "pass")


def palette_json(result: PaletteResult) -> bytes:
    """Return `palette.json`: UTF-8, no NaN, the same bytes for the same results."""
    return _bytes(
        {
            "schema": SCHEMA,
            "tool": {"name": NAME, "version": VERSION},
            "verdict": result.verdict,
            "counts": {severity.value: result.count(severity) for severity in Severity},
            "models": [_model(model) for model in result.looks.models],
            "scenes": [shown(name) for name in result.scenes],
            "findings": [_finding(finding) for finding in result.findings],
            "drawdowns": [_drawdown(one) for one in result.drawdowns],
            "stack": None if result.graded is None else _stack(result.graded),
        }
    )


def changes_json(
    old: ColorModel, new: ColorModel, changes: tuple[Change, ...], stale: tuple[Stale, ...]
) -> bytes:
    """Return the differences of two versions of a model, and the scenes that they make stale."""
    return _bytes(
        {
            "schema": SCHEMA,
            "tool": {"name": NAME, "version": VERSION},
            "old": _model(old),
            "new": _model(new),
            "changes": [
                {
                    "color": one.color,
                    "name": shown(one.name),
                    "what": one.what,
                    "condition": shown(one.look) or None,
                    "old": shown(one.old) or None,
                    "new": shown(one.new) or None,
                    "delta_e": _number(one.delta_e),
                }
                for one in changes
            ],
            "stale": [
                {
                    "scene": shown(one.scene),
                    "condition": None if one.condition is None else shown(one.condition),
                    "levels": [shown(level) for level in one.levels],
                    "colors": [shown(color) for color in one.colors],
                }
                for one in stale
            ],
        }
    )


def found_json(found: FoundColors) -> bytes:
    """Return the colors that pictures hold."""
    return _bytes(
        {
            "schema": SCHEMA,
            "tool": {"name": NAME, "version": VERSION},
            "colors": [
                {
                    "srgb": one.hex,
                    "use": one.use.value,
                    "area_px": one.area,
                    "places": one.places,
                    "largest_px": one.largest,
                    "box": list(one.box),
                    "file": shown(one.file),
                    "files": one.files,
                }
                for one in found.colors
            ],
            "notes": [shown(note) for note in found.notes],
        }
    )


def _bytes(content: dict[str, Any]) -> bytes:
    return (json.dumps(content, ensure_ascii=False, allow_nan=False, indent=1) + "\n").encode("utf-8")


def _model(model: ColorModel) -> dict[str, Any]:
    return {
        "key": shown(model.key),
        "character": shown(model.character),
        "file": shown(model.file),
        "sha256": model.sha256,
        "colors": len(model.colors),
        "conditions": [shown(variant.name) for variant in model.conditions],
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "severity": finding.severity.value,
        "kind": finding.kind.value,
        "model": shown(finding.model) or None,
        "colors": [{"model": shown(model), "color": color} for model, color in finding.colors],
        "condition": shown(finding.condition) or None,
        "value": _number(finding.value),
        "limit": _number(finding.limit),
        "unit": finding.unit or None,
        "text": shown(finding.text),
        "mend": shown(finding.mend),
    }


def _drawdown(one: Drawdown) -> dict[str, Any]:
    return {
        "model": shown(one.model),
        "color": one.color,
        "paint": shown(one.paint),
        "batch": shown(one.batch),
        "file": shown(one.file),
        "line": one.line,
        "lab": [_number(value) for value in one.lab],
        "delta_e": _number(one.delta_e),
        "tolerance": one.tolerance,
        "passes": one.passes,
        "drift": _number(one.drift),
        "metamerism": _number(one.metamerism),
    }


def _stack(graded: Graded) -> dict[str, Any]:
    law: CelLaw = graded.law
    return {
        "cels": law.cels,
        "bands": law.bands,
        "through": [_number(value) for value in law.through],
        "adds": [_number(value) for value in law.adds],
        "worst_delta_e": _number(law.worst),
        "levels": [_level_look(one) for one in graded.levels],
    }


def _level_look(one: LevelLook) -> dict[str, Any]:
    return {
        "model": shown(one.model),
        "color": one.color,
        "level": one.level,
        "cels_above": one.cels,
        "seen": one.seen,
        "delta_e": _number(one.delta_e),
        "mix": one.mix,
        "mix_delta_e": _number(one.left),
        "within": _number(one.within),
        "tolerance": one.tolerance,
    }


def _number(value: float | None) -> float | None:
    return round(float(value), 4) if value is not None and math.isfinite(value) else None
