/* The yardstick of lockstep_speed.py: the lap of sim.lap in C, for a car without motor or solid axle, in still air, no wheel sliding or
   lifted (told by the return value).  The same order of operations; the state, figures and tables come from Python.  LANES is 1 or
   that of sim.lap.lockstep.lanes; POWER_PLACE and DRIVER_PLACE are its places of those names. */
#include <math.h>
#include <string.h>

#define L LANES
#define STATES 40
#define LEDGER 11
#define FLOW 32
#define G 9.81
#define CRAWL 0.02
#define AT(a, k) a[(k) * L + lane]
#define INLINE static inline __attribute__((always_inline))

enum { VX, VY, R, SLIP, STEER = 7, S, E, H, WORK, AIR, ROLL, BRAKE, HEIGHT, LAT, LONG = 20, ALIGN = 24, HAND, STORED, RUB, E2 = 31 };
enum { MASS, BASE, FTRACK, RTRACK, ARM, HIGH, IZ, AREA, RHO, DRIVE, FRONT, REAR = 18, POWER = POWER_PLACE, LEAST = POWER + 3, MOST, FIRST, DENSITY, LENGTH,
       RDENSITY, STEP, NEAREST = DRIVER_PLACE, SETTLING, TURNING_IN, UNDERSTEER, DRIFT };
enum { CY, SENS, CX, RELAX, TRAIL, CCAM, MU, CRR };

INLINE double lo(double a, double b) { return b < a ? b : a; }
INLINE double hi(double a, double b) { return b > a ? b : a; }
INLINE double cut(double f, double l) { return lo(hi(f, -l), l); }
/* A column among n of a cell. */
INLINE double cubic(const double *c, int n, double t) { return c[0] + t * (c[n] + t * (c[2 * n] + t * c[3 * n])); }
INLINE double slope(const double *c, int n, double t) { return c[n] + t * (2.0 * c[2 * n] + t * 3.0 * c[3 * n]); }

INLINE long cell(double scaled, long count, double *t) {
    double s = lo(hi(0.0, scaled), (double)count);
    long i = (long)s < count - 1 ? (long)s : count - 1;
    *t = s - i;
    return i;
}

INLINE void turn(double a, double *sine, double *cosine) {
    double n = rint(a * 0.6366197723675814);
    a = (a - n * 1.5707963267341256) - n * 6.077100506506192e-11;
    double z = a * a, s, c;
    s = -2.5051131455427946e-08 + z * 1.591810123027412e-10;
    s = -0.0001984126983675497 + z * (2.755731610068303e-06 + z * s);
    s = a + a * z * (-0.16666666666666666 + z * (0.008333333333330946 + z * s));
    c = 2.0876146024689747e-09 + z * -1.1382614868556325e-11;
    c = 2.4801587298763433e-05 + z * (-2.7557317270560326e-07 + z * c);
    c = 1.0 - (0.5 * z - z * z * (0.041666666666666664 + z * (-0.0013888888888887395 + z * c)));
    double q = n - 4.0 * rint(n * 0.25);
    int odd = q * q == 1.0;
    double f = odd ? c : s, g = odd ? s : c;
    *sine = (q < 0.0) | (q > 1.5) ? -f : f;
    *cosine = (q > 0.5) | (q < -1.5) ? -g : g;
}

INLINE double arc(double height, double base) {
    double a = fabs(height), half = 1.5707963267948966;
    int steep = a > 2.414213562373095 * base, mid = a > 0.41421356237309503 * base;
    double t = (steep ? -base : mid ? a - base : a) / (steep ? a : mid ? a + base : base), z = t * t, s;
    s = 0.03922923713835943 + z * -0.01917392228554793;
    s = 0.05858132894427922 + z * (-0.05085365922344248 + z * s);
    s = 0.07692183059894114 + z * (-0.06664509603255386 + z * s);
    s = 0.11111111015117626 + z * (-0.09090904572487347 + z * s);
    s = 0.19999999999995513 + z * (-0.1428571428466482 + z * s);
    double r = (steep ? half : mid ? half / 2 : 0.0) + (t + t * z * (-0.3333333333333333 + z * s));
    return height < 0.0 ? -r : r;
}

