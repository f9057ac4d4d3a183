"""Nights on a cluster by the command line: nobody there, TLS, workers of another version.

Schedulers run here; workers, and commands that wait for them, are processes of their own. Whatever
waits, waits for something to happen; after ten minutes all that was started is killed.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

import soundergate

distributed = pytest.importorskip("distributed")

LONG = 600.0
"""Seconds: nothing takes so long, but on a machine that hangs."""
QUICK = ("--nights", 900, "--seed", 4)
ENDLESS = ("--nights", 2_000_000_000, "--seed", 4, "--sums-only")


@contextmanager
def scheduler(**options: Any) -> Iterator[Any]:
    """One without workers, on ports that are free."""
    with distributed.LocalCluster(
        n_workers=0, host="127.0.0.1", dashboard_address="127.0.0.1:0",
        **{"protocol": "tcp", **options},
    ) as local:  # fmt: skip
        yield local


@dataclass
class Started:
    """Processes that end with the test."""

    held: ExitStack = field(default_factory=ExitStack)

    def __call__(self, *arguments: object, env: dict[str, str] | None = None) -> subprocess.Popen:
        process = subprocess.Popen(
            [sys.executable, "-m", *map(str, arguments)],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env,
        )  # fmt: skip
        late = threading.Timer(LONG, process.kill)
        late.start()
        self.held.callback(process.wait)
        self.held.callback(process.kill)
        self.held.callback(late.cancel)
        return process

    def worker(self, address: str, *more: object, env: dict[str, str] | None = None) -> Any:
        """Known to the scheduler by the time that this returns only if somebody waits for it."""
        process = self(
            "dask", "worker", address, "--nthreads", 1, "--no-nanny", "--no-dashboard", *more,
            env=env,
        )  # fmt: skip
        for stream in (process.stdout, process.stderr):  # what it logs must not fill the pipe
            threading.Thread(target=stream.read, daemon=True).start()
        return process


@pytest.fixture
def start() -> Iterator[Started]:
    started = Started()
    with started.held:
        yield started


def until(stream: Any, words: str) -> str:
    """The line with these words, and those before it; the end of the stream is a failure."""
    seen = ""
    for line in stream:
        seen += line
        if words in line:
            return seen
    raise AssertionError(f"never said {words!r}, only: {seen}")


def there(local: Any, workers: int) -> None:
    with distributed.Client(local, set_as_default=False) as client:
        client.wait_for_workers(workers, timeout=LONG)


# ---- nobody there -----------------------------------------------------------------------------


@pytest.mark.slow
def test_a_command_without_workers_says_so_and_goes_on_when_one_joins(
    start, trap, tmp_path, invoke
) -> None:
    """None at the start; then one, which is killed; then another. To the same bytes as here."""
    out = tmp_path / "out"
    nights = ("--nights", 200_000, "--seed", 4, "--sums-only", "--quiet", "--json")
    with scheduler() as local:
        at = ("--cluster", local.scheduler_address)
        run = start("soundergate", "run", trap, *nights, *at, "--out", out)
        said = until(run.stderr, "No worker at")
        assert f"dask worker {local.scheduler_address} --nthreads 1" in said
        assert "nothing is computed until one joins" in said
        assert "stop with Ctrl-C" in said
        assert f"What is done is kept in {out}." in said
        first = start.worker(local.scheduler_address)
        until(run.stderr, "A worker has joined: it goes on.")
        first.kill()
        said = until(run.stderr, "No worker at")
        assert f"kept in {out}" in said
        start.worker(local.scheduler_address)
        said = until(run.stderr, "A worker has joined: it goes on.")
        answer, rest = run.communicate()
    assert run.returncode == 0, rest
    assert "Traceback" not in said + rest
    assert answer == invoke("run", trap, *nights, "--worlds", 200).out


@pytest.mark.slow
@pytest.mark.parametrize("begun", [False, True])
def test_ctrl_c_ends_a_command_that_waits_for_workers(start, trap, tmp_path, begun) -> None:
    out = tmp_path / "out"
    with scheduler() as local:
        if begun:
            worker = start.worker(local.scheduler_address)
            there(local, 1)
        at = ("--cluster", local.scheduler_address, "--out", out)
        run = start("soundergate", "run", trap, *ENDLESS, *at)
        if begun:
            until(run.stderr, "a second")  # nights have come in
            worker.kill()
        until(run.stderr, "No worker at")
        run.send_signal(signal.SIGINT)
        _, said = run.communicate()
    assert "Traceback" not in said
    assert run.returncode == 130, said
    assert "--resume goes on from here" in said


def test_no_time_is_promised_while_nobody_works(monkeypatch) -> None:
    from rich import progress as bars

    from soundergate.commands.progress import Waiting, progress

    class Terminal:
        def __init__(self) -> None:
            self.text = ""

        def write(self, text: str) -> int:
            self.text += text
            return len(text)

        def flush(self) -> None: ...

        def isatty(self) -> bool:
            return True

    now = [100.0]
    monkeypatch.setattr(
        "soundergate.commands.progress.Pace.__init__.__defaults__", (lambda: now[0],)
    )
    monkeypatch.setattr(sys, "stderr", Terminal())
    shown: list[bars.Progress] = []
    begin = bars.Progress.start
    monkeypatch.setattr(bars.Progress, "start", lambda one: (shown.append(one), begin(one))[1])
    waiting = Waiting("tcp://somewhere", Path("kept"))
    with progress("nights", False, waiting) as tell:
        assert tell is not None
        for done in (0, 1000, 2000):
            tell(done, 100_000)
            now[0] += 1.0
        speed = lambda: shown[0].tasks[0].fields["speed"]  # noqa: E731
        assert speed() == ", 1,000 a second, 1 min 38 s left"
        waiting(False)
        assert speed() == ", waiting for workers"
        now[0] += 3600.0
        waiting(True)
        assert speed() == ""
        tell(2000, 100_000)
        assert speed() == ""
        now[0] += 1.0
        tell(4000, 100_000)
        assert speed() == ", 2,000 a second, 48 s left"
    assert "No worker at tcp://somewhere" in sys.stderr.text
    assert "kept in kept" in sys.stderr.text


# ---- TLS ----------------------------------------------------------------------------------------


def openssl(folder: Path, *arguments: str) -> None:
    subprocess.run(["openssl", *arguments], cwd=folder, check=True, capture_output=True)


@pytest.fixture(scope="module")
def certificates(tmp_path_factory) -> Path:
    """Of two invented authorities, "ours" and "theirs", each with a certificate that it signed."""
    if shutil.which("openssl") is None:
        pytest.skip("certificates are made with the openssl command, which is not installed")
    folder = tmp_path_factory.mktemp("certificates")
    key = ("-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes")
    for name in ("ours", "theirs"):
        openssl(
            folder, "req", "-x509", *key, "-days", "2", "-subj", f"/CN=Invented authority {name}",
            "-keyout", f"{name}-ca.key", "-out", f"{name}-ca.pem",
        )  # fmt: skip
        openssl(
            folder, "req", *key, "-subj", f"/CN=Invented machine {name}",
            "-keyout", f"{name}.key", "-out", f"{name}.csr",
        )  # fmt: skip
        openssl(
            folder, "x509", "-req", "-in", f"{name}.csr", "-CA", f"{name}-ca.pem",
            "-CAkey", f"{name}-ca.key", "-CAcreateserial", "-days", "2", "-out", f"{name}.pem",
        )  # fmt: skip
    openssl(folder, "ec", "-in", "ours.key", "-aes256", "-passout", "pass:x", "-out", "locked.key")
    (folder / "rubbish.pem").write_text("rubbish")
    return folder


def said_by(certificates: Path, authority: str, client: str) -> Path:
    """A file of Dask's configuration: this authority, and the certificate of this client."""
    file = certificates / f"{authority}-{client}.yaml"
    file.write_text(
        "distributed:\n  comm:\n    require-encryption: true\n    tls:\n"
        f"      ca-file: {authority}-ca.pem\n"
        f"      client: {{cert: {client}.pem, key: {client}.key}}\n"
        "      worker: {cert: elsewhere.pem, key: elsewhere.key}\n"
    )
    return file


