/* The step of one bowed string in C, written for the benchmark only: what does the engine's compiler cost?
 *
 * A transcription of colophony/physics/kernel/loops.py (play_lane, one segment, thermal law) with its bodies
 * from kernel/string.py and friction/van_walstijn_2026.py, in the same order of operations. Compile with
 * -DREAL=double or -DREAL=float. tests/test_bench.py holds its output against the engine's.
 */

#include <math.h>
#include <tgmath.h>

typedef REAL real;

/* Fields of StringNumbers and of van_walstijn_2026.Numbers, flattened, in their order. */
enum {
    ONE, HALF, LEAST_WEIGHT, DT, Z0, Y_STRING, Y_TORSION, Y_HAIR, HAIR_SPRING, HAIR_KEEP, PER_POINT,
    BRIDGE, NUT = BRIDGE + 4, TORSION_END = NUT + 4, BODY_KEEP = TORSION_END + 4, BODY_DRIVE, DISPERSION
};
enum {
    L_ONE, L_HALF, HALF_DT, Q_FROM, Q_FALLS, SIGMA0, PER_SIGMA0, MU_S, P1, P2, P3, Q1, Q2, Q3, PER_TAU_G, TAU_G2,
    Y_A, RISE, RISE_TAU_G2, RISE_BEGINS, HEATING, HEAT_STEP, B_TAU, C_TAU, STILL
};
/* Rows of a hair behind the three of the law. */
enum { DEFLECTION = 3, VELOCITY, FORCE, Q, H, LEAN, ALONE, DRIVE, HAIR };
/* Rows of `ends`. */
enum {
    BRIDGE_LOW, BRIDGE_SLOW, NUT_LOW, NUT_SLOW, TUNING, BRIDGE_FORCE,
    TB_LOW, TB_SLOW, TN_LOW, TN_SLOW, FRICTION, ENDS
};

static inline real reflect(real x, real *low, real *slow, const real *end)
{
    *low = end[1] * *low + end[0] * x;
    *slow = end[3] * *slow + end[2] * x;
    return *low + *slow;
}

static inline real allpass(real x, real *memory, real c)
{
    real y = c * x + *memory;
    *memory = x - c * y;
    return y;
}

/* What the rosin of one hair brings along; `hair` is z, tau, root. */
static inline void hair_ready(real Y, real F, real *hair, real r, const real *c)
{
    real z = hair[0], tau = hair[1], root = hair[2];
    real n = root * root * c[PER_TAU_G] + c[STILL];
    real d = c[B_TAU] * root * r + c[C_TAU];
    real d2 = d * d, n2 = n * n;
    real P = d * (d2 * c[MU_S] + n * (d * c[P1] + n * c[P2])) + n2 * n * c[P3];
    real Qs = d * (d2 + n * (d * c[Q1] + n * c[Q2])) + n2 * n * c[Q3];
    real x = tau * tau;
    real per_rise = Qs * (c[RISE_TAU_G2] + c[RISE] * x) / (P * (c[TAU_G2] + c[Y_A] * x));
    real rise = fabs(z) * per_rise - c[RISE_BEGINS];
    rise = rise < 0 ? 0 : rise > 1 ? 1 : rise;
    real k = Y * F * c[SIGMA0];
    hair[Q] = rise * rise * (c[Q_FROM] - c[Q_FALLS] * rise) * per_rise;
    hair[H] = c[L_HALF] + k * c[HALF_DT];
    hair[LEAN] = k * z;
}