static void place(const double *restrict fig, long hn, long rn, const double *restrict st, long *restrict row, double *restrict at) {
    #pragma GCC ivdep
    for (int lane = 0; lane < L; lane++) {
        double s = AT(st, S), a = s + 0.12 * AT(st, VX), len = AT(fig, LENGTH), d = AT(fig, RDENSITY);
        AT(row, 0) = cell((s >= len ? s - len : s) * d, rn, &AT(at, 0));
        AT(row, 1) = cell((a >= len ? a - len : a) * d, rn, &AT(at, 1));
        AT(row, 2) = cell((AT(st, STEER) - AT(fig, FIRST)) * AT(fig, DENSITY), hn, &AT(at, 2));
    }
}

static void look(const double *restrict fig, const double *restrict hands, const double *restrict road, const long *restrict row,
                 const double *restrict at, double *restrict seen) {
    for (int lane = 0; lane < L; lane++) {
        const double *c = road + 16 * AT(row, 0), *d = road + 16 * AT(row, 1), *h = hands + 32 * AT(row, 2);
        double t = AT(at, 0), u = AT(at, 1), w = AT(at, 2), values[8];
        AT(seen, 0) = cubic(c, 4, t), AT(seen, 1) = cubic(c + 1, 4, t), AT(seen, 2) = cubic(c + 2, 4, t);
        AT(seen, 3) = slope(c + 2, 4, t) * AT(fig, RDENSITY), AT(seen, 5) = cubic(d, 4, u);
        for (int k = 0; k < 8; k++) values[k] = cubic(h + k, 8, w);
        for (int k = 0; k < 2; k++) {
            AT(seen, 6 + k) = values[k], AT(seen, 8 + k) = slope(h + k, 8, w) * AT(fig, DENSITY);
            AT(seen, 10 + k) = values[2 + k], AT(seen, 12 + k) = values[4 + k], AT(seen, 14 + k) = values[6 + k];
        }
    }
}

