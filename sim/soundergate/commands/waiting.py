"""What is said while a cluster has no workers: what happened, what to do, and that it goes on."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from soundergate.commands import console


class Waiting:
    """Told by the cluster when nobody works any more, and when somebody does again.

    It is said with ``--quiet`` too: the command waits for somebody to do something.
    """

    def __init__(self, address: str, out: Path | None) -> None:
        self.address, self.out = address, out
        self.also: Callable[[bool], None] | None = None
        """Told the same: whatever shows how long it will take yet."""

    def __call__(self, working: bool) -> None:
        from soundergate.engine.work.cluster_workers import nobody, went_on

        if self.also is not None:
            self.also(working)
        kept = f" What is done is kept in {self.out}." if self.out is not None else ""
        console.tell(went_on() if working else nobody(self.address) + kept)
