"""Small color models in memory for the tests of validation, and shortcuts to what they find."""

from cel_check.model.load import load_leniently, load_model
from cel_check.model.looks import looks_of
from cel_check.model.together import UNKNOWN

HEAD = 'schema = 1\n[model]\ncharacter = "{who}"\ntolerance = {tolerance}\n'


def color(name, value, use="paint", paint=None, tolerance=None):
    value = f'srgb = "{value}"' if value.startswith("#") else f"lab = {{ {value} }}"
    lines = ["[[color]]", f'id = "{name}"', f'name = "{name.title()}"', f'use = "{use}"', value]
    lines += [f'paint = "{paint}"'] if paint else []
    lines += [f"tolerance = {tolerance}"] if tolerance is not None else []
    return "\n".join(lines) + "\n"


def condition(name, **colors):
    rows = "".join(f'{key} = "{value}"\n' for key, value in colors.items())
    return f"[condition.{name}]\n{rows}"


def model_of(folder, *parts, key="tilda", who="Tilda", tolerance=1.5):
    path = folder / f"{key}.toml"
    path.write_text(HEAD.format(who=who, tolerance=tolerance) + "".join(parts), encoding="utf-8")
    return load_model(path)


def lenient(path):
    return load_leniently(path)


def looks(*models):
    return looks_of(models)


__all__ = ["UNKNOWN", "color", "condition", "lenient", "looks", "model_of"]
