"""Cases written as tables: `read` makes each what a case file would hold; the invented sections of `invented.toml`."""

import tomllib
from pathlib import Path
from typing import Any


def read(path: Path) -> dict[str, Any]:
    """What a file holds by name; tables have what [all] has, and a word of [shared] stands for its own."""
    tables = tomllib.loads(path.read_text(encoding="utf-8"))
    shared, every = tables.pop("shared", {}), tables.pop("all", {})

    def whole(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: whole(part) for key, part in value.items()}
        if isinstance(value, list):
            return [whole(part) for part in value]
        return whole(shared[value]) if isinstance(value, str) and value in shared else value

    return {name: whole(every | section if every else section) for name, section in tables.items()}


SECTIONS: dict[str, dict[str, Any]] = read(Path(__file__).with_suffix(".toml"))
LIQUID: dict[str, str] = SECTIONS["round_still"]["contents"]["fluid"]
