"""Tables of the case for fittings: bodies along the pipe or across it, and the families built of them."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, model_validator

from . import catalogue
from .catalogue import fittings as sizes
from .catalogue import pipes
from .errors import refuse
from .fields import Clock, Gap, Length, Name, Share, Table, Text, declared, quantity, word_or
from .line import Pipe
from .support import METAL_EMISSIVITY, UNSAID_METAL, Metal, as_class
from .units import rounded

Place = Annotated[float, quantity("length", -30.0, 30.0)]
COVERED_ACROSS = ("branch", "stub", "pump")


Cover = Annotated[float, word_or("bare", 0.0, "length", 1e-3, 1.0)]


class Hollow(Table):
    """A cavity of a body about the body's own axis, open to the bore where it reaches it."""

    diameter: Length = declared(..., "its diameter")
    low: Place | None = declared(
        None, "where it begins along the body's axis; default with the body", alias="from"
    )
    high: Place = declared(..., "where it ends along the body's axis", alias="to")
    filled: Literal["contents", "gas", "metal"] = declared(
        "contents", "contents (with the bore's film on its surface), gas (conducts only) or metal"
    )


class FittingBody(Table):
    """A solid cylinder about the pipe's axis (along) or about an axis through z = 0 (across)."""

    axis: Literal["along", "across"] = declared(..., "along the pipe, or across it at a clock position")
    clock: Clock | None = declared(None, "clock position of an axis across")
    diameter: Length = declared(..., "its diameter")
    low: Place = declared(
        0.0,
        "where it begins: along, from z = 0 (a distance above 0 stands on either side); across, from the pipe's axis",
        alias="from",
    )
    high: Place = declared(..., "where it ends", alias="to")
    material: Metal | None = declared(None, "its own material; default the fitting's")
    cover: Cover | None = declared(
        None, 'thickness of the insulation on it and beyond its free end, or "bare"; default bare'
    )
    cover_from: Length | None = declared(
        None,
        "where along its axis the cover as given begins: nearer the pipe a covered body is bare, and a bare one has"
        " the cover of the first covered body, or the line's thickness",
    )
    hollow: Hollow | None = declared(None, "a cavity in it")

    @model_validator(mode="after")
    def _whole(self) -> FittingBody:
        if self.axis == "across" and self.clock is None:
            refuse("is missing: a body across needs its clock position; accepted: such as 12", "clock")
        if self.axis == "along" and self.clock is not None:
            refuse('belongs to axis = "across"; accepted: only with it', "clock")
        if self.axis == "along" and self.cover_from is not None:
            refuse('belongs to axis = "across"; accepted: only with it', "cover_from")
        if self.high <= self.low:
            refuse(f"{1e3 * self.high:g} mm is not beyond from ({1e3 * self.low:g} mm)", "to")
        if self.axis == "along" and self.low < 0.0 and abs(self.low + self.high) > 1e-6:
            refuse(
                f"{1e3 * self.low:g} mm: a fitting is symmetric about its middle; accepted:"
                f" {-1e3 * self.high:g} mm, or 0 mm or more, which stands on either side",
                "from",
            )
        if self.axis == "across" and self.low < 0.0:
            refuse(f"{1e3 * self.low:g} mm lies beyond the pipe's axis; accepted: 0 mm or more", "from")
        if self.hollow is not None:
            self._hollow(self.hollow)
        return self

    def _hollow(self, hollow: Hollow) -> None:
        if hollow.diameter >= self.diameter:
            refuse(
                f"{1e3 * hollow.diameter:g} mm is not less than the body's diameter; accepted: less than"
                f" {1e3 * self.diameter:g} mm",
                "hollow.diameter",
            )
        if hollow.high >= self.high:
            refuse(
                f"{1e3 * hollow.high:g} mm leaves the body; accepted: less than {1e3 * self.high:g} mm",
                "hollow.to",
            )
        low = self.low if hollow.low is None else hollow.low
        if low < self.low:
            least = f"at least {1e3 * self.low:g} mm"
            refuse(f"{1e3 * low:g} mm leaves the body; accepted: {least}", "hollow.from")
        if hollow.high <= low:
            refuse(f"{1e3 * hollow.high:g} mm is not beyond its beginning ({1e3 * low:g} mm)", "hollow.to")

    @property
    def cover_thickness(self) -> float:
        """Thickness of the cover as given, m; 0 where it is bare."""
        return self.cover or 0.0