@pytest.fixture(scope="module")
def encrypted(certificates) -> Iterator[Any]:
    """A scheduler that trusts and shows certificates of "ours"."""
    file = {
        f"tls_{role}_{what}": str(certificates / f"ours.{end}")
        for role in ("client", "scheduler", "worker")
        for what, end in (("cert", "pem"), ("key", "key"))
    }
    security = distributed.Security(
        tls_ca_file=str(certificates / "ours-ca.pem"), require_encryption=True, **file
    )
    with scheduler(protocol="tls", security=security) as local:
        yield local


@pytest.mark.slow
def test_a_run_on_an_encrypted_cluster_is_the_same(
    start, invoke, trap, certificates, encrypted
) -> None:
    ours = {"ca-file": "ours-ca.pem", "cert": "ours.pem", "key": "ours.key"}
    tls = [text for k, name in ours.items() for text in (f"--tls-{k}", certificates / name)]
    start.worker(encrypted.scheduler_address, *tls)
    there(encrypted, 1)
    assert encrypted.scheduler_address.startswith("tls://")
    file = said_by(certificates, "ours", "ours")
    at = ("--cluster", encrypted.scheduler_address, "--cluster-security", file)
    study = trap.parent / "study.toml"
    study.write_text(
        f'base = "{trap.name}"\nnights = 300\n[factors]\ntrigger.distance = ["12 ft", "20 ft"]\n'
    )
    for command in (
        ("run", trap, *QUICK),
        ("compare", trap, "--vary", "trigger.distance=12 ft,20 ft", *QUICK),
        ("study", study),
    ):
        said = invoke(*command, *at, "--json")
        assert said.code == 0, said.err
        assert said.out == invoke(*command, "--json").out


