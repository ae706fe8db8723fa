"""Many cases as one question. `sim.study(file)` runs a study; the package's modules are below it."""

import sys
from types import ModuleType
from typing import Any


class _Callable(ModuleType):
    """A package that can be called, so that `sim.study("file.toml")` works beside `sim.study.run`."""

    def __call__(self, *words: Any, **options: Any) -> Any:
        from sim.study.view import study

        return study(*words, **options)


sys.modules[__name__].__class__ = _Callable
