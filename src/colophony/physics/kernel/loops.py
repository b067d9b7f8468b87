"""The loop that takes one run through its steps; `lanes` takes many side by side through the same steps.

What lies where (last axis: the lane, one run each; M points of the string, counted from the bridge):

=============  =======================  ==============================================================
towards_nut    [M, W]                   transverse velocity waves; point x at (x - n) mod M in step n
towards_bridge [M, W]                   likewise at (x + n) mod M
torsion_*      [Mt, W]                  the same for torsion
ends           [`ENDS` + sections, W]   memory of the ends' filters
modes          [modes, 2, W]            memory h, s of `mode_step`; for one run in Fortran's order, so
                                        that the modes lie side by side
hairs          [points, 6, W]           three of the friction law, then q, v of the hair, and its force f
=============  =======================  ==============================================================

A segment is a stretch in which speed and weight run linearly and everything else stands still.
"""

from __future__ import annotations

import math

from colophony.physics.friction.mcintyre_1979 import step as mcintyre_step
from colophony.physics.friction.smith_2000 import step as smith_step
from colophony.physics.friction.van_walstijn_2026 import step as van_walstijn_step
from colophony.physics.kernel.body import loop
from colophony.physics.kernel.string import allpass, hair_history, mode_step, reflect

#: Rows of `ends`.
BRIDGE_LOW, BRIDGE_SLOW, NUT_LOW, NUT_SLOW, TUNING, BRIDGE_FORCE = range(6)
TORSION_BRIDGE_LOW, TORSION_BRIDGE_SLOW, TORSION_NUT_LOW, TORSION_NUT_SLOW, FRICTION = range(6, 11)
ENDS = 11


