"""Facts of a laminated blank: its order of work, and what to mind."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Discriminator

from nestyield.model.facts.glue import (
    BlankRefused,
    GuardsInPlace,
    ManualsFirst,
    MoistureDiffers,
    MoistureUnknown,
    SearchForMetal,
)
from nestyield.model.facts.glue_steps import LeaveInClamps, PlaneBlank, ScrapeGlue


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelLayers:
    """Write letters and arrows on the layers."""

    code: Literal["label layers"] = "label layers"


@dataclass(frozen=True, slots=True, kw_only=True)
class SawLayers:
    """Saw each layer to the outline of the blank before gluing.

    Parameters
    ----------
    kept : int
        How many of the offcuts go back to the rack.
    """

    code: Literal["saw layers"] = "saw layers"
    kept: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanedLayer:
    """What is planed off a layer before gluing.

    Parameters
    ----------
    layer : str
        Letter.
    top_um, bottom_um : int
        Off its two faces.
    to_um : int
        Its thickness then.
    """

    code: Literal["planed layer"] = "planed layer"
    layer: str
    top_um: int
    bottom_um: int
    to_um: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneLayers:
    """Plane the faces that are glued, and what else is too much of each layer.

    Parameters
    ----------
    layers : tuple of PlanedLayer
    """

    code: Literal["plane layers"] = "plane layers"
    layers: tuple[PlanedLayer, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StackDry:
    """Stack the layers dry."""

    code: Literal["stack dry"] = "stack dry"


@dataclass(frozen=True, slots=True, kw_only=True)
class GlueFaces:
    """Glue the layers and press them.

    Parameters
    ----------
    faces : int
        How many glue lines.
    clamps : int
    """

    code: Literal["glue faces"] = "glue faces"
    faces: int
    clamps: int


#: A step of the order of work of a laminated blank.
LaminateStep = Annotated[
    LabelLayers | SawLayers | PlaneLayers | StackDry | GlueFaces | LeaveInClamps | ScrapeGlue | PlaneBlank,
    Discriminator("code"),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class PressShort:
    """The clamps of the shop do not press a laminated blank as hard as the glue asks: code G724.

    Parameters
    ----------
    needed, count : int
        How many it takes, and how many there are.
    clamp_n : float
        What each gives, newtons.
    reached_mpa, least_mpa : float
        Pressure that they give, and the least that is asked for.
    """

    code: Literal["G724"] = "G724"
    severity: Literal["warning"] = "warning"
    needed: int
    count: int
    clamp_n: float
    reached_mpa: float
    least_mpa: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LayersPull:
    """Layers of a blank move unlike each other over the season: code G725.

    Parameters
    ----------
    face : str
        Glue line where they differ most.
    species : (str, str)
        Above and below it.
    mismatch_um : int or None
        By how much they would differ in width if they were free; None where a species has no figures.
    balanced : bool
        Whether the outermost layers are of one species and thickness, so that they pull alike.
    """

    code: Literal["G725"] = "G725"
    severity: Literal["warning"] = "warning"
    face: str
    species: tuple[str, str]
    mismatch_um: int | None
    balanced: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PressEvenly:
    """Handbooks give the pressure for edges; over a face it takes many clamps, and cauls that spread it."""

    code: Literal["press evenly"] = "press evenly"


#: What to mind with a laminated blank, beside what each layer's machines ask for.
LaminateCaution = Annotated[
    PressShort
    | LayersPull
    | PressEvenly
    | MoistureDiffers
    | MoistureUnknown
    | BlankRefused
    | SearchForMetal
    | GuardsInPlace
    | ManualsFirst,
    Discriminator("code"),
]
