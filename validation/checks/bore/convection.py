"""Natural convection against published solutions: heated-side cavity and horizontal annulus."""

import numpy as np

from sim.solve.convergence import Banded, banded
from sim.solve.motion import State
from validation.checks.bore.enclosures import (
    Enclosure,
    annulus,
    heated_side,
    midplane_peaks,
    raithby_hollands,
    square,
)
from validation.published.rows import Row

RATIO = float(np.sqrt(2.0))
CELLS = (24, 34, 48)
DAVIS = "@davis1983, benchmark solution, Pr 0.71"
QUERE = "@lequere1991, Pr 0.71 (from memory)"
CONVERGED = (
    "converged values computed beforehand for the annulus of @kuehn1976 (Pr 0.7, gap / D_i 0.8),"
    " whose own are 1 to 2 % higher (from memory)"
)
RAITHBY = "@raithby1975"
CAVITY = {  # Ra: mean Nu, u_max, v_max
    1e3: (1.118, 3.649, 3.697),
    1e4: (2.243, 16.178, 19.617),
    1e5: (4.519, 34.73, 68.59),
    1e6: (8.800, 64.63, 219.36),
}
HIGH = {1e7: (16.523, (24, 34, 48)), 1e8: (30.225, (40, 56, 80))}  # Ra: mean Nu, cells a side
ANNULUS = {1e3: 1.082, 1e4: 1.979, 2e4: 2.375, 5e4: 2.958, 7e4: 3.194}
INNER = 0.625  # radius of the inner cylinder over the gap


def hot_nusselt(enclosure: Enclosure, temperature: np.ndarray) -> float:
    """Mean Nusselt number of the hot side of a unit square."""
    return enclosure.heat(temperature, enclosure.wall == 1.0)


def cavity(rayleigh: float, cells: tuple[int, ...] = CELLS) -> tuple[Banded, Banded, Banded]:
    """Mean Nu, u_max, v_max of the heated-side cavity on three meshes."""
    rows = []
    for n in cells:
        enclosure = square(n, heated_side, 1.3 if rayleigh < 1e6 else 1.6)
        motion = enclosure.solve(rayleigh, 0.71)
        temperature = motion.state.temperature
        rows.append((hot_nusselt(enclosure, temperature), *midplane_peaks(enclosure, motion.state.psi)))
    nusselt, u, v = (banded((a, b, c), RATIO) for a, b, c in zip(*rows, strict=True))
    return nusselt, u, v


def raised(rayleigh: float, cells: tuple[int, ...]) -> Banded:
    """Mean Nu of the heated-side cavity, the Rayleigh number raised from 1e6 in steps of a quarter of a decade."""
    rows = []
    for n in cells:
        enclosure, state = square(n, heated_side, 1.6 if rayleigh < 3e7 else 2.2), None
        for step in 10 ** np.arange(6.0, np.log10(rayleigh) + 0.1, 0.25):
            motion = enclosure.solve(step, 0.71, state, pseudo_time=None if state is None else 1e-2)
            state: State | None = motion.state  # type: ignore[no-redef]
        rows.append(hot_nusselt(enclosure, motion.state.temperature))
    return banded((rows[0], rows[1], rows[2]), RATIO)


def ring(rayleigh: float, rows: tuple[int, ...] = (16, 23, 32)) -> Banded:
    """Equivalent over plain conductivity of the annulus on three meshes."""
    levels = []
    for n in rows:
        enclosure = annulus(n, 4 * n, INNER)
        motion = enclosure.solve(rayleigh, 0.7)
        plain = 2 * np.pi / np.log((INNER + 1) / INNER)
        levels.append(enclosure.heat(motion.state.temperature, enclosure.wall == 1.0) / plain)
    return banded((levels[0], levels[1], levels[2]), RATIO)


def davis() -> list[Row]:
    """Cavity heated from one side, Ra 1e3 to 1e6, extrapolated from three meshes."""
    out = []
    for rayleigh, published in CAVITY.items():
        names = ("mean Nu", "u_max", "v_max")
        parts = (0.005, 0.01, 0.01)
        for name, value, part, computed in zip(names, published, parts, cavity(rayleigh), strict=True):
            why = f"{100 * part:g} %: the source's own error at 1e6 is of that size"
            out.append(_row("heated-side cavity", DAVIS, rayleigh, name, value, computed, part, why))
    return out


def le_quere() -> list[Row]:
    """Cavity heated from one side, Ra 1e7 and 1e8, extrapolated from three meshes."""
    return [
        _row("heated-side cavity", QUERE, rayleigh, "mean Nu", value, raised(rayleigh, cells), 0.01, "1 %")
        for rayleigh, (value, cells) in HIGH.items()
    ]


def ring_at_1e4() -> list[Row]:
    """Horizontal annulus, Ra 1e4, extrapolated from three meshes."""
    return _rings([1e4])


def rings() -> list[Row]:
    """Horizontal annulus, Ra 1e3 to 7e4, extrapolated from three meshes."""
    return _rings([rayleigh for rayleigh in ANNULUS if rayleigh != 1e4])


def _rings(rayleighs: list[float]) -> list[Row]:
    out = []
    for rayleigh in rayleighs:
        computed, value = ring(rayleigh), ANNULUS[rayleigh]
        out.append(
            _row("horizontal annulus", CONVERGED, rayleigh, "k_eq / k", value, computed, 0.005, "0.5 %")
        )
        if rayleigh >= 1e4:
            estimate = raithby_hollands(rayleigh, 0.7, INNER)
            why = "10 %: the scatter of the measurements behind the correlation (from memory)"
            name = "k_eq / k, correlation"
            out.append(_row("horizontal annulus", RAITHBY, rayleigh, name, estimate, computed, 0.1, why))
    return out


def _row(
    check: str,
    source: str,
    rayleigh: float,
    quantity: str,
    published: float,
    computed: Banded,
    part: float,
    why: str,
) -> Row:
    check, pair = f"{check}, Ra {rayleigh:.0e}", (published, computed.extrapolated)
    return Row(check, source, quantity, *pair, part * published, why, "-", computed.band, at=rayleigh)


GROUPS = (davis, ring_at_1e4)
LONG = (le_quere, rings)
