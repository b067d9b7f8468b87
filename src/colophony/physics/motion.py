"""What a simulated string did: the waveforms of one run, with the setting they belong to."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Signal = NDArray[np.floating]


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """One run of a bowed string. Arrays share one time axis: sample i is at ``start_s + i / rate_hz``.

    Velocity, force and speed are positive in the direction of a down bow.
    """

    rate_hz: float  #: samples a second; a whole multiple of ``frequency_hz``
    frequency_hz: float  #: fundamental of the free string (the note), Hz
    samples_per_period: int  #: rate_hz / frequency_hz
    beta: float  #: bow to bridge over sounding length as simulated, mean over the hairs at the end
    impedance_kg_s: float  #: transverse wave impedance Z0
    start_s: float  #: time of sample 0 since the bow touched the string, s
    bow_speed_m_s: Signal  #: [n] speed of the bow
    weight_n: Signal  #: [n] normal bow force
    velocity_m_s: Signal  #: [n] surface velocity of the string under the bow, mean over the hairs
    slipping: NDArray[np.bool_]  #: [n, points] this hair slides
    bridge_force_n: Signal  #: [n] transverse force of the string on the bridge
    sound: Signal  #: [n] radiated by the coupled body, proportional to pressure, arbitrary unit
    shapes_m: Signal  #: [frames, positions] displacement of the string from rest, frames in time order
    shape_times_s: Signal  #: [frames]
    shape_positions_m: Signal  #: [positions] distance from the bridge
    warnings: tuple[str, ...] = ()  #: what could not be simulated as asked

    @property
    def times_s(self) -> Signal:
        """Time of every sample in s."""
        return self.start_s + np.arange(len(self.bow_speed_m_s)) / self.rate_hz

    def last(self, periods: float) -> Motion:
        """Return the last periods of the run as views; the whole run where it is shorter."""
        count = min(len(self.bow_speed_m_s), round(periods * self.samples_per_period))
        first = len(self.bow_speed_m_s) - count
        return replace(
            self,
            start_s=self.start_s + first / self.rate_hz,
            bow_speed_m_s=self.bow_speed_m_s[first:],
            weight_n=self.weight_n[first:],
            velocity_m_s=self.velocity_m_s[first:],
            slipping=self.slipping[first:],
            bridge_force_n=self.bridge_force_n[first:],
            sound=self.sound[first:],
        )
