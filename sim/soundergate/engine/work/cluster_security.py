"""How we prove who we are to a cluster that speaks TLS: `--cluster-security FILE`.

The file is YAML under Dask's own names, so that the one by which its scheduler and workers were
started will do:

    distributed:
      comm:
        require-encryption: true
        tls:
          ca-file: ca.pem
          client: {cert: client.pem, key: client.key}

What it says of scheduler and workers is theirs to follow; here only its names are checked.
"""

from __future__ import annotations

import difflib
import os
import ssl
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from soundergate.engine.work.cluster_workers import without_dask
from soundergate.scenario.errors import ScenarioError

if TYPE_CHECKING:
    from distributed import Security

ENCRYPTED = "distributed.comm.require-encryption"
_TLS = "distributed.comm.tls."
AUTHORITY, CERTIFICATE, KEY = _TLS + "ca-file", _TLS + "client.cert", _TLS + "client.key"
CIPHERS, LEAST, MOST = _TLS + "ciphers", _TLS + "min-version", _TLS + "max-version"
OF_OTHERS = tuple(_TLS + name for name in
                  ("scheduler.cert", "scheduler.key", "worker.cert", "worker.key"))  # fmt: skip
KEYS = (ENCRYPTED, AUTHORITY, CERTIFICATE, KEY, CIPHERS, LEAST, MOST, *OF_OTHERS)
"""All that a file may say."""
_VERSIONS = {1.2: ssl.TLSVersion.TLSv1_2, 1.3: ssl.TLSVersion.TLSv1_3}
_REQUIRED = f"{AUTHORITY} and {CERTIFICATE} are required"


class _NeedsPassword(Exception):
    pass


def read_security(file: Path) -> Security:
    """What the file says, as Dask takes it; certificates and key are tried, and sent nowhere.

    A path in it is taken from the folder of the file.

    Raises
    ------
    ScenarioError
        For a file that cannot be read, is not YAML, has an unknown key or a wrong value, or names
        certificates that cannot be used; naming file, key and what would do.
    """
    try:
        from distributed import Security
    except ImportError:
        raise without_dask() from None
    said = _said(file)
    for name in (AUTHORITY, CERTIFICATE):
        if name not in said:
            raise ScenarioError(f"says no {name}", file=str(file), hint=_REQUIRED)
    paths = {
        name: _path(file, name, said[name])
        for name in (AUTHORITY, CERTIFICATE, KEY)
        if name in said
    }
    _try(file, said, paths)
    return Security(
        require_encryption=said.get(ENCRYPTED, True),
        tls_ca_file=paths[AUTHORITY],
        tls_client_cert=paths[CERTIFICATE],
        tls_client_key=paths.get(KEY),
        tls_ciphers=said.get(CIPHERS),
        tls_min_version=_VERSIONS.get(said.get(LEAST, 1.2)),
        tls_max_version=_VERSIONS[said[MOST]] if MOST in said else None,
    )


def _said(file: Path) -> dict[str, Any]:
    """Each key by its whole name, with a value of the right kind; null is as if not said."""
    name = str(file)
    said: dict[str, Any] = {}
    for key, value in _flat(_loaded(file)):
        if key not in KEYS:
            near = difflib.get_close_matches(key, KEYS, n=1)
            hint = f"did you mean {near[0]}?" if near else f"known keys: {', '.join(KEYS)}"
            raise ScenarioError("unknown key", file=name, key=key, hint=hint)
        if key in said:
            raise ScenarioError("said twice", file=name, key=key, hint="say it once")
        if value is None:
            continue
        if key == ENCRYPTED:
            right, wanted = isinstance(value, bool), "true or false"
        elif key in (LEAST, MOST):
            right, wanted = type(value) is float and value in _VERSIONS, "1.2 or 1.3"
        else:
            right, wanted = isinstance(value, str), "a text"
        if not right:
            raise ScenarioError(f"wanted {wanted}", file=name, key=key, value=value)
        said[key] = value
    return said


def _loaded(file: Path) -> Mapping[Any, Any]:
    import dask

    name = str(file)
    try:
        file.read_text(encoding="utf-8")  # which Dask passes over in silence if it cannot
    except FileNotFoundError:
        raise ScenarioError("no such file", file=name) from None
    except UnicodeDecodeError:
        raise ScenarioError("is no UTF-8 text", file=name, hint="wanted YAML") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise ScenarioError(f"cannot be read: {reason}", file=name) from None
    try:
        return dask.config.collect([name], env={})
    except ValueError as error:
        reason = " ".join(str(error).split("\n\n", 1)[-1].split())
        raise ScenarioError(f"is not YAML that Dask can read: {reason}", file=name) from None


def _flat(table: Mapping[Any, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in table.items():
        name = above + str(key).replace("_", "-")
        if isinstance(value, Mapping) and value:
            yield from _flat(value, f"{name}.")
        else:
            yield name, value


def _path(file: Path, key: str, value: str) -> str:
    """Of a file that can be read."""
    if not value.isprintable():  # never shown: it may be the key itself
        raise ScenarioError("wanted the path of a file", file=str(file), key=key)
    path = file.parent / os.path.expanduser(os.path.expandvars(value))
    try:
        path.read_bytes()
    except FileNotFoundError:
        hint = f"looked for {path}; a path is taken from the folder of {file.name}"
        raise ScenarioError(
            "no such file", file=str(file), key=key, value=value, hint=hint
        ) from None
    except OSError as error:
        problem = f"cannot be read: {error.strerror or error}"
        raise ScenarioError(problem, file=str(file), key=key, value=value) from None
    return str(path)


def _try(file: Path, said: Mapping[str, Any], paths: Mapping[str, str]) -> None:
    """Do with certificates and key what Dask does at every connection, where it can be named."""

    def refuse(key: str, problem: str, hint: str | None = None) -> NoReturn:
        raise ScenarioError(problem, file=str(file), key=key, value=said[key], hint=hint)

    def password() -> str:
        raise _NeedsPassword

    own = KEY if KEY in said else CERTIFICATE
    try:
        context = ssl.create_default_context(cafile=paths[AUTHORITY])
    except ssl.SSLError:
        refuse(AUTHORITY, "holds no certificate in PEM form")
    try:
        context.load_cert_chain(paths[CERTIFICATE], paths.get(KEY), password)
    except _NeedsPassword:
        refuse(own, "is locked by a password, which nobody could type in", "save the key without")
    except ssl.SSLError as error:
        if error.reason == "KEY_VALUES_MISMATCH":
            refuse(own, f"is not the key of {CERTIFICATE}")
        refuse(CERTIFICATE, f"is no certificate in PEM form, or {KEY} no key of one")
    if CIPHERS in said:
        try:
            context.set_ciphers(said[CIPHERS])
        except ssl.SSLError:
            refuse(CIPHERS, "names no cipher that is known here", "leave it out for the usual ones")
    if said.get(LEAST, 1.2) > said.get(MOST, 1.3):
        refuse(LEAST, f"is above {MOST}")
