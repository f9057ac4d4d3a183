"""Nights made up by a formula, with animals that share their luck, so that the truth is known."""

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.special import betaincinv

from shared.identities import check_identities
from shared.traps import LINE_TRAP
from soundergate.engine.outcomes import Outcomes

BLOCK = 512
MOST_ANIMALS = 24


@dataclass(frozen=True)
class MadeUpNights:
    """A player whose night has a quality q ~ beta(mean, correlation); each animal is caught if its
    own uniform is below q. Two of these with one seed share every uniform, as two setups do.

    Mean share caught is ``mean`` and two animals of a night are correlated by ``correlation``.
    """

    mean: float = 0.6
    correlation: float = 0.5
    group: int = 10

    def __call__(self, seed: int, first: int, count: int) -> Outcomes:
        blocks = range(first // BLOCK, (first + count - 1) // BLOCK + 1)
        luck = np.concatenate([self._uniforms(seed, block) for block in blocks])
        start = first - (first // BLOCK) * BLOCK
        return self._outcomes(first, luck[start : start + count])

    def _uniforms(self, seed: int, block: int) -> np.ndarray:
        return np.random.default_rng([seed, block]).random((BLOCK, MOST_ANIMALS + 1))[
            :, : self.group + 1
        ]

    def _outcomes(self, first: int, luck: np.ndarray) -> Outcomes:
        n, size = len(luck), 1 / self.correlation - 1
        quality = betaincinv(self.mean * size, (1 - self.mean) * size, luck[:, 0])
        caught = (luck[:, 1:] < quality[:, None]).sum(axis=1)
        outcomes = Outcomes.empty(n)
        outcomes["night"][:] = np.arange(first, first + n)
        outcomes["group_size"][:] = outcomes["arrived"][:] = self.group
        outcomes["inside_at_release"][:] = self.group
        outcomes["released"][:] = caught > 0
        outcomes["release_s"][:] = 3600 + luck[:, 0]
        outcomes["caught"][:] = caught
        outcomes["escaped_during"][:] = self.group - caught
        outcomes["whole_group"][:] = caught == self.group
        outcomes["strike_energy_j"][:] = 0.0
        outcomes["operator_min"][:] = 0.0
        outcomes["night_s"][:] = 36000.0
        check_identities(outcomes)
        return outcomes


@pytest.fixture
def nights():
    """The class, to make players of any mean, correlation and group."""
    return MadeUpNights


@pytest.fixture
def scenario_file(tmp_path):
    path = tmp_path / "alder.toml"
    path.write_text(LINE_TRAP)
    return path


@pytest.fixture
def made_up_engine(monkeypatch):
    """In place of steel and pigs: the wider the opening, the larger the share caught."""

    def player(scenario, engine="batch", workers=None, executor=None):
        width = scenario.opening[0].width
        if width > 2.9:
            raise ArithmeticError("no such gate can be hung")
        return MadeUpNights(0.3 + 0.2 * width, 0.5, scenario.sounder.size)

    for module in ("compare", "study", "estimate"):
        monkeypatch.setattr(f"soundergate.studies.{module}.player", player)


@pytest.fixture
def cells():
    """From yes/no of two setups on the same nights, how many nights: both, first only, second only,
    neither."""

    def counted(a, b):
        a, b = np.asarray(a, bool), np.asarray(b, bool)
        return tuple(int(nights.sum()) for nights in (a & b, a & ~b, ~a & b, ~a & ~b))

    return counted
