"""The loop that takes one run through its steps, or many side by side where ``lane`` is a `Lanes`.

What lies where (last axis: the lane, one run each; M points of the string, counted from the bridge):

=============  =======================  ==============================================================
towards_nut    [M, W]                   transverse velocity waves; point x at (x - n) mod M in step n
towards_bridge [M, W]                   likewise at (x + n) mod M
torsion_*      [Mt, W]                  the same for torsion
ends           [`ENDS` + sections, W]   memory of the ends' filters
modes          [modes, 2, W]            memory h, s of `mode_step`; for one run in Fortran's order, so
                                        that the modes lie side by side
hairs          [points, `HAIR`, W]      three of the friction law, then q, v of the hair, its force f, and
                                        what is worked out ahead in a step
=============  =======================  ==============================================================

A segment is a stretch in which speed and weight run linearly and everything else stands still.
"""

from __future__ import annotations

import math

from colophony.physics.friction import mcintyre_1979, smith_2000, van_walstijn_2026
from colophony.physics.kernel.body import body, loop
from colophony.physics.kernel.string import allpass, hair_history, mode_step, reflect

_ready_thermal, _step_thermal = van_walstijn_2026.ready, van_walstijn_2026.step
_ready_hyperbolic, _step_hyperbolic = mcintyre_1979.ready, mcintyre_1979.step
_ready_steady, _step_steady = smith_2000.ready, smith_2000.step

#: Rows of `ends`.
BRIDGE_LOW, BRIDGE_SLOW, NUT_LOW, NUT_SLOW, TUNING, BRIDGE_FORCE = range(6)
TORSION_BRIDGE_LOW, TORSION_BRIDGE_SLOW, TORSION_NUT_LOW, TORSION_NUT_SLOW, FRICTION = range(6, 11)
ENDS = 11
#: Rows of a hair: memory of the law and of the hair; the rest is worked out ahead within a step.
DEFLECTION, VELOCITY, FORCE, Q, H, LEAN, ALONE, DRIVE = range(3, 11)
HAIR = 11


@body
def wrapped(place, points):  # type: ignore[no-untyped-def]
    """Return where a place up to twice the length lies in a ring."""
    return place - points if place >= points else place


@body
def rosin_ready(law, Y, F, a, b, e, r, laws):  # type: ignore[no-untyped-def]
    """Return what a law works out ahead of a step; its number is the place in `friction.LAWS`."""
    if law == 0:
        return _ready_thermal(Y, F, a, b, e, r, laws[0])
    if law == 1:
        return _ready_hyperbolic(Y, F, a, b, e, r, laws[1])
    return _ready_steady(Y, F, a, b, e, r, laws[2])


@body
def rosin_step(law, drive, push, Y, Z, F, per_F, a, b, e, r, q, h, lean, laws):  # type: ignore[no-untyped-def]
    """Return force, sliding velocity and memory of one hair under a law."""
    if law == 0:
        return _step_thermal(drive, push, Y, Z, F, per_F, a, b, e, r, q, h, lean, laws[0])
    if law == 1:
        return _step_hyperbolic(drive, push, Y, Z, F, per_F, a, b, e, r, q, h, lean, laws[1])
    return _step_steady(drive, push, Y, Z, F, per_F, a, b, e, r, q, h, lean, laws[2])


@loop(sums=True, inlined=True)
def body_step(modes, lane, force, numbers, heard, zero):  # type: ignore[no-untyped-def]
    """Advance the body's modes; return their velocity as the next step begins, and what sounds if heard."""
    velocity, sound = zero, zero
    if heard:
        for m in range(numbers.shape[1]):
            A, B, C, w = numbers[0, m], numbers[1, m], numbers[2, m], numbers[3, m]
            v, h, s = mode_step(modes[m, 0, lane], modes[m, 1, lane], force, A, B, w)
            modes[m, 0, lane], modes[m, 1, lane] = h, s
            velocity += C * h
            sound += numbers[4, m] * v
    else:
        for m in range(numbers.shape[1]):
            A, B, C, w = numbers[0, m], numbers[1, m], numbers[2, m], numbers[3, m]
            _, h, s = mode_step(modes[m, 0, lane], modes[m, 1, lane], force, A, B, w)
            modes[m, 0, lane], modes[m, 1, lane] = h, s
            velocity += C * h
    return velocity, sound


