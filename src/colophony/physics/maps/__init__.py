"""How much room does the player have? Maps of what a string does over distance, weight, speed and start.

May import the rest of `physics`. Nothing here bows a string: every function is handed an ``ask`` that
answers strokes, such as ``partial(survey, instrument, string, ...)``.

=========================  ========================================================================
`steady_map`               states over contact distance and weight, and the playable ranges
`steady_maps`              the same for a family of speeds, asked together
`playable_ranges`          the ranges alone, with far fewer strokes
`closed_form_ranges`       the published limits in the same form
`wander_room`              span of contact distance around a point, read from ranges
`wander_rooms`             the same around every distance of a map
`ask_wander_room`          the same, bowed along a line of distances
`speaking_strokes`         what speaks at each sounding point, and how far each variable may wander
`start_map`                starts over weight and acceleration, and their wedge
=========================  ========================================================================
"""

from colophony.physics.maps.closed_forms import closed_form_ranges
from colophony.physics.maps.grids import accelerations_m_s2, contact_distances_m, weights_around_n, weights_n
from colophony.physics.maps.lines import PLAYABLE, RAMP_PERIODS
from colophony.physics.maps.questions import STROKES_AT_ONCE, Ask, Progress
from colophony.physics.maps.ranges import PlayableRanges, playable_ranges
from colophony.physics.maps.starts import StartMap, Wedge, start_map, start_weights_n
from colophony.physics.maps.steady import SteadyMap, steady_map, steady_maps
from colophony.physics.maps.tables import SpeakingStroke, speaking_strokes
from colophony.physics.maps.wander import WanderRoom, ask_wander_room, wander_room, wander_rooms

__all__ = [
    "PLAYABLE",
    "RAMP_PERIODS",
    "STROKES_AT_ONCE",
    "Ask",
    "PlayableRanges",
    "Progress",
    "SpeakingStroke",
    "StartMap",
    "SteadyMap",
    "WanderRoom",
    "Wedge",
    "accelerations_m_s2",
    "ask_wander_room",
    "closed_form_ranges",
    "contact_distances_m",
    "playable_ranges",
    "speaking_strokes",
    "start_map",
    "start_weights_n",
    "steady_map",
    "steady_maps",
    "wander_room",
    "wander_rooms",
    "weights_around_n",
    "weights_n",
]
