"""A commented case to start from."""

from importlib.resources import files
from pathlib import Path

from .errors import CaseError


def starter() -> str:
    """The text of the starter case; its further keys stand behind "#:"."""
    return files("sim.case").joinpath("starter.toml").read_text(encoding="utf-8")


def write_starter(path: Path) -> None:
    """Write the starter case into a new file. Raises CaseError where it is there already or cannot be written."""
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(
                starter().replace("check FILE ", f"check {path} ") if str(path).isprintable() else starter()
            )
    except FileExistsError:
        raise CaseError("is there already; accepted: a new name", file=str(path)) from None
    except (FileNotFoundError, PermissionError, IsADirectoryError, NotADirectoryError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise CaseError(f"cannot be written: {reason}", file=str(path)) from None
