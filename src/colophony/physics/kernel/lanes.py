"""Many runs side by side: the steps of `loops.play_lane`, each of them for all lanes before the next.

Every inner loop runs over the lanes with nothing but arithmetic in it, so that the compiler turns it into
vector instructions. For that it must see that nothing overlaps: the number of lanes is a constant, arrays
are flat (row times `LANES` plus lane), and places that vary are unsigned.
"""

from __future__ import annotations

import math

import numpy as np

from colophony.physics.friction.mcintyre_1979 import step as mcintyre_step
from colophony.physics.friction.smith_2000 import step as smith_step
from colophony.physics.friction.van_walstijn_2026 import step as van_walstijn_step
from colophony.physics.kernel import loops
from colophony.physics.kernel.body import loop
from colophony.physics.kernel.string import allpass, hair_history, mode_step, reflect

#: Runs side by side. Fewer than 16 are not turned into vector instructions, more than 32 gain little.
LANES = 32

# Where each row of `ends` begins, and the scratch rows behind them.
_BRIDGE_LOW, _BRIDGE_SLOW, _NUT_LOW, _NUT_SLOW, _TUNING, _BRIDGE_FORCE = (
    row * LANES
    for row in (
        loops.BRIDGE_LOW,
        loops.BRIDGE_SLOW,
        loops.NUT_LOW,
        loops.NUT_SLOW,
        loops.TUNING,
        loops.BRIDGE_FORCE,
    )
)
_TORSION_BRIDGE_LOW, _TORSION_BRIDGE_SLOW, _TORSION_NUT_LOW, _TORSION_NUT_SLOW, _FRICTION = (
    row * LANES
    for row in (
        loops.TORSION_BRIDGE_LOW,
        loops.TORSION_BRIDGE_SLOW,
        loops.TORSION_NUT_LOW,
        loops.TORSION_NUT_SLOW,
        loops.FRICTION,
    )
)
_SECTIONS = loops.ENDS * LANES
MOST_SECTIONS = 8
_SPEED, _SPEED_STEP, _WEIGHT, _WEIGHT_STEP, _ROOT, _HISTORY, _SOUND, _TO_NUT, _SPIN, _VELOCITY, _SLIDING = (
    (loops.ENDS + MOST_SECTIONS + row) * LANES for row in range(11)
)
#: Rows that `ends` needs for lanes.
ROWS = loops.ENDS + MOST_SECTIONS + 11

_LANES = np.uintp(LANES)
_HAIR = np.uintp(6 * LANES)
_MODE = np.uintp(2 * LANES)
_1, _2, _3, _4, _5 = (np.uintp(row * LANES) for row in range(1, 6))


@loop(inlined=True)
def _thermal_lanes(  # type: ignore[no-untyped-def]
    hairs, h, towards_nut, x, towards_bridge, y, rows, Y, y_torsion, share, root, step, n, c
):
    """Advance one hair in every lane under the law of `van_walstijn_2026`; h, x, y: where its rows begin."""
    for i in range(LANES):
        lane = np.uintp(i)
        bow_speed = rows[_SPEED + i] + rows[_SPEED_STEP + i] * step
        F = (rows[_WEIGHT + i] + rows[_WEIGHT_STEP + i] * step) * share
        a, b, e = hairs[h + lane], hairs[h + _1 + lane], hairs[h + _2 + lane]
        q, hair, before = hairs[h + _3 + lane], hairs[h + _4 + lane], hairs[h + _5 + lane]
        history = hair_history(hair, q, n)
        others = rows[_FRICTION + i] - before
        to_nut, to_bridge = towards_nut[x + lane], towards_bridge[y + lane]
        D = bow_speed + history - to_nut - to_bridge - rows[_SPIN + i] - others * y_torsion
        f, v, a, b, e = van_walstijn_step(D, Y, F, a, b, e, rows[_ROOT + i] * root, c)
        hair = history - n.y_hair * f
        hairs[h + lane] = a
        hairs[h + _1 + lane] = b
        hairs[h + _2 + lane] = e
        hairs[h + _3 + lane] = q + n.dt * hair
        hairs[h + _4 + lane] = hair
        hairs[h + _5 + lane] = f
        rows[_FRICTION + i] = others + f
        towards_nut[x + lane] = to_nut + f * n.y_string
        towards_bridge[y + lane] = to_bridge + f * n.y_string
        rows[_VELOCITY + i] += bow_speed + hair - v
        rows[_SLIDING + i] = v


