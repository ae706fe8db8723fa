"""What a row was computed with: the program's own source and every library that a row can depend on."""

import hashlib
import re
import sys
from collections.abc import Iterable
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, packages_distributions, requires, version
from pathlib import Path

ROOMS = ("case", "section", "heat", "solve", "judge")  # of the package: what a row depends on
OF_STUDY = ("edit.py", "row.py", "run.py", "stations.py")
_IMPORT = re.compile(r"^\s*(?:from\s+([A-Za-z_]\w*)[\w.]*\s+import\s|import\s+([A-Za-z_]\w*))", re.MULTILINE)
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")


@lru_cache(maxsize=1)
def program_version() -> str:
    """Version of the program, a hash of the source a row depends on, the versions of Python and of every library.

    The libraries are those that the hashed source imports, and all that these require.
    """
    try:
        release = version("coldspot")
    except PackageNotFoundError:
        release = "source"
    source = hashlib.sha256()
    for name, content in sources():
        source.update(name.encode() + b"\0" + content + b"\0")
    python = f"python {sys.version_info.major}.{sys.version_info.minor}"
    named = [f"{name} {of}" for name, of in libraries(imported()).items()]
    return ", ".join([f"{release}+{source.hexdigest()[:12]}", python, *named])


def sources() -> Iterable[tuple[str, bytes]]:
    """(place in the package, content) of every file that a row depends on, tables and data too."""
    root = Path(__file__).resolve().parent.parent
    files = [f for room in ROOMS for f in (root / room).rglob("*") if f.is_file()]
    files += [root / "study" / name for name in OF_STUDY]
    for file in sorted(files):
        if "__pycache__" not in file.parts:
            yield file.relative_to(root).as_posix(), file.read_bytes()


def imported() -> set[str]:
    """Modules from outside the package and the standard library that this source imports, wherever in it."""
    names = {
        first or second
        for _, content in sources()
        for first, second in _IMPORT.findall(content.decode("utf-8", "replace"))
    }
    return {name for name in names if name not in sys.stdlib_module_names and name != "sim"}


def libraries(modules: Iterable[str]) -> dict[str, str]:
    """Version by name of the distributions that hold these modules and of all that they require here, by name."""
    versions: dict[str, str] = {}
    waiting = sorted(modules)
    while waiting:
        name = waiting.pop()
        distribution, of = _installed(name)
        plain = re.sub(r"[-_.]+", "-", distribution).lower()
        if of is None or plain in versions:
            continue
        versions[plain] = of
        needed = [entry for entry in requires(distribution) or [] if "extra ==" not in entry]
        waiting += [match[0] for match in map(_NAME.match, needed) if match]
    return dict(sorted(versions.items()))


def _installed(name: str) -> tuple[str, str | None]:
    """(distribution, version) of a distribution or module by name; None where it is not installed."""
    try:
        return name, version(name)
    except PackageNotFoundError:
        pass
    for distribution in packages_distributions().get(name, ()):
        return distribution, version(distribution)
    return name, None