@loop()
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
    has_torsion = n.y_torsion > zero

    bridge_low, bridge_slow = ends[BRIDGE_LOW, lane], ends[BRIDGE_SLOW, lane]
    nut_low, nut_slow, tuned = ends[NUT_LOW, lane], ends[NUT_SLOW, lane], ends[TUNING, lane]
    bridge_force, friction = ends[BRIDGE_FORCE, lane], ends[FRICTION, lane]
    tb_low, tb_slow = ends[TORSION_BRIDGE_LOW, lane], ends[TORSION_BRIDGE_SLOW, lane]
    tn_low, tn_slow = ends[TORSION_NUT_LOW, lane], ends[TORSION_NUT_SLOW, lane]

    # The velocity with which the body's modes enter the first step.
    carried = zero
    for m in range(body_numbers.shape[1]):
        carried += body_numbers[2, m] * modes[m, 0, lane]
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
        Z = n.one / Y
        torsion_share = y_torsion * Z
        step = zero
        for i in range(lengths[s]):
            bow_speed = speed_from + speed_step * step
            bow_weight = weight_from + weight_step * step
            per_weight = n.one / max(bow_weight, n.least_weight)
            step += n.one

            # What the rosin of each hair brings along. Early, because nothing in this step waits for it long.
            for j in range(count):
                F = bow_weight * shares[s, j]
                r = root_per_weight * roots[s, j]
                a, b, e = hairs[j, 0, lane], hairs[j, 1, lane], hairs[j, 2, lane]
                q, h, lean = rosin_ready(law, Y, F, a, b, e, r, laws)
                hairs[j, Q, lane], hairs[j, H, lane], hairs[j, LEAN, lane] = q, h, lean

            # The waves that arrive at the ends of the string.
            to_nut = towards_nut[wrapped(nut_at + up, points), lane]
            to_bridge = towards_bridge[wrapped(down + points - 1, points), lane]

            # Bridge: the string's loss, then the body, pushed by f = Z0 (2 a - v).
            to_bridge, bridge_low, bridge_slow = reflect(to_bridge, bridge_low, bridge_slow, n.bridge)
            bridge_velocity = n.body_keep * carried + n.body_drive * to_bridge
            bridge_force = n.z0 * (to_bridge + to_bridge - bridge_velocity)
            towards_nut[up, lane] = bridge_velocity - to_bridge

            # Nut or finger: loss, dispersion, and the fraction of a sample that tunes the note.
            to_nut, nut_low, nut_slow = reflect(to_nut, nut_low, nut_slow, n.nut)
            for section in range(sections):
                to_nut, memory = allpass(to_nut, ends[ENDS + section, lane], n.dispersion)
                ends[ENDS + section, lane] = memory
            to_nut, tuned = allpass(to_nut, tuned, tuning[s])
            towards_bridge[wrapped(nut_at - 1 + down, points), lane] = -to_nut

            # Torsion at both ends, and what of it reaches the bow.
            spin, x0, x1, y0, y1 = zero, 0, 0, 0, 0
            if has_torsion:
                wave, tn_low, tn_slow = reflect(torsion_nut[torsion_up, lane], tn_low, tn_slow, n.torsion_end)
                leaving = wrapped(torsion_down + torsion_points - 1, torsion_points)
                back, tb_low, tb_slow = reflect(torsion_bridge[leaving, lane], tb_low, tb_slow, n.torsion_end)
                torsion_nut[torsion_up, lane] = -back
                torsion_bridge[leaving, lane] = -wave
                x0 = wrapped(torsion_at[s] + torsion_up, torsion_points)
                x1 = wrapped(x0 + 1, torsion_points)
                y0 = wrapped(torsion_at[s] + torsion_down, torsion_points)
                y1 = wrapped(y0 + 1, torsion_points)
                spin = near * (torsion_nut[x0, lane] + torsion_bridge[y0, lane])
                spin += far * (torsion_nut[x1, lane] + torsion_bridge[y1, lane])

            # The body's modes move on under the force of this step.
            kept = done + i - kept_from
            carried, sound = body_step(modes, lane, bridge_force, body_numbers, kept >= 0, zero)

            # What reaches each hair: the waves that pass it, and its own share of the twist.
            for j in range(count):
                x = wrapped(at[s, j] + up, points)
                y = wrapped(at[s, j] + down, points)
                history = hair_history(hairs[j, VELOCITY, lane], hairs[j, DEFLECTION, lane], n)
                alone = bow_speed + history - towards_nut[x, lane] - towards_bridge[y, lane] - spin
                hairs[j, VELOCITY, lane] = history
                alone += hairs[j, FORCE, lane] * y_torsion
                hairs[j, ALONE, lane], hairs[j, DRIVE, lane] = alone, alone - hairs[j, LEAN, lane]
            # Then one after the other; each feels through torsion what the others do in this step.
            velocity = zero
            for j in range(count):
                x = wrapped(at[s, j] + up, points)
                y = wrapped(at[s, j] + down, points)
                F = bow_weight * shares[s, j]
                per_F = per_weight / max(shares[s, j], n.least_weight)
                r = root_per_weight * roots[s, j]
                a, b, e = hairs[j, 0, lane], hairs[j, 1, lane], hairs[j, 2, lane]
                q, h = hairs[j, Q, lane], hairs[j, H, lane]
                lean = hairs[j, LEAN, lane]
                drive = hairs[j, DRIVE, lane] - friction * y_torsion
                push = hairs[j, ALONE, lane] * Z - friction * torsion_share
                others = friction - hairs[j, FORCE, lane]
                f, v, a, b, e = rosin_step(law, drive, push, Y, Z, F, per_F, a, b, e, r, q, h, lean, laws)
                friction = others + f
                hair = hairs[j, VELOCITY, lane] - n.y_hair * f
                hairs[j, 0, lane], hairs[j, 1, lane], hairs[j, 2, lane] = a, b, e
                hairs[j, DEFLECTION, lane] += n.dt * hair
                hairs[j, VELOCITY, lane], hairs[j, FORCE, lane] = hair, f
                towards_nut[x, lane] += f * n.y_string
                towards_bridge[y, lane] += f * n.y_string
                if kept >= 0:
                    velocity += bow_speed + hair - v
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
            up, down = wrapped(up + points - 1, points), wrapped(down + 1, points)
            torsion_up = wrapped(torsion_up + torsion_points - 1, torsion_points)
            torsion_down = wrapped(torsion_down + 1, torsion_points)
        done += lengths[s]

    ends[BRIDGE_LOW, lane], ends[BRIDGE_SLOW, lane] = bridge_low, bridge_slow
    ends[NUT_LOW, lane], ends[NUT_SLOW, lane], ends[TUNING, lane] = nut_low, nut_slow, tuned
    ends[BRIDGE_FORCE, lane], ends[FRICTION, lane] = bridge_force, friction
    ends[TORSION_BRIDGE_LOW, lane], ends[TORSION_BRIDGE_SLOW, lane] = tb_low, tb_slow
    ends[TORSION_NUT_LOW, lane], ends[TORSION_NUT_SLOW, lane] = tn_low, tn_slow
    return done
