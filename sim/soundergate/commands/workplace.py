"""Where nights are played and kept: the folder, the store of finished chunks, the cluster."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from soundergate.commands import console, interrupts
from soundergate.commands.options import Options
from soundergate.commands.progress import Waiting, announce_compiling
from soundergate.files import make_folder
from soundergate.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from soundergate.engine.work.chunks import Executor
    from soundergate.engine.work.cluster import Cluster
    from soundergate.studies.estimates.stopping import Progress
    from soundergate.studies.store.store import Store

KEPT_UNASKED = 1_000_000
"""Most nights that are written to ``--out`` unless asked for: a million take about 25 MB."""


@dataclass(frozen=True)
class Workplace:
    """``out`` and ``store`` None without ``--out``.

    ``executor`` and ``waiting``, which says that a cluster has no workers, None on this machine.
    """

    out: Path | None
    store: Store | None
    executor: Executor | None
    waiting: Waiting | None = None


@contextmanager
def workplace(options: Options) -> Iterator[Workplace]:
    """Made ready before any night is played; held until everything is written.

    Raises ScenarioError for options that do not go together, a folder that cannot be used or is
    being written to, and a cluster that does not answer.
    """
    _check(options)
    with ExitStack() as held:
        out = prepare(options.out, options.force or options.resume)
        go_on = f"The same command with --resume goes on from here; {out} holds what is done."
        if out is not None:
            interrupts.keeps(go_on)
        waiting = Waiting(options.cluster, out) if options.cluster else None
        executor = held.enter_context(_cluster(options, waiting)) if waiting else None
        store = held.enter_context(_store(out, options)) if out is not None else None
        announce_compiling(options)
        try:
            yield Workplace(out, store, executor, waiting)
        except ScenarioError:
            if executor is not None and out is not None and not options.quiet:
                console.tell(go_on)  # the cluster failed us, and not what was asked
            raise


def how_many(worlds: int | None, options: Options) -> int:
    """Plausible worlds to play: with the slow engine none unless asked for.

    Raises StudyError for too few to say anything.
    """
    from soundergate.studies.worlds.robust import DEFAULT_WORLDS, asks_worlds

    if worlds is None:
        return DEFAULT_WORLDS if options.engine == "batch" else 0
    asks_worlds(worlds)
    return worlds


F = TypeVar("F")


def in_worlds(
    options: Options, play: Callable[[Progress | None], F], what: str = "nights"
) -> F | None:
    """What plays plausible worlds, told how far it is; None if it is stopped by hand."""
    from soundergate.commands.progress import progress

    try:
        with progress(f"{what} of plausible worlds", options.quiet) as tell:
            return play(tell)
    except KeyboardInterrupt:
        return None


def keeps_nights(options: Options) -> bool:
    """Whether every night is to be written, and not only what they sum up to."""
    if options.out is None:
        return False
    if options.keep_nights is not None:
        return options.keep_nights
    kept = (options.nights or 0) <= KEPT_UNASKED
    if not kept and not options.quiet:
        console.tell(
            f"Of more than {KEPT_UNASKED:,} nights only the sums are written; "
            "--keep-nights writes every night."
        )
    return kept


def ended_early(out: Path | None) -> int:
    """After a stop by hand, once what was done is reported: that nothing is lost; the exit code.

    No page is written, which would take longer than whoever stops it waits.
    """
    return interrupts.answers(console.tell, wrote_to=out is not None)


def _check(options: Options) -> None:
    if options.resume and options.out is None:
        raise ScenarioError("--resume needs --out, the folder of the run to go on with")
    if options.resume and options.force:
        raise ScenarioError(
            "--resume goes on with what is in the folder and --force begins again; give one of them"
        )
    if options.keep_nights and options.out is None:
        raise ScenarioError("--keep-nights needs --out, a folder to keep them in")
    if options.cluster is not None and options.workers is not None:
        raise ScenarioError(
            "--workers is for this computer, and --cluster has its own; give one of them"
        )
    if options.cluster_security is not None and options.cluster is None:
        raise ScenarioError(
            "--cluster-security needs --cluster, the address of the cluster that it is for",
            hint="such as --cluster tls://10.0.0.5:8786",
        )


def _cluster(options: Options, waiting: Waiting) -> Cluster:
    from soundergate.engine.work.cluster import Cluster
    from soundergate.engine.work.cluster_security import read_security

    file = options.cluster_security
    security = read_security(file) if file is not None else None
    return Cluster(waiting.address, security, waiting)


def _store(out: Path, options: Options) -> Store:
    from soundergate.studies.store.store import NAME, Store

    if options.resume and not (out / NAME).exists() and any(out.iterdir()):
        raise ScenarioError(
            f"holds no {NAME} to go on with", file=str(out), hint="--force begins again"
        )

    def found(nights: int) -> None:
        if not options.quiet:
            console.tell(f"Going on from {nights:,} nights in {out / NAME}.")

    return Store(out, options.resume, options.force, found)


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
        make_folder(out)
        with tempfile.TemporaryFile(dir=out):
            return out
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise ScenarioError(f"cannot be written to: {reason}", file=name) from None