@loop(inlined=True)
def _hyperbolic_lanes(  # type: ignore[no-untyped-def]
    hairs, h, towards_nut, x, towards_bridge, y, rows, Y, y_torsion, share, root, step, n, c
):
    """Advance one hair in every lane under the law of `mcintyre_1979`; h, x, y: where its rows begin."""
    for i in range(LANES):
        lane = np.uintp(i)
        bow_speed = rows[_SPEED + i] + rows[_SPEED_STEP + i] * step
        F = (rows[_WEIGHT + i] + rows[_WEIGHT_STEP + i] * step) * share
        a, b, e = hairs[h + lane], hairs[h + _1 + lane], hairs[h + _2 + lane]
        q, hair, before = hairs[h + _3 + lane], hairs[h + _4 + lane], hairs[h + _5 + lane]
        history = hair_history(hair, q, n)
        others = rows[_FRICTION + i] - before
        to_nut, to_bridge = towards_nut[x + lane], towards_bridge[y + lane]
        D = bow_speed + history - to_nut - to_bridge - rows[_SPIN + i] - others * y_torsion
        f, v, a, b, e = mcintyre_step(D, Y, F, a, b, e, rows[_ROOT + i] * root, c)
        hair = history - n.y_hair * f
        hairs[h + lane] = a
        hairs[h + _1 + lane] = b
        hairs[h + _2 + lane] = e
        hairs[h + _3 + lane] = q + n.dt * hair
        hairs[h + _4 + lane] = hair
        hairs[h + _5 + lane] = f
        rows[_FRICTION + i] = others + f
        towards_nut[x + lane] = to_nut + f * n.y_string
        towards_bridge[y + lane] = to_bridge + f * n.y_string
        rows[_VELOCITY + i] += bow_speed + hair - v
        rows[_SLIDING + i] = v


@loop(inlined=True)
def _steady_lanes(  # type: ignore[no-untyped-def]
    hairs, h, towards_nut, x, towards_bridge, y, rows, Y, y_torsion, share, root, step, n, c
):
    """Advance one hair in every lane under the law of `smith_2000`; h, x, y: where its rows begin."""
    for i in range(LANES):
        lane = np.uintp(i)
        bow_speed = rows[_SPEED + i] + rows[_SPEED_STEP + i] * step
        F = (rows[_WEIGHT + i] + rows[_WEIGHT_STEP + i] * step) * share
        a, b, e = hairs[h + lane], hairs[h + _1 + lane], hairs[h + _2 + lane]
        q, hair, before = hairs[h + _3 + lane], hairs[h + _4 + lane], hairs[h + _5 + lane]
        history = hair_history(hair, q, n)
        others = rows[_FRICTION + i] - before
        to_nut, to_bridge = towards_nut[x + lane], towards_bridge[y + lane]
        D = bow_speed + history - to_nut - to_bridge - rows[_SPIN + i] - others * y_torsion
        f, v, a, b, e = smith_step(D, Y, F, a, b, e, rows[_ROOT + i] * root, c)
        hair = history - n.y_hair * f
        hairs[h + lane] = a
        hairs[h + _1 + lane] = b
        hairs[h + _2 + lane] = e
        hairs[h + _3 + lane] = q + n.dt * hair
        hairs[h + _4 + lane] = hair
        hairs[h + _5 + lane] = f
        rows[_FRICTION + i] = others + f
        towards_nut[x + lane] = to_nut + f * n.y_string
        towards_bridge[y + lane] = to_bridge + f * n.y_string
        rows[_VELOCITY + i] += bow_speed + hair - v
        rows[_SLIDING + i] = v