Family = Literal[
    "flange_pair", "gate_valve", "globe_valve", "ball_valve", "strainer", "branch", "pump", "stub", "parts"
]


class Fitting(Table):
    """A fitting of the line, alone on it and symmetric about its middle: a valve, a flange pair, a pump."""

    name: Name = declared(..., "name of the fitting")
    family: Family = declared(
        "parts",
        "flange_pair, gate_valve, globe_valve, ball_valve, strainer, branch, pump, stub,"
        " or parts (only the bodies given)",
    )
    rating: Annotated[Literal["150", "300"] | None, BeforeValidator(as_class)] = declared(
        None, "pressure class of a family's default sizes: 150 or 300; default 150", alias="class"
    )
    material: Metal = declared(None, "material of its bodies; default carbon steel")
    cover: Cover | None = declared(
        None,
        "cover of a family's bodies along, and of a branch, a stub and a pump all over: thickness, or"
        ' "bare"; default bare',
    )
    body: tuple[FittingBody, ...] = declared(
        (), "its bodies, a later one winning over an earlier; default the family's", assumed=sizes.SOURCE
    )
    emissivity: Share | None = declared(
        None, "emissivity of bare metal; default that of the material, else 0.8", assumed=UNSAID_METAL
    )
    ends: Literal["open", "closed"] = declared(
        "open", "cut faces of the line's insulation beside a bare body: open (no barrier) or closed (with it)"
    )
    allowance: Gap = declared(0.0, "extra length of each tracer looped over the fitting")
    allowance_on: tuple[Text, ...] = declared(
        (), 'bodies that it lies on, such as ["body 1"]; default all of them'
    )

    @model_validator(mode="after")
    def _complete(self) -> Fitting:
        self.complete(material=catalogue.solid("carbon steel"))
        given = self.material.emissivity
        self.complete(emissivity=METAL_EMISSIVITY if given is None else given)
        if self.family == "parts" and not self.body:
            refuse("has no bodies; accepted: a list of bodies, or a family", "body")
        if self.family == "parts" and self.rating is not None:
            refuse("belongs to a family; accepted: only with one", "class")
        if self.family == "parts" and self.cover is not None:
            refuse("belongs to a family; accepted: a cover of each body", "cover")
        return self

    def size(self, pipe: Pipe) -> None:
        """Take the bodies of a family from its tables, where the case gives none. Refuses unknown sizes and names."""
        if not self.body:
            nps = pipes.nominal_size(pipe.size) if pipe.size is not None else None
            rating = self.rating or "150"
            parts = sizes.bodies(self.family, nps, pipe.outer_diameter, 2 * pipe.inner_radius, rating)
            if isinstance(parts, str):
                refuse(parts, "family")
            bodies = []
            for one in parts:
                entry: dict[str, Any] = dict(one)
                if self.cover and (entry["axis"] == "along" or self.family in COVERED_ACROSS):
                    entry["cover"] = f"{1e3 * self.cover:.9g} mm"
                bodies.append(FittingBody.model_validate(entry))
            self.assume(body=tuple(bodies))
        known = [f"body {n}" for n in range(1, len(self.body) + 1)]
        for name in self.allowance_on:
            if name not in known:
                refuse(f'there is no "{name}"; known: {", ".join(known)}', "allowance_on")

    @property
    def heated(self) -> tuple[int, ...]:
        """Numbers, from 0, of the bodies that the extra tracer lies on."""
        named = self.allowance_on or tuple(f"body {n}" for n in range(1, len(self.body) + 1))
        return tuple(int(name.split()[1]) - 1 for name in named)

    @property
    def length(self) -> float:
        """Full length along the pipe, m."""
        reach = [b.high if b.axis == "along" else b.diameter / 2 for b in self.body]
        return rounded(2 * max(reach))
