"""A planted fault: in one function of the program, a piece of its syntax tree becomes another.

The piece is given as Python and matched as syntax, whatever the layout of the source, and up to the names of local
variables: `area / (series + gap)` fits `size / (total + gap)` where `size` and `total` are the function's own.
"""

import ast
import builtins
import hashlib
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

LIST = Path(__file__).with_name("faults.toml")
UNCOMPARED = {"ctx", "type_comment", "kind"}
Function = ast.FunctionDef | ast.AsyncFunctionDef
Piece = list[ast.AST]  # one expression, or statements that follow each other


class NoFit(ValueError):
    """The program no longer has the piece that a fault changes."""


@dataclass(frozen=True)
class Fault:
    """One planted fault.

    name: unique; effect: the physical or numerical effect it breaks; place: module and function, "heat.film:wind"
    (methods with their class; nothing after the colon for what is outside every function); old, new: Python.
    """

    name: str
    effect: str
    place: str
    old: str
    new: str

    @property
    def module(self) -> str:
        return "sim." + self.place.partition(":")[0]

    @property
    def room(self) -> str:
        return self.place.partition(".")[0].partition(":")[0]

    @property
    def key(self) -> str:
        """Changes with anything that makes the fault what it is."""
        return hashlib.sha256("\0".join((self.place, self.old, self.new)).encode()).hexdigest()[:16]

    def source(self) -> str:
        """The text of its module, which is not imported. Raises NoFit where there is none."""
        room, _, rest = self.module.partition(".")
        spec = find_spec(room)
        assert spec is not None
        assert spec.submodule_search_locations is not None
        path = Path(spec.submodule_search_locations[0], *rest.split("."))
        for file in (path.with_suffix(".py"), path / "__init__.py"):
            if file.is_file():
                return file.read_text(encoding="utf-8")
        raise NoFit(f"no module {self.module}")

    def function(self, tree: ast.Module) -> Function | None:
        """Its function; None for what is outside every function. Raises NoFit where there is none of that name."""
        name = self.place.partition(":")[2]
        if not name:
            return None
        function_there = dict(functions(tree)).get(name)  # the last of a name: those before it are overloads
        if function_there is None:
            raise NoFit(f"no function {name} in {self.module}")
        return function_there

    def planted(self, text: str) -> ast.Module:
        """The syntax tree of its module's text with the fault in it. Raises NoFit unless one piece fits."""
        tree = ast.parse(text)
        within = self.function(tree)
        local = locals_of(within) if within else set()
        old, new = piece(self.old), piece(self.new)
        fits = list(matches(old, within or tree, local, outside=within is None))
        exact = [fit for fit in fits if all(a == b for a, b in fit[2].items())]
        if len(fits := exact if len(exact) == 1 else fits) != 1:
            raise NoFit(f"{len(fits)} pieces of {self.place} fit {self.old!r}")
        (parent, (field, at), names), known = fits[0], local | names_of(tree) | set(vars(builtins))
        for node in new:
            for used in (n for n in ast.walk(node) if isinstance(n, ast.Name)):
                used.id = names.get(used.id, used.id)
                if used.id not in known:
                    raise NoFit(f"{self.place} has no {used.id}")
        value = getattr(parent, field)
        if (part := words(old)) is not None:
            whole = value if at is None else value[at]
            whole.value = whole.value.replace(part, words(new) or "")
        elif at is None:
            setattr(parent, field, new[0])
        else:
            value[at : at + len(old)] = new or [ast.Pass()]
        return ast.fix_missing_locations(tree)


def faults(path: Path = LIST) -> tuple[Fault, ...]:
    """The whole list. Raises ValueError for a name that is there twice."""
    tables = tomllib.loads(path.read_text(encoding="utf-8"))
    listed = tuple(
        Fault(name, effect, place, old, new)
        for place, table in tables.items()
        for name, (effect, old, new) in table.items()
    )
    names = [fault.name for fault in listed]
    for name in names:
        if names.count(name) > 1:
            raise ValueError(f"two faults are called {name!r}")
    return listed


def piece(text: str) -> Piece:
    """The syntax of one expression, or of statements; empty text is nothing."""
    body = ast.parse(text).body
    if len(body) == 1 and isinstance(body[0], ast.Expr):
        return [body[0].value]
    return list(body)


def words(of: Piece) -> str | None:
    """The text that a piece is, which fits a part of a longer one; None for other pieces."""
    constant = of[0] if len(of) == 1 else None
    return constant.value if isinstance(constant, ast.Constant) and isinstance(constant.value, str) else None


def functions(tree: ast.AST, above: str = "") -> Iterator[tuple[str, Function]]:
    """Every function of a tree with its name, that of its class or outer function before it."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, Function | ast.ClassDef):
            name = above + node.name
            if not isinstance(node, ast.ClassDef):
                yield name, node
            yield from functions(node, name + ".")
        else:
            yield from functions(node, above)


def locals_of(function: ast.AST) -> set[str]:
    """Names that a function binds: its arguments, and whatever is assigned in it."""
    stored = {n.id for n in ast.walk(function) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)}
    return stored | {n.arg for n in ast.walk(function) if isinstance(n, ast.arg)} - {"self"}


def names_of(tree: ast.Module) -> set[str]:
    """Names that a module binds outside its functions."""
    local = locals_of(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.Import | ast.ImportFrom):
            local |= {(alias.asname or alias.name).partition(".")[0] for alias in node.names}
        elif isinstance(node, Function | ast.ClassDef):
            local.add(node.name)
    return local | {"self"}


def matches(
    old: Piece, within: ast.AST, local: set[str], outside: bool = False
) -> Iterator[tuple[ast.AST, tuple[str, int | None], dict[str, str]]]:
    """Every place in a tree that a piece fits: the parent, its field and the place in a list, and whose name is whose.

    outside: leave out the functions of the tree.
    """
    for field, value in ast.iter_fields(within):
        if field in ("returns", "annotation"):
            continue
        if isinstance(value, ast.AST):
            names: dict[str, str] = {}
            if len(old) == 1 and same(old[0], value, names, local):
                yield within, (field, None), names
        elif isinstance(value, list):
            for at in range(len(value) - len(old) + 1):
                names = {}
                pairs = zip(old, value[at : at + len(old)], strict=True)
                if all(same(a, b, names, local) for a, b in pairs):
                    yield within, (field, at), names
    for child in ast.iter_child_nodes(within):
        if not (outside and isinstance(child, Function)):
            yield from matches(old, child, local, outside)


def same(old: object, new: object, names: dict[str, str], local: set[str]) -> bool:
    """Whether two pieces are alike up to the names of local variables; `names` gathers whose name is whose."""
    if isinstance(old, ast.Name | ast.arg) and type(old) is type(new):
        a, b = (n.id if isinstance(n, ast.Name) else n.arg for n in (old, new))
        if a != b and b not in local:
            return False
        return names.setdefault(a, b) == b and list(names.values()).count(b) == 1
    if isinstance(old, ast.Constant) and isinstance(old.value, str):
        return isinstance(new, ast.Constant) and isinstance(new.value, str) and old.value in new.value
    if isinstance(old, ast.AST):
        return type(old) is type(new) and all(
            same(value, getattr(new, field, None), names, local)
            for field, value in ast.iter_fields(old)
            if field not in UNCOMPARED
        )
    if isinstance(old, list):
        return (
            isinstance(new, list)
            and len(old) == len(new)
            and all(same(a, b, names, local) for a, b in zip(old, new, strict=True))
        )
    return type(old) is type(new) and old == new
