"""Lists for people: the keys of a case file, and the catalogue."""

import sys

from rich.text import Text

from sim.report.terminal import plain_table, tell

KINDS = ("pipes", "solids", "insulations", "barriers", "fluids")


def _show(title: str, columns: tuple[str, ...], rows: list[tuple[str, ...]]) -> None:
    table = plain_table(gap=2)
    for name in columns:
        table.add_column(name, overflow="fold")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    tell(sys.stdout, *([Text(title, style="bold")] if title else []), table)


def show_keys() -> None:
    """Print every key with unit (SI, as the program holds it), default and meaning."""
    from sim.case import key_table

    _show("", ("key", "unit inside", "default", "meaning"), list(key_table()))


def show_catalogue(kind: str) -> None:
    """Print one list of the catalogue, or all of them."""
    for name in KINDS if kind == "all" else (kind,):
        _show(name, *_rows(name))


def _rows(kind: str) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    from sim.case import catalogue
    from sim.case.catalogue import pipes

    if kind == "pipes":
        rows: list[tuple[str, ...]] = []
        for dn, nps in sorted(pipes.NPS_OF_DN.items()):
            dimensions = {s: pipes.dimensions(nps, s) for s in pipes.schedules_of(nps)}
            walls = [f"{s}: {1e3 * d[1]:g}" for s, d in dimensions.items() if d is not None]
            outer = next((f"{1e3 * d[0]:g}" for d in dimensions.values() if d is not None), "")
            if walls:
                rows.append((f"DN {dn}", f"NPS {nps:g}", outer, ", ".join(walls)))
        return ("size", "", "outer diameter, mm", "schedule: wall, mm (ASME B36.10M, B36.19M)"), rows
    if kind == "solids":
        return ("name", "conductivity", "source"), [
            (s.name, s.conductivity.in_words("W/m/K"), s.source) for s in catalogue.SOLIDS.values()
        ]
    if kind == "insulations":
        return ("name", "conductivity over mean temperature", "source"), [
            (i.name, i.conductivity.in_words("W/m/K"), i.conductivity.source)
            for i in catalogue.INSULATIONS.values()
        ]
    if kind == "barriers":
        return ("name", "conductivity, W/m/K", "emissivity", "source"), [
            (b.name, f"{b.conductivity:g}", f"{b.emissivity:g}", b.source)
            for b in catalogue.BARRIERS.values()
        ]
    return ("name", "phase", "conductivity", "source"), [
        (f.name, f.phase, f.conductivity.in_words("W/m/K"), f.source)
        for f in (catalogue.fluid(name) for name in catalogue.FLUIDS)
    ]
