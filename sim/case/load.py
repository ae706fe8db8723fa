"""From a TOML file or a dict to a Case, or to one clear message."""

from __future__ import annotations

import copy
import tomllib
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from .case import Case
from .checks import check
from .errors import CaseError, case_error, join_key, nearest
from .overrides import overridden

LARGEST_FILE = 10_000_000  # bytes; a case is a few kilobytes


def load_case(path: str | Path) -> Case:
    """Read a case file. Raises CaseError: one message with file, key, what is wrong and what is accepted."""
    name = str(path)
    try:
        with open(path, "rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise CaseError(f"cannot be read: {reason}; accepted: a case file in TOML", file=name) from None
    if len(content) > LARGEST_FILE:
        raise CaseError("is too large to be a case file (more than 10 MB)", file=name)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise CaseError(
            f"is not text in UTF-8 (line {line}); accepted: a case file in TOML", file=name
        ) from None
    if "\0" in text:
        raise CaseError("is a binary file; accepted: a case file in TOML", file=name)
    try:
        raw = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        end = f"at line {text.count(chr(10)) + 1}, the end of the file"
        reason = (str(error) or "nested too deeply").replace("at end of document", end)
        raise CaseError(f"is not valid TOML: {reason}", file=name) from None
    return parse_case(raw, source=name)


def parse_case(raw: dict[str, Any], source: str = "<dict>") -> Case:
    """A Case from a nested dict as TOML gives it. Raises CaseError; every condition is built and checked."""
    if not isinstance(raw, dict):
        raise CaseError(
            "is not a table of keys; accepted: a nested dict as a case file gives it", file=source
        )
    try:
        raw = copy.deepcopy(raw)
    except RecursionError:
        raise CaseError("is nested too deeply", file=source) from None
    case = _read(raw, source)
    case._raw = raw
    case._source = source
    for position, condition in enumerate(case.conditions):
        case._built[condition.name] = _for_condition(case, raw, position)
    return case


def case_for(case: Case, condition: str) -> Case:
    """The case in one condition: its overrides applied and checked, `conditions` holding only that one.

    Raises CaseError where there is no condition of that name.
    """
    built = case._built.get(condition)
    if built is not None:
        return built
    names = [entry.name for entry in case.conditions]
    if condition not in names:
        message = f'there is no condition "{condition}"{nearest(condition, names)}; known: {", ".join(names)}'
        raise CaseError(message, file=case._source, key="condition")
    position = names.index(condition)
    if not case.conditions[position].overrides:
        return case.model_copy(update={"conditions": (case.conditions[position],)})
    return _for_condition(case, case.resolved(), position)


def with_overrides(case: Case, overrides: dict[str, Any]) -> Case:
    """The case with overrides laid over it, written as in a condition: {"tracer": {"T1": {"clock": 4}}}.

    For studies. Raises CaseError where they fit nowhere or the result is not a valid case.
    """
    raw = case._raw if case._raw is not None else case.resolved()
    try:
        return parse_case(overridden(raw, overrides), source=case._source)
    except CaseError as error:
        raise CaseError(error.message, file=case._source, key=error.key) from None


def _read(raw: dict[str, Any], source: str) -> Case:
    try:
        case = Case.model_validate(raw)
    except ValidationError as error:
        raise case_error(error, Case, raw, source) from None
    except RecursionError:
        raise CaseError("is nested too deeply", file=source) from None
    try:
        check(case)
    except CaseError as error:
        raise CaseError(error.message, file=source, key=error.key) from None
    return case


def _for_condition(case: Case, raw: dict[str, Any], position: int) -> Case:
    condition = case.conditions[position]
    alone = condition.model_copy(update={"overrides": {}})
    if not condition.overrides:
        built = case.model_copy(update={"conditions": (alone,)})
    else:
        key = f'condition[{position + 1}] "{condition.name}"'
        plain = {k: v for k, v in raw["condition"][position].items() if k not in condition.overrides}
        try:
            merged = overridden({**raw, "condition": [plain]}, condition.overrides)
            built = _read(merged, case._source)
        except CaseError as error:
            raise CaseError(error.message, file=case._source, key=join_key(key, error.key or "")) from None
        built._raw = merged
    built._source = case._source
    return built
