"""The cases that come with the program: invented lines, each a story of its own."""

from functools import cache
from importlib.resources import files
from pathlib import Path

from .toml import read_toml


@cache
def shipped() -> dict[str, Path]:
    """Their files by name, such as "winter-brine.toml" or "fittings/gate-valve.toml"."""
    folder = Path(str(files("sim").joinpath("shipped"))).resolve()
    listed = {path.relative_to(folder).as_posix(): path for path in sorted(folder.rglob("*.toml"))}
    return {name: path for name, path in listed.items() if "pipe" in read_toml(path, "case")}