/* One hair under the thermal elasto-plastic law; returns the force. */
static inline real hair_step(
    real drive, real push, real Y, real Z, real F, real per_F, real *hair, real r, const real *c, real *velocity)
{
    real z = hair[0], tau = hair[1], lean = hair[LEAN];
    real s = copysign((real)1, drive);
    real q = z * drive > 0 ? hair[Q] : 0;
    drive = fabs(drive);
    real h = hair[H] - q * (drive + s * lean);
    real whole = fabs(h) + sqrt(h * h + q * (drive + drive));
    real u = (h > 0 ? drive : whole) / (h > 0 ? whole : q + q);
    real most = c[MU_S] * F;
    real loose = push - s * Z * u;
    real f = loose > -most ? loose : -most;
    f = f < most ? f : most;
    real v = fabs(loose) > most ? s * drive + lean - Y * f : s * u;
    u = fabs(v);
    z = f * per_F * c[PER_SIGMA0];
    real root = sqrt(u);
    real warmed = tau + c[HEATING] * (z * z) * ((q + q) * u) + c[STILL];
    hair[0] = z;
    hair[1] = warmed / (1 + c[HEAT_STEP] * (c[B_TAU] * root * r + c[C_TAU]));
    hair[2] = root;
    *velocity = v;
    return f;
}

