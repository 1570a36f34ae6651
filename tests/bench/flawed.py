"""Drawings whose own art has a fault that is looked for: reviewed by eye, each with what is seen.

They come from the same package as all the others and stay in every table; the false alarms are given with and
without them. A place belongs here only where paint is plainly seen past its line, or missing before it, or
where an outline is plainly open.
"""

FLAWED: dict[str, str] = {
    "1F307": "orange corner of 6 px past the round foot of a line",
    "1F321": "outline of the bulb open over 29 px on the left, two round ends of line facing each other",
    "1F330": "outline of the chestnut open over 35 px, two round ends of line facing each other",
    "1F3BF": "outline of the ski's tip open over 42 px, two round ends of line facing each other",
    "1F43A": "outline open over 30 px beside the mouth, on the left and on the right",
    "1F442-1F3FF": "brown edge of 8 px along the outside of the ear's outline",
    "1F468-1F3FD-200D-1FAEF-200D-1F468-1F3FE": "skin corners of 4 to 6 px past the round ends of lines",
    "1F90C-1F3FB": "outline of the hand open over 56 px, two round ends of line facing each other",
    "1F926": "blue corner of 7 px past the round foot of a line",
    "1F973": "outline of the face open over 15 px below the hat",
    "1F9B8-1F3FD-200D-2642-FE0F": "gray corners of 3 px past the round ends of lines",
    "1F9C3": "orange corners of 12 px past the line, in the yellow",
    "1FAE0": "outline of the face open over 58 px at the bottom, two round ends of line facing each other",
}
"""Drawing to what is seen."""
