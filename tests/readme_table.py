"""README's table of fault kinds, made from the catalogue: `python tests/readme_table.py` writes it anew."""

import re
from pathlib import Path

from cel_check.faults import CATALOGUE

README = Path(__file__).resolve().parents[1] / "README.md"
HEAD = (
    "| kind | what it means | often mistaken for it | goes to | looked for |\n| --- | --- | --- | --- | --- |"
)
_PLACE = re.compile(r"(?<=<!-- faults -->\n).*?(?=\n<!-- /faults -->)", re.DOTALL)


def fault_table() -> str:
    """The catalogue as a table, in its own order."""
    rows = [
        (
            f"`{entry.kind.value}`",
            entry.meaning,
            entry.false_alarms,
            entry.send_to.value,
            "yes" if entry.checked else "not yet",
        )
        for entry in CATALOGUE.values()
    ]
    return "\n".join([HEAD, *(f"| {' | '.join(row)} |" for row in rows)])


def table_in(readme: str) -> str:
    """The table as README has it."""
    found = _PLACE.search(readme)
    assert found, "README has lost the marks around its table of faults"
    return found.group()


def with_table(readme: str) -> str:
    """README with the table as it should be."""
    return _PLACE.sub(lambda _: fault_table(), readme)


if __name__ == "__main__":
    README.write_text(with_table(README.read_text(encoding="utf-8")), encoding="utf-8")