@pytest.mark.slow
def test_a_handshake_that_is_refused(invoke, trap, certificates, encrypted) -> None:
    """By us, by them, for want of certificates, and for want of TLS on one side."""
    address = encrypted.scheduler_address
    at = ("run", trap, *QUICK, "--cluster")

    def refused(address: str, *more: object) -> str:
        said = invoke(*at, address, *more)
        assert said.code == 2
        assert said.err.startswith("Error: ")
        assert said.err.count("\n") == 1, said.err
        assert said.out == ""
        return said.err

    security = "--cluster-security"
    said = refused(address, security, said_by(certificates, "theirs", "ours"))
    assert re.search("certificate of the cluster at tls.* is refused: .*certificate", said)
    assert "ca-file must be that of the authority which signed it" in said
    said = refused(address, security, said_by(certificates, "ours", "theirs"))
    assert "broke off the TLS handshake" in said
    assert "authority which signed our client.cert" in said
    ours = said_by(certificates, "ours", "ours")
    said = refused(address)
    assert "speaks TLS, and no certificates are given; give --cluster-security FILE" in said
    plain = address.replace("tls://", "tcp://")
    said = refused(plain, security, ours)
    assert f"the address '{plain}' is not one for TLS, and certificates are given" in said
    said = refused(plain)
    assert "if it speaks TLS: tls:// before the address, and --cluster-security FILE" in said
    with scheduler() as unencrypted:
        said = refused(unencrypted.scheduler_address.replace("tcp://", "tls://"), security, ours)
    assert "broke off the TLS handshake" in said
    assert "must speak TLS" in said
    said = invoke("run", trap, *QUICK, security, ours)
    assert (said.code, "--cluster-security needs --cluster" in said.err) == (2, True)


@pytest.mark.parametrize("command", ["run", "compare", "study"])
def test_help_says_where_certificates_are_named(invoke, monkeypatch, command) -> None:
    monkeypatch.setattr("typer.rich_utils.MAX_WIDTH", 200)
    said = " ".join(invoke(command, "--help").out.replace("│", " ").split())
    assert "--cluster-security" in said
    assert "YAML" in said
    assert "ca-file, client.cert and client.key" in said


# ---- workers of another version -----------------------------------------------------------------


def another(folder: Path, what: str) -> dict[str, str]:
    """The environment of a worker that has another version of something, or none."""
    package = folder / "soundergate"
    if what in ("source code", "nothing"):
        shutil.copytree(Path(soundergate.__file__).parent, package)
        if what == "nothing":
            (package / "__init__.py").write_text("raise ImportError('no soundergate here')")
        else:
            kernel = package / "engine" / "kernel" / "night.py"
            kernel.write_text(kernel.read_text() + "\n_OTHER = 1\n")
    else:
        record = folder / f"{what}-0.0.9.dist-info"
        record.mkdir(parents=True)
        (record / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {what}\nVersion: 0.0.9\n")
    return os.environ | {"PYTHONPATH": str(folder)}


NAMED = {
    "soundergate": f"its soundergate is 0.0.9, here {soundergate.__version__}",
    "numba": "its numba is 0.0.9, here ",
    "source code": r"its soundergate source code is \w{16}, here \w{16}",
    "nothing": r"it has no soundergate that can answer \(ImportError\('no soundergate here'\)\)",
}
Play = Callable[..., Any]


@pytest.mark.slow
@pytest.mark.parametrize("what", NAMED)
def test_a_worker_of_another_version_is_refused_by_name(
    start, invoke, trap, tmp_path, what
) -> None:
    """Alone, and beside one that is right: nothing is played until it is gone."""
    with scheduler() as local:
        at = ("run", trap, *QUICK, "--cluster", local.scheduler_address)
        start.worker(
            local.scheduler_address, "--name", "wrong", env=another(tmp_path / "other", what)
        )
        there(local, 1)
        (wrong,) = local.scheduler.workers
        for right in (0, 1):
            if right:
                start.worker(local.scheduler_address)
                there(local, 2)
            said = invoke(*at)
            assert (said.code, said.out) == (2, "")
            assert f"Error: 1 of {1 + right} workers that were asked do not compute" in said.err
            assert re.search(f"{wrong}: {NAMED[what]}", said.err), said.err
            assert "install the same versions on every worker and start" in said.err
            assert "Traceback" not in said.err
            others = set(local.scheduler.workers) - {wrong}
            assert not any(other in said.err for other in others)


@pytest.mark.slow
def test_a_worker_of_another_version_that_joins_later_is_refused_too(start, trap, tmp_path) -> None:
    out = tmp_path / "out"
    with scheduler() as local:
        start.worker(local.scheduler_address)
        there(local, 1)
        at = ("--cluster", local.scheduler_address, "--out", out)
        run = start("soundergate", "run", trap, *ENDLESS, *at)
        until(run.stderr, "a second")
        start.worker(local.scheduler_address, env=another(tmp_path / "other", "source code"))
        answer, said = run.communicate()
    assert (run.returncode, answer) == (2, "")
    assert "Traceback" not in said
    assert re.search(r"Error: 1 of \d workers .*tcp://127.*its soundergate source code is", said)
    assert f"--resume goes on from here; {out} holds what is done" in said
