/* The yardstick of lockstep_speed.py: the lap of sim.lap in C, for a car without motor or solid axle, in still air, no wheel sliding or
   lifted (told by the return value).  The same order of operations; the state, figures and tables come from Python.  LANES is 1 or 16. */
#include <math.h>
#include <string.h>

#define L LANES
#define STATES 40
#define LEDGER 11
#define G 9.81
#define CRAWL 0.02
#define AT(a, k) a[(k) * L + lane]
#define INLINE static inline __attribute__((always_inline))

enum { VX, VY, R, SLIP, STEER = 7, S, E, H, WORK, AIR, ROLL, BRAKE, HEIGHT, LAT, LONG = 20, ALIGN = 24, HAND, STORED, RUB, E2 = 31 };
enum { MASS, BASE, FTRACK, RTRACK, ARM, HIGH, IZ, AREA, RHO, DRIVE, FRONT, REAR = 18, POWER = 39, LEAST = 42, MOST, FIRST, SPACE, LENGTH,
       RSPACE, STEP };
enum { CY, SENS, CX, RELAX, TRAIL, CCAM, MU, CRR };

INLINE double lo(double a, double b) { return b < a ? b : a; }
INLINE double hi(double a, double b) { return b > a ? b : a; }
INLINE double cut(double f, double l) { return lo(hi(f, -l), l); }
INLINE double cubic(const double *c, double t) { return c[0] + t * (c[1] + t * (c[2] + t * c[3])); }
INLINE double slope(const double *c, double t) { return c[1] + t * (2.0 * c[2] + t * 3.0 * c[3]); }

