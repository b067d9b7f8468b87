"""A survey on a card says what the same survey on processors says.

The truth is the CPU's survey, held in `test_survey` against single strokes. The card is numba's CUDA
simulator, which runs the kernels' threads in Python: so the strokes are few and short. What rounding does to
them on a card of silicon is measured by ``python -m bench.card``.
"""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from colophony.errors import InputError
from colophony.physics.bowings import Bowings
from colophony.physics.survey import survey

ASK = """
import sys
import numpy as np
from colophony.physics import survey as s
from colophony.physics.bowings import Bowings
from colophony.physics.friction import McIntyre1979, Smith2000
from colophony.physics.kernel import card, cuda
from colophony.physics.player import Model
from colophony.physics.regimes import STATES

FEW = dict(periods=21, samples_per_period=40)


def both(bowings, **options):
    here = s.survey("violin", "D", bowings, **FEW, **options)
    done = []
    options = {**options, "progress": lambda n, total: done.append((n, total))}
    there = s.survey("violin", "D", bowings, target="cuda", **FEW, **options)
    return here, there, done


def check(here, there):
    assert np.array_equal(here.state, there.state), (here.state, there.state)
    assert np.array_equal(here.start_kind, there.start_kind)
    assert np.array_equal(here.beta, there.beta)
    assert np.allclose(here.first_slip_s, there.first_slip_s, rtol=0, atol=1e-6, equal_nan=True)
    # A rounding grows where the motion is irregular.
    near = np.where(here.state == STATES.index("raucous"), 0.15, 0.01)
    for name in ("slips_per_period", "slip_fraction", "step_ratio", "settling_periods"):
        a, b = getattr(here, name), getattr(there, name)
        assert np.array_equal(np.isnan(a), np.isnan(b)), (name, a, b)
        assert np.all((np.abs(a - b) <= near * np.abs(a)) | np.isnan(a)), (name, a, b)
    tone = here.state == STATES.index("helmholtz")
    assert np.all(np.abs(here.cents - there.cents)[tone] < 0.2), (here.cents, there.cents)

"""

STEADY = """
# Places, tilts, ramps of every length, one at once and one without end, waves at the beginning.
bowings = Bowings(
    np.array([0.1, 0.1, 0.2, 0.1, 0.15, 0.1, 0.1, np.inf]),
    np.array([0.05, 0.3, 0.8, 2.5, 0.5, 0.6, 0.4, 0.5]),
    np.array([0.02, 0.03, 0.03, 0.04, 0.02, 0.03, 0.03, 0.03]),
    np.array([0.0, 0.0, 10.0, 0.0, 0.0, 20.0, 0.0, 0.0]),
    np.array([2.0, 2.0, 1.0, 3.0, 2.0, 2.0, np.inf, 2.0]),
    np.array([0, 0, 3, 3, 4, 0, 0, 0]),
)
here, there, done = both(bowings)
assert len(set(here.state.tolist())) >= 4
assert np.isfinite(here.step_ratio).all()
check(here, there)
assert done == [(8, 8)]
"""

STARTS = """
# In pieces, and in chunks that take turns in the memory of two.
slots = []
make = card._Slot.__init__
card._Slot.__init__ = lambda self, *args: (slots.append(self), make(self, *args))[1]
card.lanes_of_chunk = lambda setting: 2
bowings = Bowings(
    np.inf, np.array([0.3, 0.6, 1.0, 0.4, 0.6]), np.array([0.02, 0.03, 0.03, 0.02, 0.03]), 0.0,
    np.array([0.5, 2.0, 8.0, 3.0, 2.5]),
)
here, there, done = both(bowings, starts=True)
assert len(set(here.start_kind.tolist())) >= 2
check(here, there)
assert done == [(2, 5), (4, 5), (5, 5)]
assert len(slots) == 2
"""

MODELS = """
# Each law; without a body, with other hairs; and strings too long for near memory.
bowings = Bowings(0.1, np.array([0.2, 0.6]), 0.03, 0.0, 3.0)
check(*both(bowings, model=Model(friction=McIntyre1979(), body=False, points=2))[:2])
cuda._NEAR = 0
check(*both(bowings, model=Model(friction=Smith2000(), points=3, torsion=False))[:2])
cuda.playing.cache_clear()
check(*both(bowings)[:2])
"""


@pytest.mark.parametrize("part", [STEADY, STARTS, MODELS], ids=["steady", "starts", "models"])
def test_a_simulated_card_answers_as_processors_do(part: str) -> None:
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", ASK + part + '\nprint("same")'],
        env={**os.environ, "NUMBA_ENABLE_CUDASIM": "1"},
        capture_output=True,
        text=True,
        timeout=200,
        check=False,
    )
    assert done.stdout.strip() == "same", done.stderr


def test_without_a_card_a_survey_is_refused_in_one_line() -> None:
    from numba import cuda

    if cuda.is_available():
        pytest.skip("there is a card here")
    with pytest.raises(InputError, match=r"no CUDA card here, .* use the target cpu") as refused:
        survey("violin", "D", Bowings(0.1, 0.5, 0.03, 0.0, 3.0), target="cuda")
    assert "\n" not in str(refused.value)
