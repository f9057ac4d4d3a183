"""The folder that `--out` names: made ready before any work is done, so that none is lost."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from soundergate.scenario.errors import ScenarioError


def prepare(out: Path | None, force: bool) -> Path | None:
    """Make the folder, or take one that is empty, or any with ``force``; None stays None.

    Files of the same name are then replaced, others are left. A link is never written through: it
    may lead to what its user has forgotten. (A link further up the way, such as a home folder on
    another disk, is how the machine is set up.) Raises ScenarioError for a link, for a folder that
    holds something, or that cannot be made or written to.
    """
    if out is None:
        return None
    name = str(out)
    try:
        if out.is_symlink():
            leads = f"to {os.readlink(out)}" if out.exists() else "nowhere"
            raise ScenarioError(
                f"is a link that leads {leads}, and nothing is written through links",
                file=name,
                hint="give --out the folder itself, or a new name",
            )
        if out.exists() and not out.is_dir():
            raise ScenarioError("is not a folder", file=name, hint="give --out a folder")
        if out.is_dir() and any(out.iterdir()) and not force:
            raise ScenarioError(
                "the folder is not empty",
                file=name,
                hint="give another with --out, --resume to go on with an earlier run, or "
                "--force to write into this one",
            )
        out.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=out):
            return out
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise ScenarioError(f"cannot be written to: {reason}", file=name) from None