@loop(sums=True)
def play_lane(  # type: ignore[no-untyped-def]
    lane,
    first,
    kept_from,
    law,
    sections,
    lengths,
    per_length,
    nut,
    tuning,
    at,
    torsion_at,
    torsion_part,
    shares,
    roots,
    speed,
    weight,
    waves,
    ends,
    modes,
    body_numbers,
    hairs,
    numbers,
    laws,
    out_velocity,
    out_force,
    out_sound,
    out_sliding,
):
    """Play the segments of one lane from step ``first`` on; return the number of steps taken.

    Per segment s: ``lengths[s]`` steps, ``per_length[s]`` one over them; ``nut[s]`` points to the nut or
    finger; ``tuning[s]`` coefficient; ``at[s, j]`` place of hair j; ``torsion_at[s]`` place of the ribbon's
    centre in the torsional lines, ``torsion_part[s]`` how far on to the next point, 0 to 1; ``shares[s, j]``
    of the weight, ``roots[s, j]`` = 1 / sqrt(hair's weight per width / weight); ``speed[s:s+2, lane]``,
    ``weight[s:s+2, lane]`` values at its ends. ``out_*`` are filled from step ``kept_from`` on (counted from
    this call's first).
    """
    n = numbers
    zero = n.one - n.one
    towards_nut, towards_bridge, torsion_nut, torsion_bridge = waves
    points = towards_nut.shape[0]
    torsion_points = torsion_nut.shape[0]
    count = hairs.shape[0]
    mode_count = modes.shape[0]
    has_torsion = n.y_torsion > zero

    bridge_low, bridge_slow = ends[BRIDGE_LOW, lane], ends[BRIDGE_SLOW, lane]
    nut_low, nut_slow, tuned = ends[NUT_LOW, lane], ends[NUT_SLOW, lane], ends[TUNING, lane]
    bridge_force, friction = ends[BRIDGE_FORCE, lane], ends[FRICTION, lane]
    tb_low, tb_slow = ends[TORSION_BRIDGE_LOW, lane], ends[TORSION_BRIDGE_SLOW, lane]
    tn_low, tn_slow = ends[TORSION_NUT_LOW, lane], ends[TORSION_NUT_SLOW, lane]

    # The velocity with which the body's modes enter the first step.
    body = zero
    for m in range(mode_count):
        body += modes[m, 0, lane]
    # Place of point 0 in each line.
    up = (points - first % points) % points
    down = first % points
    torsion_up = (torsion_points - first % torsion_points) % torsion_points
    torsion_down = first % torsion_points
    done = 0
    for s in range(lengths.shape[0]):
        speed_from, speed_step = speed[s, lane], (speed[s + 1, lane] - speed[s, lane]) * per_length[s]
        weight_from, weight_step = weight[s, lane], (weight[s + 1, lane] - weight[s, lane]) * per_length[s]
        middle = n.half * (weight_from + weight[s + 1, lane])
        root_per_weight = n.one / math.sqrt(max(middle, n.least_weight))
        nut_at = nut[s]
        # Torsion is read and driven at two neighbouring points with the same weights: passive.
        far = torsion_part[s]
        near = n.one - far
        y_torsion = (near * near + far * far) * n.y_torsion
        Y = n.y_string + y_torsion + n.y_hair
        step = zero
        for i in range(lengths[s]):
            bow_speed = speed_from + speed_step * step
            bow_weight = weight_from + weight_step * step
            step += n.one

            # The waves that arrive at the ends of the string.
            leaving = nut_at + up
            leaving = leaving - points if leaving >= points else leaving
            to_nut = towards_nut[leaving, lane]
            leaving = down - 1 if down > 0 else points - 1
            to_bridge = towards_bridge[leaving, lane]

            # Bridge: the string's loss, then the body, pushed by f = Z0 (2 a - v).
            to_bridge, bridge_low, bridge_slow = reflect(to_bridge, bridge_low, bridge_slow, n.bridge)
            bridge_velocity = n.body_keep * body + n.body_drive * to_bridge
            bridge_force = n.z0 * (to_bridge + to_bridge - bridge_velocity)
            towards_nut[up, lane] = bridge_velocity - to_bridge

            # Nut or finger: loss, dispersion, and the fraction of a sample that tunes the note.
            to_nut, nut_low, nut_slow = reflect(to_nut, nut_low, nut_slow, n.nut)
            for section in range(sections):
                to_nut, memory = allpass(to_nut, ends[ENDS + section, lane], n.dispersion)
                ends[ENDS + section, lane] = memory
            to_nut, tuned = allpass(to_nut, tuned, tuning[s])
            entering = nut_at - 1 + down
            entering = entering - points if entering >= points else entering
            towards_bridge[entering, lane] = -to_nut

            # Torsion at both ends, and what of it reaches the bow.
            spin, x0, x1, y0, y1 = zero, 0, 0, 0, 0
            if has_torsion:
                wave, tn_low, tn_slow = reflect(torsion_nut[torsion_up, lane], tn_low, tn_slow, n.torsion_end)
                leaving = torsion_down - 1 if torsion_down > 0 else torsion_points - 1
                back, tb_low, tb_slow = reflect(torsion_bridge[leaving, lane], tb_low, tb_slow, n.torsion_end)
                torsion_nut[torsion_up, lane] = -back
                torsion_bridge[leaving, lane] = -wave
                x0 = torsion_at[s] + torsion_up
                x0 = x0 - torsion_points if x0 >= torsion_points else x0
                x1 = x0 + 1 if x0 + 1 < torsion_points else 0
                y0 = torsion_at[s] + torsion_down
                y0 = y0 - torsion_points if y0 >= torsion_points else y0
                y1 = y0 + 1 if y0 + 1 < torsion_points else 0
                spin = near * (torsion_nut[x0, lane] + torsion_bridge[y0, lane])
                spin += far * (torsion_nut[x1, lane] + torsion_bridge[y1, lane])

            # The body's modes move on under the force of this step.
            body, sound = zero, zero
            for m in range(mode_count):
                v, h, p = mode_step(
                    modes[m, 0, lane],
                    modes[m, 1, lane],
                    bridge_force,
                    body_numbers[0, m],
                    body_numbers[1, m],
                    body_numbers[2, m],
                    body_numbers[3, m],
                )
                modes[m, 0, lane], modes[m, 1, lane] = h, p
                body += h
                sound += body_numbers[4, m] * v

            # The hairs one after the other; each feels through torsion what the others do in this step.
            kept = done + i - kept_from
            velocity = zero
            for j in range(count):
                x = at[s, j] + up
                x = x - points if x >= points else x
                y = at[s, j] + down
                y = y - points if y >= points else y
                history = hair_history(hairs[j, 4, lane], hairs[j, 3, lane], n)
                others = friction - hairs[j, 5, lane]
                bow = bow_speed + history
                D = bow - towards_nut[x, lane] - towards_bridge[y, lane] - spin - others * y_torsion
                F = bow_weight * shares[s, j]
                r = root_per_weight * roots[s, j]
                if law == 0:
                    f, v, a, b, e = van_walstijn_step(
                        D, Y, F, hairs[j, 0, lane], hairs[j, 1, lane], hairs[j, 2, lane], r, laws[0]
                    )
                elif law == 1:
                    f, v, a, b, e = mcintyre_step(
                        D, Y, F, hairs[j, 0, lane], hairs[j, 1, lane], hairs[j, 2, lane], r, laws[1]
                    )
                else:
                    f, v, a, b, e = smith_step(
                        D, Y, F, hairs[j, 0, lane], hairs[j, 1, lane], hairs[j, 2, lane], r, laws[2]
                    )
                hair = history - n.y_hair * f
                hairs[j, 0, lane], hairs[j, 1, lane], hairs[j, 2, lane] = a, b, e
                hairs[j, 3, lane] += n.dt * hair
                hairs[j, 4, lane], hairs[j, 5, lane] = hair, f
                friction = others + f
                towards_nut[x, lane] += f * n.y_string
                towards_bridge[y, lane] += f * n.y_string
                velocity += bow_speed + hair - v
                if kept >= 0:
                    out_sliding[kept, j, lane] = v
            if has_torsion:
                torsion_nut[x0, lane] += near * friction * n.y_torsion
                torsion_bridge[y0, lane] += near * friction * n.y_torsion
                torsion_nut[x1, lane] += far * friction * n.y_torsion
                torsion_bridge[y1, lane] += far * friction * n.y_torsion

            if kept >= 0:
                out_velocity[kept, lane] = velocity * n.per_point
                out_force[kept, lane] = bridge_force
                out_sound[kept, lane] = sound
            up = up - 1 if up > 0 else points - 1
            down = down + 1 if down + 1 < points else 0
            torsion_up = torsion_up - 1 if torsion_up > 0 else torsion_points - 1
            torsion_down = torsion_down + 1 if torsion_down + 1 < torsion_points else 0
        done += lengths[s]

    ends[BRIDGE_LOW, lane], ends[BRIDGE_SLOW, lane] = bridge_low, bridge_slow
    ends[NUT_LOW, lane], ends[NUT_SLOW, lane], ends[TUNING, lane] = nut_low, nut_slow, tuned
    ends[BRIDGE_FORCE, lane], ends[FRICTION, lane] = bridge_force, friction
    ends[TORSION_BRIDGE_LOW, lane], ends[TORSION_BRIDGE_SLOW, lane] = tb_low, tb_slow
    ends[TORSION_NUT_LOW, lane], ends[TORSION_NUT_SLOW, lane] = tn_low, tn_slow
    return done