static void move(const double *restrict fig, const double *restrict seen, const double *restrict st, double *restrict rate,
                 double *restrict told) {
    #pragma GCC ivdep
    for (int lane = 0; lane < L; lane++) {
        double vx = AT(st, VX), vy = AT(st, VY), r = AT(st, R), e = AT(st, E), sh, ch, bend = AT(seen, 0);
        double m = AT(fig, MASS), arm = AT(fig, ARM), base = AT(fig, BASE), wt = m * G;
        turn(AT(st, H), &sh, &ch);
        double along = ch * vx - sh * vy, off = sh * vx + ch * vy, stretch = 1.0 / hi(1.0 - e * bend, 0.1), prog = along * stretch;
        double v = sqrt(vx * vx + vy * vy), wanted = 0.5 * AT(seen, 3) + 2.0 * (sqrt(hi(AT(seen, 2), 0.0)) - v);
        double per = 1.0 / hi(v, 1e-9), back = base - arm, v2 = v * v;
        double factor = lo(hi(1.0 + AT(fig, UNDERSTEER) * v2, 0.05), 3.0);
        double pre = hi(hi(0.45 * v, AT(fig, NEAREST)), v2 * hi(AT(fig, SETTLING), AT(fig, TURNING_IN) / factor));
        double nose = sh + AT(seen, 5) * (back - AT(fig, DRIFT) * v2);
        double want = AT(seen, 5) - 2.0 * (e + pre * nose) / (pre * pre), sb = lo(hi(back * want, -0.95), 0.95);
        double dem = lo(hi(arc(factor * base * want, sqrt(1.0 - sb * sb)), AT(fig, LEAST)), AT(fig, MOST));
        double turning = lo(hi((dem - AT(st, STEER)) * (1.0 / 0.1), -1.2), 1.2);
        double fall = -m * G * AT(seen, 1) * stretch, px = fall * ch, py = -fall * sh;
        int still = v < 1e-9;
        double ux = still ? 1.0 : vx * per, uy = still ? 0.0 : vy * per;
        double drag = 0.5 * AT(fig, RHO) * AT(fig, AREA) * v, ax = -drag * vx, ay = -drag * vy, most = AT(fig, POWER) * lo(per, 2.0);
        double x[4] = {arm + AT(seen, 10), arm + AT(seen, 11), arm - base, arm - base};
        double y[4] = {AT(seen, 12), AT(seen, 13), 0.5 * AT(fig, RTRACK), -0.5 * AT(fig, RTRACK)};
        double cam[4] = {AT(seen, 14), AT(seen, 15), 0.0, 0.0}, sr[2] = {AT(seen, 8) * turning, AT(seen, 9) * turning};
        double sx = x[0] + x[1] + x[2] + x[3], sy = y[0] + y[1] + y[2] + y[3], n = 4.0;
        double sxx = x[0] * x[0] + x[1] * x[1] + x[2] * x[2] + x[3] * x[3], sxy = x[0] * y[0] + x[1] * y[1] + x[2] * y[2] + x[3] * y[3];
        double syy = y[0] * y[0] + y[1] * y[1] + y[2] * y[2] + y[3] * y[3];
        syy = syy == 0.0 ? 1.0 : syy;
        double m0 = sxx * syy - sxy * sxy, m1 = sy * sxy - sx * syy, m2 = sx * sxy - sy * sxx, sha = 1.0 / (n * m0 + sx * m1 + sy * m2);
        double i0 = m0 * sha, i1 = m1 * sha, i2 = m2 * sha, i3 = (n * syy - sy * sy) * sha, i4 = (sx * sy - n * sxy) * sha,
               i5 = (n * sxx - sx * sx) * sha;
        double c[2], s[2], f[4], w[4], to[2], rl[4], N[4], rest[4], by[4], bl[4], mu[4], flat[4], bent[4], q[4], ro[4];
        double tread[4], slip[4], wish[4];
        double ahead = -m * r * vy, left = m * r * vx, deliver = 0.0, rare = 0.0, quarter = 0.25 * wt;
        #pragma GCC unroll 4
        for (int i = 0; i < 4; i++) {
            int T = i < 2 ? FRONT : REAR;
            double fa = vx - r * y[i], fl = vy + r * x[i];
            f[i] = fa, w[i] = fl;
            if (i < 2) {
                turn(AT(seen, 6 + i), &s[i], &c[i]);
                f[i] = fa * c[i] + fl * s[i], w[i] = fl * c[i] - fa * s[i];
                to[i] = c[i] * ux + s[i] * uy;
            }
            rl[i] = -AT(fig, T + CRR) * cut(f[i] * (1.0 / CRAWL), 1.0);
            rest[i] = wt * (i0 + i1 * x[i] + i2 * y[i]);
            by[i] = AT(fig, HIGH) * (i1 + i3 * x[i] + i4 * y[i]), bl[i] = AT(fig, HIGH) * (i2 + i4 * x[i] + i5 * y[i]);
            flat[i] = AT(fig, T + CY) * (1.0 + AT(fig, T + SENS)) * AT(st, SLIP + i);
            if (i < 2) flat[i] += AT(fig, T + CCAM) * cam[i];
            bent[i] = AT(fig, T + CY) * (AT(fig, T + SENS) / quarter) * AT(st, SLIP + i);
        }
        double pull = (ax + px) * ux + (ay + py) * uy;
        #pragma GCC unroll 4
        for (int pass = 0; pass < 3; pass++) {
            #pragma GCC unroll 4
            for (int i = 0; i < 4; i++) {
                int T = i < 2 ? FRONT : REAR;
                N[i] = rest[i] - ahead * by[i] - left * bl[i];
                mu[i] = AT(fig, T + MU) * N[i];
                q[i] = N[i] * (flat[i] - bent[i] * N[i]);
                ro[i] = rl[i] * N[i];
            }
            rare += lo(lo(N[0], N[1]), lo(N[2], N[3])) < 0.0 ? 1.0 : 0.0;
            double gx = (ro[0] * c[0] - q[0] * s[0]) + (ro[1] * c[1] - q[1] * s[1]) + (ro[2] + ro[3]);
            double gy = (ro[0] * s[0] + q[0] * c[0]) + (ro[1] * s[1] + q[1] * c[1]) + (q[2] + q[3]);
            double need = m * wanted - (pull + (gx * ux + gy * uy));
            double drive = need > 0.0 ? lo(need * (1.0 / ux), most) : 0.0;
            double brake = need < 0.0 ? need / (N[0] * to[0] + N[1] * to[1] + (N[2] + N[3]) * ux) : 0.0;
            double front = cut(brake, 0.98 * AT(fig, FRONT + MU)), rear = cut(brake, 0.98 * AT(fig, REAR + MU));
            int one_left = AT(fig, DRIVE) == 0.0, one_right = AT(fig, DRIVE) == 1.0, drives = drive > 0.0;
            double grip = one_left ? mu[2] : one_right ? mu[3] : 2.0 * lo(mu[2], mu[3]);
            deliver = drives ? lo(drive, 0.98 * grip) : 0.0;
            double part = one_left | one_right ? deliver : 0.5 * deliver;
            wish[0] = front * N[0], wish[1] = front * N[1];
            wish[2] = drives ? (one_right ? 0.0 : part) : rear * N[2];
            wish[3] = drives ? (one_left ? 0.0 : part) : rear * N[3];
            double over = drives ? part : rear, cx = AT(fig, REAR + CX);
            slip[0] = slip[1] = front / AT(fig, FRONT + CX);
            slip[2] = over / (drives ? cx * N[2] : cx), slip[3] = over / (drives ? cx * N[3] : cx);
            #pragma GCC unroll 4
            for (int i = 0; i < 4; i++) {
                slip[i] = wish[i] == 0.0 ? 0.0 : slip[i];
                rare += wish[i] * wish[i] + q[i] * q[i] > mu[i] * mu[i] ? 1.0 : 0.0;
                tread[i] = f[i] + slip[i] * hi(fabs(f[i]), CRAWL);
            }
            ahead = (ax + gx) + ((wish[0] * c[0] + wish[1] * c[1]) + (wish[2] + wish[3]));
            left = (ay + gy) + (wish[0] * s[0] + wish[1] * s[1]);
        }
        double Q[4] = {AT(fig, FRONT + TRAIL) * q[0], AT(fig, FRONT + TRAIL) * q[1], AT(fig, REAR + TRAIL) * q[2], AT(fig, REAR + TRAIL) * q[3]};
        double p0 = wish[0] + ro[0], p1 = wish[1] + ro[1], al = Q[0] + Q[1] + Q[2] + Q[3], ha = Q[0] * sr[0] + Q[1] * sr[1];
        double mom = (x[0] * (p0 * s[0] + q[0] * c[0]) - y[0] * (p0 * c[0] - q[0] * s[0]))
                     + (x[1] * (p1 * s[1] + q[1] * c[1]) - y[1] * (p1 * c[1] - q[1] * s[1]))
                     + (x[2] * q[2] - y[2] * (wish[2] + ro[2])) + (x[3] * q[3] - y[3] * (wish[3] + ro[3])) - al;
        double perm = 1.0 / m;
        AT(rate, VX) = (ahead + px) * perm + r * vy, AT(rate, VY) = (left + py) * perm - r * vx, AT(rate, R) = mom / AT(fig, IZ);
        double held = 0.0, rolled = 0.0, store = 0.0;
        #pragma GCC unroll 4
        for (int i = 0; i < 4; i++) {
            int T = i < 2 ? FRONT : REAR;
            double a = AT(st, SLIP + i), da = (-w[i] - fabs(f[i]) * a) * (1.0 / AT(fig, T + RELAX)), d = tread[i] - f[i], z = a * f[i];
            AT(rate, SLIP + i) = da, AT(rate, LAT + i) = q[i] * a * fabs(f[i]), AT(rate, LONG + i) = wish[i] * d;
            AT(rate, RUB + i) = sqrt(z * z + d * d);
            held += wish[i] * tread[i], rolled += ro[i] * f[i];
            store += AT(fig, T + RELAX) * q[i] * da;
            AT(told, i) = N[i];
        }
        int ol = AT(fig, DRIVE) == 0.0, orr = AT(fig, DRIVE) == 1.0;
        double tr = ol ? tread[2] : orr ? tread[3] : 0.5 * (tread[2] + tread[3]);
        AT(rate, STEER) = turning, AT(rate, S) = prog, AT(rate, E) = off, AT(rate, H) = r - bend * prog;
        AT(rate, WORK) = deliver > 0.0 ? deliver * tr : 0.0, AT(rate, BRAKE) = deliver > 0.0 ? 0.0 : -held;
        AT(rate, AIR) = -(ax * vx + ay * vy), AT(rate, ROLL) = -rolled, AT(rate, HEIGHT) = -(px * vx + py * vy);
        AT(rate, ALIGN) = al * r + ha, AT(rate, HAND) = ha, AT(rate, STORED) = store, AT(rate, E2) = e * e * prog;
        AT(told, 4) = rare;
    }
}

