"""Measurement files for the tests."""

from cel_check.errors import BadInput

HEAD = """CGATS.17
ORIGINATOR	"Signal Hill paint shop"
FILE_DESCRIPTOR	"drawdowns"
CREATED	"{title}"
WEIGHTING_FUNCTION	"ILLUMINANT, D50"
WEIGHTING_FUNCTION	"OBSERVER, 2 degree"
KEYWORD	"SAMPLE_NAME"
"""


def told(call, *arguments):
    """Return what is wrong by the one error that may be raised; nothing where it is read."""
    try:
        call(*arguments)
    except BadInput as bad:
        return [problem.line() for problem in bad.problems]
    return []


def cgats(rows, fields="SAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B", title="2026-01-15", head=HEAD):
    lines = [
        head.format(title=title) + f"NUMBER_OF_FIELDS\t{len(fields.split())}",
        "BEGIN_DATA_FORMAT",
        fields,
    ]
    lines += ["END_DATA_FORMAT", f"NUMBER_OF_SETS\t{len(rows)}", "BEGIN_DATA", *rows, "END_DATA", ""]
    return "\n".join(lines)


def write(folder, content, name="drawdowns.txt"):
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path
