"""What the page may ask for, field by field; anything else in a request is refused."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, field_validator

from cel_check.faults import FaultKind, SendTo
from cel_check.scene.names import shown
from cel_check.scene.summary import Deed

Text = Annotated[str, StringConstraints(strip_whitespace=True, max_length=500)]
Who = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=60)]
Identity = Annotated[str, StringConstraints(pattern=r"^[a-z0-9-]{1,40}$")]
Number = Annotated[int, Field(ge=0, le=1_000_000)]


class Asked(BaseModel):
    """What every request says: who sends it."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    who: Who

    @field_validator("who")
    @classmethod
    def _seen(cls, who: str) -> str:
        """Write out what would act in a name instead of being seen."""
        return shown(who)


class AskedDecision(Asked):
    """A decision on one fault; `seen` is the number of the decision that the page showed on it, or 0."""

    fault: Identity
    deed: Deed
    send_to: SendTo | None = None
    reason: Text = ""
    seen: int = Field(ge=0)
    sha256: str | None = Field(default=None, max_length=64)


class AskedLesson(Asked):
    """`Not a fault` for a fault and for all those of the same cause, which the page has shown."""

    fault: Identity
    others: tuple[Identity, ...] = Field(max_length=5000)


class AskedUnlearn(Asked):
    """A lesson to take back."""

    lesson: int = Field(ge=1)


class AskedCel(Asked):
    """A whole cel to pass, and the content that the page showed."""

    level: Number
    drawing: Number
    sha256: str = Field(max_length=64)


class AskedScene(Asked):
    """A whole scene to pass, and the content that the page showed."""

    content: str = Field(max_length=64)


class AskedUndo(Asked):
    """To take back the person's last decision in the scene."""


class AskedFault(Asked):
    """A fault drawn by hand, on the picture whose content the page showed."""

    level: Number
    drawing: Number
    sha256: str = Field(max_length=64)
    kind: FaultKind
    send_to: SendTo
    box: tuple[Number, Number, Annotated[int, Field(ge=1, le=65_535)], Annotated[int, Field(ge=1, le=65_535)]]
    text: Text
