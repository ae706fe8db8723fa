"""The command: what it prints, and how it ends where it cannot begin."""

import builtins
import socket
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from typer.testing import CliRunner

from sim.cli import app
from sim.desk.folder import Folder


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """What would have been served, instead of serving it."""
    given: list[Any] = []

    def run(self: uvicorn.Server, sockets: list[socket.socket]) -> None:
        given.append((self.config, sockets[0].getsockname()))
        sockets[0].close()

    monkeypatch.setattr(uvicorn.Server, "run", run)
    return given


def ends(*words: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(app, ["desk", *words])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.stdout, result.stderr


def test_it_listens_on_the_loopback_alone_with_a_token_of_its_own(folder: Folder, served: list[Any]) -> None:
    path = str(folder.path / "case.toml")
    addresses = set()
    for _ in range(2):
        code, out, _ = ends(path)
        assert code == 0
        assert "can be reached from this machine alone" in out
        assert "ignite" in out
        addresses.add(out.split()[1].split("/")[3])
    assert len(addresses) == 2
    assert min(map(len, addresses)) >= 32
    assert {name for _, (name, _) in served} == {"127.0.0.1"}
    assert not served[0][0].access_log  # it would hold the token


def test_what_cannot_be_opened_is_one_line(folder: Folder, served: list[Any], tmp_path: Path) -> None:
    code, _, error = ends(str(folder.path / "absent.toml"))
    assert (code, error.count("\n")) == (2, 1)
    (folder.path / "broken.toml").write_text("[[[")
    code, _, error = ends(str(folder.path / "broken.toml"))
    assert (code, "not valid TOML" in error) == (2, True)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        code, _, error = ends(str(folder.path / "case.toml"), "--port", str(taken.getsockname()[1]))
    assert (code, "accepted: one that is free" in error) == (2, True)
    assert served == []


@pytest.mark.parametrize("name", ["starlette", "uvicorn", "tomlkit"])
def test_what_is_not_installed_is_told(
    folder: Folder, name: str, monkeypatch: pytest.MonkeyPatch, served: list[Any]
) -> None:
    real = builtins.__import__

    def without(wanted: str, *rest: Any, **more: Any) -> Any:
        if wanted.split(".")[0] == name:
            raise ImportError(f"No module named {name}", name=name)
        return real(wanted, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    code, _, error = ends(str(folder.path / "case.toml"))
    assert (code, error) == (2, f"coldspot: the desk needs {name}: pip install 'coldspot[desk]'\n")