@loop(inlined=True)
def _body_lanes(modes, m, rows, numbers, k):  # type: ignore[no-untyped-def]
    """Advance two modes of the body, k and k + 1, in every lane; m: where the rows of the first begin."""
    A, B, C, w = numbers[0, k], numbers[1, k], numbers[2, k], numbers[3, k]
    A2, B2, C2, w2 = numbers[0, k + 1], numbers[1, k + 1], numbers[2, k + 1], numbers[3, k + 1]
    for i in range(LANES):
        lane = np.uintp(i)
        force = rows[_BRIDGE_FORCE + i]
        _, h, p = mode_step(modes[m + lane], modes[m + _1 + lane], force, A, B, C, w)
        _, h2, p2 = mode_step(modes[m + _2 + lane], modes[m + _3 + lane], force, A2, B2, C2, w2)
        modes[m + lane] = h
        modes[m + _1 + lane] = p
        modes[m + _2 + lane] = h2
        modes[m + _3 + lane] = p2
        rows[_HISTORY + i] += h + h2


@loop(inlined=True)
def _sound_lanes(modes, m, rows, C, part):  # type: ignore[no-untyped-def]
    """Add to `_SOUND` what one mode radiates in every lane; before `_body_lanes` moves the mode on."""
    for i in range(LANES):
        lane = np.uintp(i)
        rows[_SOUND + i] += part * (modes[m + lane] + C * rows[_BRIDGE_FORCE + i])


@loop(inlined=True)
def _ends_lanes(  # type: ignore[no-untyped-def]
    towards_nut, nut_out, bridge_in, towards_bridge, bridge_out, nut_in, rows, sections, tune, n
):
    """Reflect the waves of every lane at bridge and nut; the places are where the rows begin."""
    for i in range(LANES):
        lane = np.uintp(i)
        to_bridge, low, slow = reflect(
            towards_bridge[bridge_out + lane], rows[_BRIDGE_LOW + i], rows[_BRIDGE_SLOW + i], n.bridge
        )
        rows[_BRIDGE_LOW + i] = low
        rows[_BRIDGE_SLOW + i] = slow
        bridge_velocity = n.body_keep * rows[_HISTORY + i] + n.body_drive * to_bridge
        rows[_BRIDGE_FORCE + i] = n.z0 * (to_bridge + to_bridge - bridge_velocity)
        rows[_TO_NUT + i] = bridge_velocity - to_bridge
    for i in range(LANES):
        lane = np.uintp(i)
        arrived = towards_nut[nut_out + lane]
        towards_nut[bridge_in + lane] = rows[_TO_NUT + i]
        to_nut, low, slow = reflect(arrived, rows[_NUT_LOW + i], rows[_NUT_SLOW + i], n.nut)
        rows[_NUT_LOW + i] = low
        rows[_NUT_SLOW + i] = slow
        rows[_TO_NUT + i] = to_nut
    for section in range(sections):
        at = np.uintp(_SECTIONS + section * LANES)
        for i in range(LANES):
            lane = np.uintp(i)
            to_nut, memory = allpass(rows[_TO_NUT + i], rows[at + lane], n.dispersion)
            rows[at + lane] = memory
            rows[_TO_NUT + i] = to_nut
    for i in range(LANES):
        lane = np.uintp(i)
        to_nut, memory = allpass(rows[_TO_NUT + i], rows[_TUNING + i], tune)
        rows[_TUNING + i] = memory
        towards_bridge[nut_in + lane] = -to_nut