void play(
    long steps, long first, const real *n, const real *law, long sections, long nut, real tuning,
    const long *at, long torsion_at, real far, const real *shares, const real *roots,
    real speed0, real speed1, real weight0, real weight1,
    long points, real *towards_nut, real *towards_bridge,
    long torsion_points, real *torsion_nut, real *torsion_bridge,
    real *ends, long mode_count, real *modes, const real *body, long count, real *hairs,
    real *out_velocity, real *out_force, real *out_sound, real *out_sliding)
{
    real speed_step = (speed1 - speed0) / steps, weight_step = (weight1 - weight0) / steps;
    real middle = (real)0.5 * (weight0 + weight1);
    real root_per_weight = 1 / sqrt(middle > n[LEAST_WEIGHT] ? middle : n[LEAST_WEIGHT]);
    real near = 1 - far;
    real y_torsion = (near * near + far * far) * n[Y_TORSION];
    real Y = n[Y_STRING] + y_torsion + n[Y_HAIR];
    real Z = 1 / Y, torsion_share = y_torsion * Z;
    real bridge_force = ends[BRIDGE_FORCE], friction = ends[FRICTION];
    long up = (points - first % points) % points, down = first % points;
    long torsion_up = (torsion_points - first % torsion_points) % torsion_points;
    long torsion_down = first % torsion_points;

    real carried = 0;
    for (long m = 0; m < mode_count; m++)
        carried += body[2 * mode_count + m] * modes[m];

    for (long i = 0; i < steps; i++) {
        real bow_speed = speed0 + speed_step * i, bow_weight = weight0 + weight_step * i;
        real per_weight = 1 / (bow_weight > n[LEAST_WEIGHT] ? bow_weight : n[LEAST_WEIGHT]);

        for (long j = 0; j < count; j++)
            hair_ready(Y, bow_weight * shares[j], hairs + HAIR * j, root_per_weight * roots[j], law);

        long leaving = nut + up;
        leaving = leaving >= points ? leaving - points : leaving;
        real to_nut = towards_nut[leaving];
        leaving = down > 0 ? down - 1 : points - 1;
        real to_bridge = towards_bridge[leaving];

        to_bridge = reflect(to_bridge, &ends[BRIDGE_LOW], &ends[BRIDGE_SLOW], n + BRIDGE);
        real bridge_velocity = n[BODY_KEEP] * carried + n[BODY_DRIVE] * to_bridge;
        bridge_force = n[Z0] * (2 * to_bridge - bridge_velocity);
        towards_nut[up] = bridge_velocity - to_bridge;

        to_nut = reflect(to_nut, &ends[NUT_LOW], &ends[NUT_SLOW], n + NUT);
        for (long k = 0; k < sections; k++)
            to_nut = allpass(to_nut, &ends[ENDS + k], n[DISPERSION]);
        to_nut = allpass(to_nut, &ends[TUNING], tuning);
        long entering = nut - 1 + down;
        entering = entering >= points ? entering - points : entering;
        towards_bridge[entering] = -to_nut;

        real sound = 0;
        carried = 0;
        for (long m = 0; m < mode_count; m++) {
            real w = body[3 * mode_count + m];
            real v = modes[m] + bridge_force;
            real p = modes[mode_count + m] + w * v;
            real h = body[m] * v + bridge_force - body[mode_count + m] * p;
            modes[m] = h;
            modes[mode_count + m] = p + w * v;
            carried += body[2 * mode_count + m] * h;
            sound += body[4 * mode_count + m] * v;
        }

        real spin = 0;
        long x0 = 0, x1 = 0, y0 = 0, y1 = 0;
        if (n[Y_TORSION] > 0) {
            real wave = reflect(torsion_nut[torsion_up], &ends[TN_LOW], &ends[TN_SLOW], n + TORSION_END);
            leaving = torsion_down > 0 ? torsion_down - 1 : torsion_points - 1;
            real back = reflect(torsion_bridge[leaving], &ends[TB_LOW], &ends[TB_SLOW], n + TORSION_END);
            torsion_nut[torsion_up] = -back;
            torsion_bridge[leaving] = -wave;
            x0 = torsion_at + torsion_up;
            x0 = x0 >= torsion_points ? x0 - torsion_points : x0;
            x1 = x0 + 1 < torsion_points ? x0 + 1 : 0;
            y0 = torsion_at + torsion_down;
            y0 = y0 >= torsion_points ? y0 - torsion_points : y0;
            y1 = y0 + 1 < torsion_points ? y0 + 1 : 0;
            spin = near * (torsion_nut[x0] + torsion_bridge[y0]) + far * (torsion_nut[x1] + torsion_bridge[y1]);
        }

        for (long j = 0; j < count; j++) {
            real *hair = hairs + HAIR * j;
            long x = at[j] + up, y = at[j] + down;
            x = x >= points ? x - points : x;
            y = y >= points ? y - points : y;
            hair[VELOCITY] = (hair[VELOCITY] - n[HAIR_SPRING] * hair[DEFLECTION]) * n[HAIR_KEEP];
            real alone = bow_speed + hair[VELOCITY] - towards_nut[x] - towards_bridge[y] - spin;
            hair[ALONE] = alone + hair[FORCE] * y_torsion;
            hair[DRIVE] = hair[ALONE] - hair[LEAN];
        }
        real velocity = 0;
        for (long j = 0; j < count; j++) {
            real *hair = hairs + HAIR * j;
            long x = at[j] + up, y = at[j] + down;
            x = x >= points ? x - points : x;
            y = y >= points ? y - points : y;
            real F = bow_weight * shares[j];
            real per_F = per_weight / (shares[j] > n[LEAST_WEIGHT] ? shares[j] : n[LEAST_WEIGHT]);
            real drive = hair[DRIVE] - friction * y_torsion;
            real push = hair[ALONE] * Z - friction * torsion_share;
            real others = friction - hair[FORCE];
            real v;
            real f = hair_step(drive, push, Y, Z, F, per_F, hair, root_per_weight * roots[j], law, &v);
            real moving = hair[VELOCITY] - n[Y_HAIR] * f;
            hair[DEFLECTION] += n[DT] * moving;
            hair[VELOCITY] = moving;
            hair[FORCE] = f;
            friction = others + f;
            towards_nut[x] += f * n[Y_STRING];
            towards_bridge[y] += f * n[Y_STRING];
            velocity += bow_speed + moving - v;
            out_sliding[i * count + j] = v;
        }
        if (n[Y_TORSION] > 0) {
            torsion_nut[x0] += near * friction * n[Y_TORSION];
            torsion_bridge[y0] += near * friction * n[Y_TORSION];
            torsion_nut[x1] += far * friction * n[Y_TORSION];
            torsion_bridge[y1] += far * friction * n[Y_TORSION];
        }
        out_velocity[i] = velocity * n[PER_POINT];
        out_force[i] = bridge_force;
        out_sound[i] = sound;
        up = up > 0 ? up - 1 : points - 1;
        down = down + 1 < points ? down + 1 : 0;
        torsion_up = torsion_up > 0 ? torsion_up - 1 : torsion_points - 1;
        torsion_down = torsion_down + 1 < torsion_points ? torsion_down + 1 : 0;
    }
    ends[BRIDGE_FORCE] = bridge_force;
    ends[FRICTION] = friction;
}
