"""A section's stages in time, by finite elements: what it stores, what drives it, and the solution of one step.

Two implicit stages of second order, L-stable (Alexander, SIAM J. Numer. Anal. 14 (1977) 1006-1021). What a stage's
coefficients depend on is iterated; enthalpies of ice go by Newton's method.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.sparse import csc_matrix, diags_array
from scipy.sparse.linalg import splu

from sim.case import Case
from sim.case.episode import Control, Episode
from validation.peers.elements.drive import Thermostat, condition_at
from validation.peers.elements.field import our_laws
from validation.peers.elements.lines import Array, solve_bordered
from validation.peers.elements.problem import Problem, Source, fixed_entries, sources_of
from validation.peers.elements.rounds import assembled, few_of, settled
from validation.peers.elements.section import drawn, results
from validation.peers.elements.stores import (
    Ice,
    RingOfIce,
    bore_area,
    consistent,
    ice_of,
    region_heat,
    ring_of,
)

GAMMA = 1 - 0.5 * 2**0.5
SETTLED, SETTLED_COLD = (
    1e-5,
    1e-4,
)  # K: largest change of a node in a stage's last round; steady field before it
ROUNDS, NEWTON = 12, 40


@dataclass(frozen=True)
class At:
    """A state: moment, unknowns (nodes and few) K, enthalpies of the nodes of ice J/m3, heat of a ring of ice J/m."""

    time: float
    x: Array
    ice: Array
    ring: float


class Section:
    """A section in time: what is drawn, what it stores, what drives it."""

    def __init__(
        self, case: Case, episode: Episode, controls: tuple[Control, ...], refine: float, gap: float
    ) -> None:
        self.case, self.episode, self.now = case, episode, case
        self.begin = -1.0
        self.rate: Array | None = (
            None  # K/s of the unknowns over the last step, where there was no jump since
        )
        laws = our_laws(case, lambda: self.now)
        self.problem: Problem = drawn(case, refine=refine, cusp_gap=gap, **laws)
        self.films = laws["bore_films"]
        self.sources: list[Source] = sources_of(self.problem)
        self.fixed = fixed_entries(self.problem)
        self.ice: Ice | None = ice_of(self.problem) if case.contents.state == "still" else None
        self.problem.apart = "liquid" if self.ice is not None else ""
        self.ring: RingOfIce | None = ring_of(case)
        self.own, few = few_of(self.problem)
        self.size = self.problem.nodes + few
        lumps = self.problem.bore.lumps if self.problem.bore else []
        self.liquid_lump = lumps.index("liquid") if "liquid" in lumps else None
        self.gas_lump = lumps.index("gas") if "gas" in lumps else None
        self.controls = [self._thermostat(c) for c in controls if c.name in episode.control]
        self.key: float | None = None

    def _thermostat(self, control: Control) -> Thermostat:
        names = [t.name for t in self.case.tracers]
        mine = [names.index(n) for n in (control.tracers or names)]
        if control.sensor == "ambient":
            return Thermostat(control, mine, None, 0.0)
        sensor = next(s for s in self.case.sensors if s.name == control.sensor)
        return Thermostat(control, mine, sensor.clock, sensor.time_constant)

    def drive(self, time: float) -> None:
        """Put the condition of a moment in force."""
        condition, contents = condition_at(self.case, self.episode, time, self.begin)
        given = self.case.contents.model_copy(update={"temperature": contents})
        self.now = self.case.model_copy(update={"conditions": (condition,), "contents": given})
        self.problem.case, self.problem.condition = self.now, condition
        if self.problem.bore is not None and self.problem.bore.given is not None and contents is not None:
            self.problem.bore.given = float(contents)
        for source in self.sources:
            source.share = 1.0
        for thermostat in self.controls:
            for i in thermostat.tracers:
                self.sources[i].share = thermostat.share(condition.ambient)

    def first(self) -> At:
        """The state at the start."""
        if self.episode.start == "steady":
            on, self.controls = self.controls, []
            condition, _ = condition_at(self.case, self.episode, 0.0, -1.0)
            plain = self.case.conditions[0].model_copy(update={"ambient": condition.ambient})
            self.now = self.case.model_copy(update={"conditions": (plain,)})
            self.problem.case, self.problem.condition = self.now, plain
            guess = np.full(self.size, plain.ambient + 20.0)
            apart, self.problem.apart = self.problem.apart, ""
            x = settled(self.problem, self.sources, self.fixed, guess, SETTLED_COLD)[0]
            self.controls, self.problem.apart = on, apart
        else:
            x = np.full(self.size, float(self.episode.start))
        ice = np.zeros(0) if self.ice is None else self.ice.law.enthalpy_at(x[self.ice.node])
        ring = 0.0
        if self.ring is not None and self.liquid_lump is not None:
            warm = x[self.problem.nodes + self.liquid_lump]
            ring = self.ring.area * float(self.ring.law.enthalpy_at(warm))
        return At(0.0, x, ice, ring)

    def _stores(self, x: Array) -> tuple[csc_matrix, Array]:
        """Stores of the nodes (matrix) and of the few (few,)."""
        without = "liquid" if self.ice is not None else ""
        mass = consistent(self.problem, region_heat(self.problem, x, without))
        few = np.zeros(self.size - self.problem.nodes)
        for lump, part in ((self.liquid_lump, "liquid"), (self.gas_lump, "gas")):
            if lump is not None and not (part == "liquid" and self.ring is not None):
                fluid = self.case.contents.fluid if part == "liquid" else self.case.contents.gas
                warm = float(x[self.problem.nodes + lump])
                few[lump] = bore_area(self.case, part) * float(
                    fluid.density(warm) * fluid.specific_heat(warm)
                )
        return mass, few

    def stage(
        self, time: float, span: float, base: At, guess: At, stores: tuple[csc_matrix, Array]
    ) -> At | None:
        """Solve stored(new) - span rate(new) = stored(base); None if it does not settle."""
        self.drive(time)
        if self.ice is not None:
            return self._stage_of_ice(time, span, base, guess, stores)
        n, (mass, few) = self.problem.nodes, stores
        x, ring = guess.x, guess.ring
        for _ in range(ROUNDS):
            if self.ring is not None:
                ring = self._ring_about(x, span, base)
            r = assembled(self.problem, self.sources, self.fixed, x)
            corner, right = r.corner.copy(), r.right.copy()
            if self.ring is not None and self.liquid_lump is not None:
                k = self.liquid_lump
                r.rows[k], corner[k], corner[k, k] = 0.0, 0.0, 1.0
                right[k] = self._lump_temperature(ring, x)
            corner += np.diag(few / span)
            right += few / span * base.x[n:]
            load = r.load + mass @ base.x[:n] / span
            new = solve_bordered(csc_matrix(r.core + mass / span), load, r.columns, r.rows, corner, right)
            change, x = float(np.abs(new - x)[: n + self.own].max()), new
            if change < SETTLED:
                if self.ring is not None:
                    ring = self._ring_about(x, span, base)
                return At(time, x, base.ice, ring)
        return None

    def _wall(self, x: Array) -> float:
        assert self.problem.bore is not None
        assert self.problem.bore.wet is not None
        return self.problem.bore.wet.mean(x)

    def _lump_temperature(self, heat: float, x: Array) -> float:
        ring = self.ring
        assert ring is not None
        if heat >= 0.0:
            return float(ring.law.of(ring.law.temperature, np.array(heat / ring.area)))
        if ring.share(heat, self._wall(x)) < 1.0:
            return ring.start
        return min(ring.start + (heat / ring.area + ring.latent) / ring.solid, ring.start)

    def _ring_about(self, x: Array, span: float, base: At) -> float:
        """Heat of the ring after a stage, from what flows through film or ice at the walls of x; sets the film."""
        ring, bore = self.ring, self.problem.bore
        assert ring is not None
        assert bore is not None
        assert bore.wet is not None
        assert self.films is not None
        wall, length, heat = self._wall(x), bore.wet.length, base.ring
        for _ in range(60):
            share = ring.share(heat, wall)
            film = self.films[0]
            if share > 0.0:
                film = ring.film(share) if share >= 1.0 else min(ring.film(share), film * 1e3)
            flow = film * length * (wall - self._lump_temperature(heat, x))
            new = base.ring + span * flow
            if abs(new - heat) < 1e-9 * abs(ring.latent * ring.area):
                break
            heat = 0.5 * (heat + new)
        bore.films = (film, bore.films[1])
        return heat

    def _stage_of_ice(
        self, time: float, span: float, base: At, guess: At, stores: tuple[csc_matrix, Array]
    ) -> At | None:
        ice, n, (mass, few) = self.ice, self.problem.nodes, stores
        assert ice is not None
        law, node = ice.law, ice.node
        x, h = guess.x.copy(), guess.ice.copy()
        for count in range(NEWTON):
            x[node] = law.of(law.temperature, h)
            r = assembled(self.problem, self.sources, self.fixed, x)
            phi, slope, bend = np.zeros(n), np.ones(n), np.zeros(n)
            phi[node], bend[node] = law.of(law.flux, h), law.slope(law.flux, h)
            slope[node] = law.slope(law.temperature, h)
            own = np.zeros(n)
            own[node] = ice.area / span
            left = (
                r.load
                - r.core @ x[:n]
                - r.columns @ x[n:]
                - ice.unit @ phi
                - mass @ (x[:n] - base.x[:n]) / span
            )
            left[node] -= own[node] * (h - base.ice)
            beside = r.right - r.rows @ x[:n] - r.corner @ x[n:] - few / span * (x[n:] - base.x[n:])
            scale = np.ones(n)
            scale[node] = 1e6  # unknowns of the nodes of ice: J/m3 over 1e6
            core = (csc_matrix(r.core + mass / span) @ diags_array(slope)) + ice.unit @ diags_array(bend)
            core = (core + diags_array(own)) @ diags_array(scale)
            few_core = r.rows * (slope * scale)
            factor = splu(csc_matrix(core))
            inner = factor.solve(np.column_stack([left, r.columns]))
            corner = r.corner + np.diag(few / span)
            step_few = np.linalg.solve(corner - few_core @ inner[:, 1:], beside - few_core @ inner[:, 0])
            step = (inner[:, 0] - inner[:, 1:] @ step_few) * scale
            h = h + step[node]
            moved = step.copy()
            moved[node] = law.of(law.temperature, h) - x[node]
            x[:n] += moved
            x[n:] += step_few
            most = max(float(np.abs(moved).max()), float(np.abs(step[node]).max()) / 4e6)
            if most < 10 * SETTLED and count:
                x[node] = law.of(law.temperature, h)
                return At(time, x, h, base.ring)
        return None

    def step(self, old: At, length: float) -> At | None:
        """Two stages; None if one does not settle."""
        stores, span = self._stores(old.x), GAMMA * length
        guess = old if self.rate is None else replace(old, x=old.x + span * self.rate)
        first = self.stage(old.time + span, span, old, guess, stores)
        if first is None:
            return None
        ahead = (1 - GAMMA) / GAMMA
        base = At(
            old.time,
            old.x + ahead * (first.x - old.x),
            old.ice + ahead * (first.ice - old.ice),
            old.ring + ahead * (first.ring - old.ring),
        )
        guess = replace(first, x=old.x + (first.x - old.x) / GAMMA)
        return self.stage(old.time + length, span, base, guess, stores)

    def read(self, at: At) -> dict[str, Any]:
        """The section's numbers in the condition in force."""
        n = self.problem.nodes
        powers = [
            s.power(float(at.x[n + self.own + i]), self.problem.condition)[0]
            for i, s in enumerate(self.sources)
        ]
        return results(self.problem, at.x, powers)

    def surface(self, numbers: dict[str, Any], thermostat: Thermostat) -> float:
        """What a sensor without delay reads, K."""
        if thermostat.clock is None:
            return float(self.problem.condition.ambient)
        angle, warm = numbers["around"]["wall"]
        return float(np.interp(thermostat.clock * np.pi / 6, angle, warm, period=2 * np.pi))

    def frozen(self, at: At) -> float | None:
        """Share of the liquid that is frozen; None where it does not freeze."""
        if self.ice is not None:
            share = self.ice.law.of(self.ice.law.share, at.ice)
            return float(share @ self.ice.area / self.ice.area.sum())
        if self.ring is not None:
            return self.ring.share(at.ring, self._wall(at.x))
        return None
