"""What many nights say: estimates with intervals, comparisons on common nights, study files.

The night is the unit. Animals of one night share a gate, a trigger and each other's company, so
what happens to one says much about the rest; an interval that counts animals as if they were
separate trials is far too narrow. Every interval here is made from one number a night.

The package itself can be called: ``soundergate.study("file.toml")`` plays a study file and gives a
:class:`~soundergate.study.study_file.StudyResult`. Arguments are those of
:func:`~soundergate.study.study_file.run_study`.
"""

from __future__ import annotations

import inspect
import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from soundergate.study.study_file import StudyResult


class _Study(ModuleType):
    """A package that is also the function of its name, loaded when it is first called."""

    def __call__(self, *args: Any, **options: Any) -> StudyResult:
        from soundergate.study.study_file import run_study

        return run_study(*args, **options)

    @property
    def __signature__(self) -> inspect.Signature:
        from soundergate.study.study_file import run_study

        return inspect.signature(run_study)


sys.modules[__name__].__class__ = _Study