/* Drives `steps` steps; the state is changed in place.  Returns how often a wheel slid or lifted, which this text leaves out. */
double lap_steps(const double *fig, const double *hands, long hn, const double *road, long rn, double *state, double *extremes, long steps) {
    static __thread double seen[16 * L], rates[4][STATES * L], trial[LEDGER * L], told[5 * L], at[3 * L];
    static __thread long row[3 * L];
    double rare = 0.0;
    memset(rates, 0, sizeof rates), memset(seen, 0, sizeof seen);
    for (long step = 0; step < steps; step++) {
        for (int stage = 0; stage < 4; stage++) {
            const double *from = stage ? trial : state;
            double *to = rates[stage], reach = stage == 2 ? 1.0 : 0.5;
            place(fig, hn, rn, from, row, at);
            look(fig, hands, road, row, at, seen);
            move(fig, seen, from, to, told);
            if (stage == 0)
                for (int lane = 0; lane < L; lane++) {
                    AT(extremes, 1) = hi(AT(extremes, 1), fabs(AT(state, E)));
                    for (int i = 0; i < 4; i++) AT(extremes, 0) = lo(AT(extremes, 0), AT(told, i));
                    for (int i = 0; i < 4; i++)
                        AT(extremes, 2 + i) = fabs(AT(state, SLIP + i)) > fabs(AT(extremes, 2 + i)) ? AT(state, SLIP + i) : AT(extremes, 2 + i);
                }
            for (int lane = 0; lane < L; lane++) rare += AT(told, 4);
            if (stage < 3)
                for (int k = 0; k < LEDGER; k++)
                    for (int lane = 0; lane < L; lane++) AT(trial, k) = AT(state, k) + reach * AT(fig, STEP) * AT(to, k);
        }
        for (int k = 0; k < FLOW; k++)
            for (int lane = 0; lane < L; lane++)
                AT(state, k) += AT(fig, STEP) / 6.0
                                * ((AT(rates[0], k) + AT(rates[3], k)) + 2.0 * (AT(rates[1], k) + AT(rates[2], k)));
    }
    return rare;
}
