"""What a file of certificates may say, and each mistake in it named."""

from __future__ import annotations

import shutil
import ssl
import subprocess
import sys
from pathlib import Path

import pytest

from soundergate.engine.work import cluster_security
from soundergate.engine.work.cluster_security import KEYS, read_security
from soundergate.scenario.errors import ScenarioError

pytest.importorskip("distributed")

TLS = "distributed.comm.tls."
RIGHT = {f"{TLS}ca-file": "ca.pem", f"{TLS}client.cert": "ca.pem", f"{TLS}client.key": "ca.key"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """Two certificates, each signed by itself, keys to them, one of them locked, and rubbish."""
    if shutil.which("openssl") is None:
        pytest.skip("certificates are made with the openssl command, which is not installed")
    folder = tmp_path_factory.mktemp("certificates")
    make = ("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes")
    lock = ("ec", "-in", "ca.key", "-aes256", "-passout", "pass:x", "-out", "locked.key")
    for command in (
        (*make, "-subj", "/CN=Invented", "-keyout", "ca.key", "-out", "ca.pem"),
        (*make, "-subj", "/CN=Other", "-keyout", "other.key", "-out", "other.pem"),
        lock,
    ):
        subprocess.run(["openssl", *command], cwd=folder, check=True, capture_output=True)
    (folder / "rubbish.pem").write_text("rubbish")
    (folder / "both.pem").write_text(
        (folder / "ca.pem").read_text() + (folder / "ca.key").read_text()
    )
    return folder


def written(folder: Path, said: dict[str, object]) -> Path:
    """A file of these keys, each in tables as Dask's own configuration has them."""
    import json

    table: dict = {}
    for key, value in said.items():
        inner = table
        *above, last = key.split(".")
        for name in above:
            inner = inner.setdefault(name, {})
        inner[last] = value
    file = folder / "tls.yaml"
    file.write_text(json.dumps(table))  # every JSON is YAML
    return file


def test_what_a_file_says_is_what_dask_is_given(folder) -> None:
    others = {key: "elsewhere.pem" for key in KEYS if ".worker." in key or ".scheduler." in key}
    more = {TLS + "min-version": 1.2, TLS + "max-version": 1.3, TLS + "ciphers": "AES256-SHA"}
    security = read_security(written(folder, {**RIGHT, **others, **more}))
    assert security.require_encryption is True
    assert security.get_tls_config_for_role("client") == {
        "ca_file": str(folder / "ca.pem"),
        "cert": str(folder / "ca.pem"),
        "key": str(folder / "ca.key"),
        "ciphers": "AES256-SHA",
    }
    context = security.get_connection_args("client")["ssl_context"]
    assert context.minimum_version == ssl.TLSVersion.TLSv1_2
    assert context.maximum_version == ssl.TLSVersion.TLSv1_3
    newest = read_security(written(folder, {**RIGHT, TLS + "min-version": 1.3}))
    context = newest.get_connection_args("client")["ssl_context"]
    assert context.minimum_version == ssl.TLSVersion.TLSv1_3
    loose = read_security(written(folder, {**RIGHT, "distributed.comm.require-encryption": False}))
    assert loose.require_encryption is False


def test_underscores_whole_names_and_a_key_beside_its_certificate(folder) -> None:
    file = folder / "tls.yaml"
    file.write_text(
        f"distributed.comm.tls.ca_file: ca.pem\n{TLS}client: {{cert: both.pem, key: null}}\n"
    )
    own = read_security(file).get_tls_config_for_role("client")
    assert (own["cert"], own["key"]) == (str(folder / "both.pem"), None)


MISTAKES = [
    ({TLS + "ca-file": "none.pem"}, f'{TLS}ca-file = "none.pem": no such file; looked for '),
    ({TLS + "client.cert": "none.pem"}, f'{TLS}client.cert = "none.pem": no such file'),
    ({TLS + "client.key": "none.key"}, f'{TLS}client.key = "none.key": no such file'),
    ({TLS + "client.key": "."}, f'{TLS}client.key = ".": cannot be read: Is a directory'),
    ({TLS + "ca-file": "rubbish.pem"}, f'{TLS}ca-file = "rubbish.pem": holds no certificate'),
    ({TLS + "client.cert": "rubbish.pem"}, 'client.cert = "rubbish.pem": is no certificate in PEM'),
    (
        {TLS + "client.key": "rubbish.pem"},
        'client.cert = "ca.pem": is no certificate in PEM form, or',
    ),
    (
        {TLS + "client.key": "other.key"},
        f'client.key = "other.key": is not the key of {TLS}client.cert',
    ),
    ({TLS + "client.key": "locked.key"}, 'client.key = "locked.key": is locked by a password'),
    (
        {TLS + "ca-file": None},
        f"says no {TLS}ca-file; {TLS}ca-file and {TLS}client.cert are required",
    ),
    ({TLS + "client.cert": None}, f"says no {TLS}client.cert; "),
    ({TLS + "ca-file": 3}, f"{TLS}ca-file = 3: wanted a text"),
    ({TLS + "client.key": "-----BEGIN\nSECRET"}, f"{TLS}client.key: wanted the path of a file"),
    ({TLS + "ciphers": "barn"}, 'ciphers = "barn": names no cipher that is known here'),
    ({TLS + "min-version": 1.1}, "min-version = 1.1: wanted 1.2 or 1.3"),
    ({TLS + "max-version": "1.3"}, 'max-version = "1.3": wanted 1.2 or 1.3'),
    ({TLS + "min-version": 1.3, TLS + "max-version": 1.2}, "min-version = 1.3: is above "),
    (
        {"distributed.comm.require-encryption": "yes"},
        'require-encryption = "yes": wanted true or false',
    ),
    ({TLS + "client": "ca.pem"}, f"{TLS}client: unknown key; did you mean {TLS}client.key?"),
]


@pytest.mark.parametrize(("change", "told"), MISTAKES, ids=lambda x: str(x)[:40])
def test_each_mistake_is_named(folder, change, told) -> None:
    file = written(
        folder, {k: v for k, v in {**RIGHT, **change}.items() if k not in change} | change
    )
    with pytest.raises(ScenarioError) as error:
        read_security(file)
    assert str(error.value).startswith(f"{file}: ")
    assert told in str(error.value)
    assert "SECRET" not in str(error.value)


@pytest.mark.parametrize("key", KEYS)
def test_every_key_misspelt_is_answered_with_its_name(folder, key) -> None:
    with pytest.raises(ScenarioError, match=f"{key[:-1]}x: unknown key; did you mean {key}"):
        read_security(written(folder, {**RIGHT, key[:-1] + "x": "a"}))


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (None, "no such file"),
        (b"distributed: [", "is not YAML that Dask can read: while parsing.* line 1, column"),
        (b"- a\n- b\n", "is not YAML that Dask can read: .*dict"),
        (b"\xff\xfe\x00", "is no UTF-8 text; wanted YAML"),
        (b"", f"says no {TLS}ca-file"),
        (b"barn: {door: 3}", "barn.door: unknown key; known keys: distributed.comm"),
        (
            f"{TLS}ca-file: a\ndistributed: {{comm: {{tls: {{ca_file: b}}}}}}".encode(),
            "ca-file: said twice; say it once",
        ),
    ],
)
def test_a_file_that_cannot_be_used(tmp_path, content, told) -> None:
    file = tmp_path / "tls.yaml"
    if content is not None:
        file.write_bytes(content)
    with pytest.raises(ScenarioError, match=told) as error:
        read_security(file)
    assert str(error.value).startswith(f"{file}: ")
    assert "\n" not in str(error.value)


def test_a_folder_is_no_file(tmp_path) -> None:
    with pytest.raises(ScenarioError, match="cannot be read: Is a directory"):
        read_security(tmp_path)


def test_certificates_without_dask(tmp_path, monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ScenarioError, match=r"needs Dask.*pip install 'soundergate\[cluster\]'"):
        cluster_security.read_security(tmp_path / "tls.yaml")