@loop(inlined=True)
def _torsion_lanes(torsion_nut, up, torsion_bridge, out, rows, n):  # type: ignore[no-untyped-def]
    """Reflect the torsional waves of every lane at both ends."""
    for i in range(LANES):
        lane = np.uintp(i)
        wave, low, slow = reflect(
            torsion_nut[up + lane], rows[_TORSION_NUT_LOW + i], rows[_TORSION_NUT_SLOW + i], n.torsion_end
        )
        rows[_TORSION_NUT_LOW + i] = low
        rows[_TORSION_NUT_SLOW + i] = slow
        back, low, slow = reflect(
            torsion_bridge[out + lane],
            rows[_TORSION_BRIDGE_LOW + i],
            rows[_TORSION_BRIDGE_SLOW + i],
            n.torsion_end,
        )
        rows[_TORSION_BRIDGE_LOW + i] = low
        rows[_TORSION_BRIDGE_SLOW + i] = slow
        torsion_nut[up + lane] = -back
        torsion_bridge[out + lane] = -wave


@loop(inlined=True)
def _spin_lanes(torsion_nut, x, torsion_bridge, y, rows, part):  # type: ignore[no-untyped-def]
    """Add to `_SPIN` what of the torsional waves passes one point, by its part."""
    for i in range(LANES):
        lane = np.uintp(i)
        rows[_SPIN + i] += part * (torsion_nut[x + lane] + torsion_bridge[y + lane])


@loop(inlined=True)
def _twist_lanes(line, x, rows, part):  # type: ignore[no-untyped-def]
    """Send the friction of every lane into one point of a torsional line, times part."""
    for i in range(LANES):
        lane = np.uintp(i)
        line[x + lane] += rows[_FRICTION + i] * part