INLINE long cell(double place, double space, long count, double *t) {
    double s = lo(hi(0.0, place / space), (double)count);
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

INLINE double arc(double x) {
    double a = fabs(x), half = 1.5707963267948966;
    int steep = a > 2.414213562373095, mid = a > 0.41421356237309503;
    double t = (steep ? -1.0 : mid ? a - 1.0 : a) / (steep ? a : mid ? a + 1.0 : 1.0), z = t * t, s;
    s = 0.03922923713835943 + z * -0.01917392228554793;
    s = 0.05858132894427922 + z * (-0.05085365922344248 + z * s);
    s = 0.07692183059894114 + z * (-0.06664509603255386 + z * s);
    s = 0.11111111015117626 + z * (-0.09090904572487347 + z * s);
    s = 0.19999999999995513 + z * (-0.1428571428466482 + z * s);
    double r = (steep ? half : mid ? half / 2 : 0.0) + (t + t * z * (-0.3333333333333333 + z * s));
    return x < 0.0 ? -r : r;
}

static void look(const double *restrict fig, const double *restrict hands, long hn, const double *restrict road, long rn,
                 const double *restrict st, double *restrict seen) {
    for (int lane = 0; lane < L; lane++) {
        double t, u, w, s = AT(st, S), a = s + 0.12 * AT(st, VX), len = AT(fig, LENGTH), sp = AT(fig, RSPACE);
        const double *c = road + 16 * cell(s >= len ? s - len : s, sp, rn, &t);
        const double *d = road + 16 * cell(a >= len ? a - len : a, sp, rn, &u);
        AT(seen, 0) = cubic(c, t), AT(seen, 1) = cubic(c + 4, t), AT(seen, 2) = cubic(c + 8, t);
        AT(seen, 3) = slope(c + 8, t) / sp, AT(seen, 5) = cubic(d, u);
        double hs = AT(fig, SPACE);
        const double *h = hands + 36 * cell(AT(st, STEER) - AT(fig, FIRST), hs, hn, &w);
        for (int k = 0; k < 2; k++) {
            AT(seen, 6 + k) = cubic(h + 4 + 4 * k, w), AT(seen, 8 + k) = slope(h + 4 + 4 * k, w) / hs;
            AT(seen, 10 + k) = cubic(h + 12 + 4 * k, w), AT(seen, 12 + k) = cubic(h + 20 + 4 * k, w);
            AT(seen, 14 + k) = cubic(h + 28 + 4 * k, w);
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
        double back = base - arm, pre = hi(0.45 * v, 2.2 * back);
        double want = AT(seen, 5) - 2.0 * (e + pre * (off / hi(v, 0.1))) / (pre * pre), sb = lo(hi(back * want, -0.95), 0.95);
        double dem = lo(hi(arc(base * want / sqrt(1.0 - sb * sb)), AT(fig, LEAST)), AT(fig, MOST));
        double turning = lo(hi((dem - AT(st, STEER)) / 0.1, -1.2), 1.2);
        double fall = -m * G * AT(seen, 1) * stretch, px = fall * ch, py = -fall * sh;
        double travel = sqrt((vx + 1e-9) * (vx + 1e-9) + vy * vy), ux = (vx + 1e-9) / travel, uy = vy / travel;
        double drag = 0.5 * AT(fig, RHO) * AT(fig, AREA) * v, ax = -drag * vx, ay = -drag * vy, most = AT(fig, POWER) / hi(v, 0.5);
        double x[4] = {arm + AT(seen, 10), arm + AT(seen, 11), arm - base, arm - base};
        double y[4] = {AT(seen, 12), AT(seen, 13), 0.5 * AT(fig, RTRACK), -0.5 * AT(fig, RTRACK)};
        double cam[4] = {AT(seen, 14), AT(seen, 15), 0.0, 0.0}, sr[4] = {AT(seen, 8) * turning, AT(seen, 9) * turning, 0.0, 0.0};
        double sx = x[0] + x[1] + x[2] + x[3], sy = y[0] + y[1] + y[2] + y[3], n = 4.0;
        double sxx = x[0] * x[0] + x[1] * x[1] + x[2] * x[2] + x[3] * x[3], sxy = x[0] * y[0] + x[1] * y[1] + x[2] * y[2] + x[3] * y[3];
        double syy = y[0] * y[0] + y[1] * y[1] + y[2] * y[2] + y[3] * y[3];
        syy = syy == 0.0 ? 1.0 : syy;
        double m0 = sxx * syy - sxy * sxy, m1 = sy * sxy - sx * syy, m2 = sx * sxy - sy * sxx, sha = 1.0 / (n * m0 + sx * m1 + sy * m2);
        double i0 = m0 * sha, i1 = m1 * sha, i2 = m2 * sha, i3 = (n * syy - sy * sy) * sha, i4 = (sx * sy - n * sxy) * sha,
               i5 = (n * sxx - sx * sx) * sha;
        double c[4], s[4], f[4], w[4], to[4], ac[4], rl[4], N[4], mu[4], q[4], ro[4], F[4], lon[4], tread[4], slip[4], wish[4];
        double ahead = -m * r * vy, left = m * r * vx, mom = 0.0, deliver = 0.0, rare = 0.0, quarter = 0.25 * wt;
        #pragma GCC unroll 4
        for (int i = 0; i < 4; i++) {
            if (i < 2) turn(AT(seen, 6 + i), &s[i], &c[i]); else s[i] = 0.0, c[i] = 1.0;
            double fa = vx - r * y[i], fl = vy + r * x[i];
            f[i] = fa * c[i] + fl * s[i], w[i] = fl * c[i] - fa * s[i];
            to[i] = c[i] * ux + s[i] * uy, ac[i] = c[i] * uy - s[i] * ux;
            rl[i] = -AT(fig, (i < 2 ? FRONT : REAR) + CRR) * (f[i] / hi(fabs(f[i]), CRAWL));
        }
        double pull = (ax + px) * ux + (ay + py) * uy;
        #pragma GCC unroll 4
        for (int pass = 0; pass < 3; pass++) {
            double b1 = -ahead * AT(fig, HIGH), b2 = -left * AT(fig, HIGH);
            double c0 = wt * i0 + b1 * i1 + b2 * i2, c1 = wt * i1 + b1 * i3 + b2 * i4, c2 = wt * i2 + b1 * i4 + b2 * i5, sum = pull, br = 0.0;
            #pragma GCC unroll 4
            for (int i = 0; i < 4; i++) {
                int T = i < 2 ? FRONT : REAR;
                N[i] = c0 + c1 * x[i] + c2 * y[i];
                rare += N[i] < 0.0 ? 1.0 : 0.0;
                mu[i] = AT(fig, T + MU) * N[i];
                q[i] = AT(fig, T + CY) * N[i] * (1.0 - AT(fig, T + SENS) / quarter * (N[i] - quarter)) * AT(st, SLIP + i)
                       + AT(fig, T + CCAM) * N[i] * cam[i];
                ro[i] = rl[i] * N[i];
                sum += ro[i] * to[i] + cut(q[i], mu[i]) * ac[i];
                br += N[i] * to[i];
            }
            double need = m * wanted - sum, all = N[0] + N[1] + N[2] + N[3];
            double drive = need > 0.0 ? lo(need / ux, most) : 0.0, brake = need < 0.0 ? need * all / br : 0.0, share = brake / all;
            int one_left = AT(fig, DRIVE) == 0.0, one_right = AT(fig, DRIVE) == 1.0;
            double grip = one_left ? mu[2] : one_right ? mu[3] : 2.0 * lo(mu[2], mu[3]);
            deliver = drive > 0.0 ? lo(drive, 0.98 * grip) : 0.0;
            double part = one_left | one_right ? deliver : 0.5 * deliver;
            ahead = ax, left = ay, mom = 0.0;
            #pragma GCC unroll 4
            for (int i = 0; i < 4; i++) {
                int T = i < 2 ? FRONT : REAR;
                wish[i] = cut(share * N[i], 0.98 * mu[i]);
                if (i == 2) wish[i] = drive > 0.0 ? (one_right ? 0.0 : part) : wish[i];
                if (i == 3) wish[i] = drive > 0.0 ? (one_left ? 0.0 : part) : wish[i];
                slip[i] = wish[i] == 0.0 ? 0.0 : wish[i] / (AT(fig, T + CX) * N[i]);
                rare += wish[i] * wish[i] + q[i] * q[i] > mu[i] * mu[i] ? 1.0 : 0.0;
                tread[i] = f[i] + slip[i] * hi(fabs(f[i]), CRAWL);
                lon[i] = wish[i];
                double p = lon[i] + ro[i], fx = p * c[i] - q[i] * s[i], fy = p * s[i] + q[i] * c[i];
                ahead += fx, left += fy;
                mom += x[i] * fy - y[i] * fx - AT(fig, T + TRAIL) * q[i];
            }
        }
        AT(rate, VX) = (ahead + px) / m + r * vy, AT(rate, VY) = (left + py) / m - r * vx, AT(rate, R) = mom / AT(fig, IZ);
        double held = 0.0, rolled = 0.0, al = 0.0, ha = 0.0, store = 0.0;
        #pragma GCC unroll 4
        for (int i = 0; i < 4; i++) {
            int T = i < 2 ? FRONT : REAR;
            double a = AT(st, SLIP + i), da = (-w[i] - fabs(f[i]) * a) / AT(fig, T + RELAX), d = tread[i] - f[i], z = a * f[i];
            AT(rate, SLIP + i) = da, AT(rate, LAT + i) = q[i] * a * fabs(f[i]), AT(rate, LONG + i) = lon[i] * d;
            AT(rate, RUB + i) = sqrt(z * z + d * d);
            held += wish[i] * tread[i], rolled += ro[i] * f[i];
            double Q = AT(fig, T + TRAIL) * q[i];
            al += Q, ha += Q * sr[i], store += AT(fig, T + RELAX) * q[i] * da;
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
    static __thread double seen[16 * L], rate[STATES * L], first[STATES * L], trial[STATES * L], next[STATES * L], told[5 * L];
    double rare = 0.0;
    memset(rate, 0, sizeof rate), memset(first, 0, sizeof first), memset(seen, 0, sizeof seen);
    for (long step = 0; step < steps; step++) {
        for (int stage = 0; stage < 4; stage++) {
            double *to = stage ? rate : first;
            const double *from = stage ? trial : state;
            look(fig, hands, hn, road, rn, from, seen);
            move(fig, seen, from, to, told);
            double part = stage == 0 || stage == 3 ? 6.0 : 3.0, reach = stage == 2 ? 1.0 : 0.5;
            if (stage == 0)
                for (int lane = 0; lane < L; lane++) {
                    AT(extremes, 1) = hi(AT(extremes, 1), fabs(AT(state, E)));
                    for (int i = 0; i < 4; i++) AT(extremes, 0) = lo(AT(extremes, 0), AT(told, i));
                    for (int i = 0; i < 4; i++)
                        AT(extremes, 2 + i) = fabs(AT(state, SLIP + i)) > fabs(AT(extremes, 2 + i)) ? AT(state, SLIP + i) : AT(extremes, 2 + i);
                }
            for (int lane = 0; lane < L; lane++) rare += AT(told, 4);
            for (int k = 0; k < STATES; k++)
                for (int lane = 0; lane < L; lane++) AT(next, k) = (stage ? AT(next, k) : AT(state, k)) + AT(fig, STEP) / part * AT(to, k);
            for (int k = 0; k < LEDGER; k++)
                for (int lane = 0; lane < L; lane++) AT(trial, k) = AT(state, k) + reach * AT(fig, STEP) * AT(to, k);
        }
        memcpy(state, next, sizeof next);
    }
    return rare;
}
