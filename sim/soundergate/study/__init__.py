"""What many nights say: estimates with intervals, comparisons on common nights, study files.

The night is the unit. Animals of one night share a gate, a trigger and each other's company, so
what happens to one says much about the rest; an interval that counts animals as if they were
separate trials is far too narrow. Every interval here is made from one number a night.

The package itself can be called: ``soundergate.study("file.toml")`` plays a study file and gives a
:class:`~soundergate.study.study_file.StudyResult`. Arguments are those of
:func:`~soundergate.study.study_file.run_study`.
"""

from __future__ import annotations

from soundergate.study.callable_package import make_callable

make_callable(__name__, f"{__name__}.study_file", "run_study")