@loop()
def play_lanes(  # type: ignore[no-untyped-def]
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
    rows,
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
    """Play the segments of `LANES` lanes from step ``first`` on; return the number of steps taken.

    Arguments as `loops.play_lane`, but ``waves``, ``rows`` (its ``ends``, [`ROWS`]), ``modes`` and ``hairs``
    are flat.
    """
    n = numbers
    zero = n.one - n.one
    towards_nut, towards_bridge, torsion_nut, torsion_bridge = waves
    points = towards_nut.shape[0] // LANES
    torsion_points = torsion_nut.shape[0] // LANES
    count = at.shape[1]
    mode_count = body_numbers.shape[1]
    has_torsion = n.y_torsion > zero

    up = (points - first % points) % points
    down = first % points
    torsion_up = (torsion_points - first % torsion_points) % torsion_points
    torsion_down = first % torsion_points
    # The velocity with which the body's modes enter the first step.
    for i in range(LANES):
        rows[_HISTORY + i] = zero
    for m in range(mode_count):
        for i in range(LANES):
            rows[_HISTORY + i] += modes[np.uintp(m) * _MODE + np.uintp(i)]
    done = 0
    for s in range(lengths.shape[0]):
        for i in range(LANES):
            rows[_SPEED + i] = speed[s, i]
            rows[_SPEED_STEP + i] = (speed[s + 1, i] - speed[s, i]) * per_length[s]
            rows[_WEIGHT + i] = weight[s, i]
            rows[_WEIGHT_STEP + i] = (weight[s + 1, i] - weight[s, i]) * per_length[s]
            middle = n.half * (weight[s, i] + weight[s + 1, i])
            rows[_ROOT + i] = n.one / math.sqrt(max(middle, n.least_weight))
        nut_at, tune = nut[s], tuning[s]
        far = torsion_part[s]
        near = n.one - far
        y_torsion = (near * near + far * far) * n.y_torsion
        Y = n.y_string + y_torsion + n.y_hair
        step = zero
        for i_step in range(lengths[s]):
            for i in range(LANES):
                rows[_SOUND + i] = zero
                rows[_SPIN + i] = zero
                rows[_VELOCITY + i] = zero
            nut_out = nut_at + up
            nut_out = nut_out - points if nut_out >= points else nut_out
            bridge_out = down - 1 if down > 0 else points - 1
            nut_in = nut_at - 1 + down
            nut_in = nut_in - points if nut_in >= points else nut_in
            _ends_lanes(
                towards_nut,
                np.uintp(nut_out) * _LANES,
                np.uintp(up) * _LANES,
                towards_bridge,
                np.uintp(bridge_out) * _LANES,
                np.uintp(nut_in) * _LANES,
                rows,
                sections,
                tune,
                n,
            )
            kept = done + i_step - kept_from
            if kept >= 0:
                for m in range(mode_count):
                    _sound_lanes(modes, np.uintp(m) * _MODE, rows, body_numbers[2, m], body_numbers[4, m])
            for i in range(LANES):
                rows[_HISTORY + i] = zero
            for m in range(0, mode_count, 2):
                _body_lanes(modes, np.uintp(m) * _MODE, rows, body_numbers, m)
            x0, y0 = torsion_at[s] + torsion_up, torsion_at[s] + torsion_down
            x0 = x0 - torsion_points if x0 >= torsion_points else x0
            x1 = x0 + 1 if x0 + 1 < torsion_points else 0
            y0 = y0 - torsion_points if y0 >= torsion_points else y0
            y1 = y0 + 1 if y0 + 1 < torsion_points else 0
            near_x, far_x = np.uintp(x0) * _LANES, np.uintp(x1) * _LANES
            near_y, far_y = np.uintp(y0) * _LANES, np.uintp(y1) * _LANES
            if has_torsion:
                torsion_out = torsion_down - 1 if torsion_down > 0 else torsion_points - 1
                _torsion_lanes(
                    torsion_nut,
                    np.uintp(torsion_up) * _LANES,
                    torsion_bridge,
                    np.uintp(torsion_out) * _LANES,
                    rows,
                    n,
                )
                _spin_lanes(torsion_nut, near_x, torsion_bridge, near_y, rows, near)
                _spin_lanes(torsion_nut, far_x, torsion_bridge, far_y, rows, far)
            for j in range(count):
                x = at[s, j] + up
                x = x - points if x >= points else x
                y = at[s, j] + down
                y = y - points if y >= points else y
                to_x, to_y, h = np.uintp(x) * _LANES, np.uintp(y) * _LANES, np.uintp(j) * _HAIR
                share, root = shares[s, j], roots[s, j]
                if law == 0:
                    _thermal_lanes(
                        hairs,
                        h,
                        towards_nut,
                        to_x,
                        towards_bridge,
                        to_y,
                        rows,
                        Y,
                        y_torsion,
                        share,
                        root,
                        step,
                        n,
                        laws[0],
                    )
                elif law == 1:
                    _hyperbolic_lanes(
                        hairs,
                        h,
                        towards_nut,
                        to_x,
                        towards_bridge,
                        to_y,
                        rows,
                        Y,
                        y_torsion,
                        share,
                        root,
                        step,
                        n,
                        laws[1],
                    )
                else:
                    _steady_lanes(
                        hairs,
                        h,
                        towards_nut,
                        to_x,
                        towards_bridge,
                        to_y,
                        rows,
                        Y,
                        y_torsion,
                        share,
                        root,
                        step,
                        n,
                        laws[2],
                    )
                if kept >= 0:
                    for i in range(LANES):
                        out_sliding[kept, j, i] = rows[_SLIDING + i]
            if has_torsion:
                _twist_lanes(torsion_nut, near_x, rows, near * n.y_torsion)
                _twist_lanes(torsion_bridge, near_y, rows, near * n.y_torsion)
                _twist_lanes(torsion_nut, far_x, rows, far * n.y_torsion)
                _twist_lanes(torsion_bridge, far_y, rows, far * n.y_torsion)
            step += n.one
            if kept >= 0:
                for i in range(LANES):
                    out_velocity[kept, i] = rows[_VELOCITY + i] * n.per_point
                    out_force[kept, i] = rows[_BRIDGE_FORCE + i]
                    out_sound[kept, i] = rows[_SOUND + i]
            up = up - 1 if up > 0 else points - 1
            down = down + 1 if down + 1 < points else 0
            torsion_up = torsion_up - 1 if torsion_up > 0 else torsion_points - 1
            torsion_down = torsion_down + 1 if torsion_down + 1 < torsion_points else 0
        done += lengths[s]
    return done
