/* The boilers of a heat table (tables.py) by CVODES: Adams, fixed-point
 * iteration (nothing here is stiff), energies as quadratures under error
 * control, events by its root finding, a fresh start at every change of power.
 *
 * usage: heat TABLE RTOL half-cycles|pieces > RESULT.json
 *
 * "half-cycles" starts again at each half-cycle of the mains, "pieces" where
 * power or a draw changes: equal cycles are merged.
 */
#include <cvodes/cvodes.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>
#include <time.h>

#define MOST 4
#define SERIES 64

typedef struct { int steam, source; double from, to, flow, inlet; } Draw;
typedef struct {
  double ce, gew, scale, ges0, mass, least, cs, gws, gsk, gsl, gsa, cp, gwp, cl, r20, alpha, series, vt, rt, link, hold, reset;
  int draws, steps;
  Draw draw[8];
  double from[16];
  int cycles[16];
  int held, valve, open, low, on; /* modes, and whether it is driven */
} Boiler;

static double low, high, volts, hertz, ambient, initial, cold, lid, gka, gkb, box, gba;
static int nb, pairs, window, terms[3];
static double series[3][SERIES], conductance[16];
static int one[16], other[16];
static Boiler boiler[MOST];
static const Draw *flowing[8 * MOST];
static int from_boiler[8 * MOST], flows;

static void fail(const char *what) {
  fprintf(stderr, "heat: %s\n", what);
  exit(1);
}

static double number(FILE *f) {
  double v;
  if (fscanf(f, "%lf", &v) != 1) fail("the table ends early");
  return v;
}

static int within(double v, int most) {
  if (!(v >= 0 && v <= most)) fail("the table is too large");
  return (int)v;
}

static void read_table(FILE *f, double *times, int *count) {
  low = number(f), high = number(f);
  for (int i = 0; i < 3; i++) terms[i] = within(number(f), SERIES);
  for (int i = 0; i < 3; i++)
    for (int k = 0; k < terms[i]; k++) series[i][k] = number(f);
  double *head[] = {&volts, &hertz, &ambient, &initial, &cold};
  for (int i = 0; i < 5; i++) *head[i] = number(f);
  window = within(number(f), 100000);
  double *common[] = {&lid, &gka, &gkb, &box, &gba};
  for (int i = 0; i < 5; i++) *common[i] = number(f);
  nb = within(number(f), MOST);
  pairs = within(number(f), 16);
  for (int i = 0; i < pairs; i++) one[i] = (int)number(f), other[i] = (int)number(f), conductance[i] = number(f);
  for (int i = 0; i < nb; i++) {
    Boiler *b = &boiler[i];
    double *part[] = {&b->ce, &b->gew, &b->scale, &b->ges0, &b->mass, &b->least, &b->cs, &b->gws, &b->gsk, &b->gsl, &b->gsa,
                      &b->cp, &b->gwp, &b->cl, &b->r20, &b->alpha, &b->series, &b->vt, &b->rt, &b->link, &b->hold, &b->reset};
    for (size_t k = 0; k < sizeof part / sizeof *part; k++) *part[k] = number(f);
    b->gew /= b->scale;
    b->vt *= 2 * sqrt(2) / acos(-1);
    b->low = b->mass < b->least;
    b->draws = within(number(f), 8);
    for (int k = 0; k < b->draws; k++) {
      Draw *d = &b->draw[k];
      d->steam = (int)number(f), d->source = (int)number(f);
      d->from = number(f), d->to = number(f), d->flow = number(f), d->inlet = number(f);
    }
    b->steps = within(number(f), 16);
    for (int k = 0; k < b->steps; k++) b->from[k] = number(f), b->cycles[k] = (int)number(f);
  }
  *count = within(number(f), 64);
  for (int i = 0; i < *count; i++) times[i] = number(f);
}

static double sum_of(int which, double t) { /* Clenshaw's sum */
  double x2 = 2 * (2 * t - low - high) / (high - low), b1 = 0, b2 = 0;
  const double *c = series[which];
  int last = terms[which] - 1;
  for (int i = 0; i < last; i++) {
    double b = x2 * b1 - b2 + c[i];
    b2 = b1, b1 = b;
  }
  return x2 / 2 * b1 - b2 + c[last];
}
static double heat_capacity(double t) { return sum_of(0, t); }
static double enthalpy(double t) { return sum_of(1, t); }
static double latent(double t) { return sum_of(2, t); }

/* taken: heat out of each water in W, lost: kg/s; returns the power carried out */
static double draw_off(const double *y, double *taken, double *lost) {
  double out = 0;
  for (int i = 0; i < nb; i++) taken[i] = lost[i] = 0;
  for (int k = 0; k < flows; k++) {
    const Draw *d = flowing[k];
    int i = from_boiler[k];
    double tw = y[6 * i + 1], f = d->flow;
    if (d->steam && d->inlet < -1e8) {
      double fg = latent(tw);
      taken[i] += f * fg, lost[i] += f, out += f * (enthalpy(tw) + fg);
    } else if (d->source < 0) {
      double gain = enthalpy(tw) - enthalpy(d->inlet) + (d->steam ? latent(tw) : 0);
      taken[i] += f * gain, out += f * gain;
    } else {
      double there = enthalpy(y[6 * d->source + 1]);
      taken[i] += f * (enthalpy(tw) - there);
      taken[d->source] += f * (there - enthalpy(cold));
      out += f * (enthalpy(tw) - enthalpy(cold));
    }
  }
  return out;
}

static double surplus(const double *y, int i, double taken) {
  const Boiler *b = &boiler[i];
  const double *x = y + 6 * i;
  return fmin(1, x[5] / b->least) * b->gew * (x[0] - x[1]) - b->gws * (x[1] - x[2]) - b->gwp * (x[1] - x[3]) - taken;
}

/* rates of the state, and of the books where q is not null */
static void rate(const double *y, double *d, double *q) {
  double taken[MOST] = {0}, lost[MOST] = {0}, carried = flows ? draw_off(y, taken, lost) : 0;
  double tk = y[6 * nb], tb = y[6 * nb + 1], to_lid = 0, triacs = 0, in = 0, air = 0;
  for (int i = 0; i < nb; i++) {
    const Boiler *b = &boiler[i];
    const double *x = y + 6 * i;
    double *o = d + 6 * i, wet = fmin(1, x[5] / b->least), ges = (1 - wet) * b->ges0, p = 0;
    if (b->on && !b->open) {
      double r = b->r20 * (1 + b->alpha * (x[0] - 20)), amps = volts / (r + b->series);
      double loss = b->vt * amps + b->rt * amps * amps;
      p = amps * amps * r;
      triacs += loss;
      in += p + loss;
    }
    double es = ges * (x[0] - x[2]), ew = wet * b->gew * (x[0] - x[1]), ws = b->gws * (x[1] - x[2]), wp = b->gwp * (x[1] - x[3]);
    double sk = b->gsk * (x[2] - tk), sl = b->gsl * (x[2] - x[4]), sa = b->gsa * (x[2] - ambient), net = ew - ws - wp - taken[i];
    o[1] = 0, o[5] = -lost[i];
    if (b->held) {
      double fg = latent(x[1]);
      o[5] -= net / fg;
      if (q) carried += net / fg * (enthalpy(x[1]) + fg);
    } else {
      o[1] = net / (x[5] * heat_capacity(x[1]));
    }
    o[0] = (p - ew - es) / b->ce;
    o[2] = (ws + es - sk - sl - sa) / b->cs;
    o[3] = wp / b->cp;
    o[4] = sl / b->cl;
    to_lid += sk;
    air += sa;
    if (q) q[3 + i] = p;
  }
  for (int k = 0; k < pairs; k++) {
    int a = one[k], b = other[k];
    double w = conductance[k] * (y[6 * a + 2] - y[6 * b + 2]);
    d[6 * a + 2] -= w / boiler[a].cs;
    d[6 * b + 2] += w / boiler[b].cs;
  }
  double kb = gkb * (tk - tb), ka = gka * (tk - ambient), ba = gba * (tb - ambient);
  d[6 * nb] = (to_lid - kb - ka) / lid;
  d[6 * nb + 1] = (kb + triacs - ba) / box;
  if (q) q[0] = in, q[1] = air + ka + ba, q[2] = carried;
}

static int rates(double t, N_Vector y, N_Vector d, void *u) {
  (void)t, (void)u;
  rate(NV_DATA_S(y), NV_DATA_S(d), NULL);
  return 0;
}

static int books(double t, N_Vector y, N_Vector q, void *u) {
  double d[6 * MOST + 2];
  (void)t, (void)u;
  rate(NV_DATA_S(y), d, NV_DATA_S(q));
  return 0;
}

/* four watches a boiler, which rise through zero: limit reached or left, reseat, link, level */
static int watches(double t, N_Vector v, double *g, void *u) {
  const double *y = NV_DATA_S(v);
  double taken[MOST] = {0}, lost[MOST];
  (void)t, (void)u;
  if (flows) draw_off(y, taken, lost);
  for (int i = 0; i < nb; i++, g += 4) {
    const Boiler *b = &boiler[i];
    const double *x = y + 6 * i;
    g[0] = b->held ? -surplus(y, i, taken[i]) : x[1] - b->hold;
    g[1] = b->valve ? b->reset - x[1] : -1;
    g[2] = b->open ? -1 : x[4] - b->link;
    g[3] = b->low ? -1 : b->least - x[5];
  }
  return 0;
}

static void happen(int which, double *y) {
  Boiler *b = &boiler[which / 4];
  switch (which % 4) {
  case 0:
    b->held = !b->held;
    if (b->held) y[6 * (which / 4) + 1] = b->hold, b->valve = b->reset > -1e8;
    break;
  case 1: b->valve = 0; break;
  case 2: b->open = 1; break;
  case 3: b->low = 1;
  }
}

static int ascending(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

int main(int argc, char **argv) {
  if (argc != 4) fail("usage: heat TABLE RTOL half-cycles|pieces");
  FILE *f = fopen(argv[1], "r");
  if (!f) fail("cannot open the table");
  double rtol = atof(argv[2]), times[64], (*snapshot)[6 * MOST + 2];
  int each = !strcmp(argv[3], "half-cycles"), count, shot = 0;
  read_table(f, times, &count);
  fclose(f);
  int n = 6 * nb + 2, events = 0, found[4 * MOST], up[4 * MOST];
  snapshot = calloc(count, sizeof *snapshot);
  double *stops = calloc(2 * window + 64, sizeof *stops);
  if (!snapshot || !stops) fail("out of memory");

  struct timespec a, b;
  clock_gettime(CLOCK_MONOTONIC, &a);
  SUNContext context;
  SUNContext_Create(NULL, &context);
  N_Vector y = N_VNew_Serial(n, context), sum = N_VNew_Serial(3 + nb, context);
  double *x = NV_DATA_S(y);
  N_VConst(initial, y);
  N_VConst(0, sum);
  for (int i = 0; i < nb; i++) x[6 * i + 5] = boiler[i].mass;
  void *cv = CVodeCreate(CV_ADAMS, context);
  SUNNonlinearSolver iteration = SUNNonlinSol_FixedPoint(y, 0, context);
  for (int i = 0; i < 4 * nb; i++) up[i] = 1;
  if (CVodeInit(cv, rates, 0, y) || CVodeSStolerances(cv, rtol, rtol) || CVodeSetNonlinearSolver(cv, iteration) ||
      CVodeQuadInit(cv, books, sum) || CVodeQuadSStolerances(cv, rtol, 1) || CVodeSetQuadErrCon(cv, SUNTRUE) ||
      CVodeRootInit(cv, 4 * nb, watches) || CVodeSetRootDirection(cv, up) || CVodeSetNoInactiveRootWarn(cv))
    fail("cannot set up the integrator");
  long steps = 0, starts = 0, more;
  double span = window / (2 * hertz), end = times[count - 1];
  for (long w = 0; shot < count; w++) {
    double t0 = w * span, t = t0;
    int cycles[MOST] = {0}, m = 0;
    for (int i = 0; i < nb; i++) {
      for (int k = 0; k < boiler[i].steps; k++)
        if (boiler[i].from[k] <= t0) cycles[i] = boiler[i].cycles[k];
      if (cycles[i] > 0) stops[m++] = t0 + cycles[i] / hertz;
      for (int k = 0; k < boiler[i].draws; k++) {
        double edge[2] = {boiler[i].draw[k].from, boiler[i].draw[k].to};
        for (int e = 0; e < 2; e++)
          if (edge[e] > t0 && edge[e] < t0 + span) stops[m++] = edge[e];
      }
    }
    if (each)
      for (int h = 1; h < window; h++) stops[m++] = t0 + h / (2 * hertz);
    stops[m++] = t0 + span;
    qsort(stops, m, sizeof *stops, ascending);
    for (int s = 0; s < m; s++) {
      double taken[MOST] = {0}, lost[MOST], stop = stops[s];
      if (stop - t < 1e-9) continue;
      flows = 0;
      for (int i = 0; i < nb; i++) {
        boiler[i].on = t - t0 < cycles[i] / hertz - 1e-9;
        for (int k = 0; k < boiler[i].draws; k++)
          if (boiler[i].draw[k].from <= t + 1e-9 && t < boiler[i].draw[k].to - 1e-9)
            from_boiler[flows] = i, flowing[flows++] = &boiler[i].draw[k];
      }
      if (flows) draw_off(x, taken, lost);
      for (int i = 0; i < nb; i++)
        if (boiler[i].held && surplus(x, i, taken[i]) < -1e-6) happen(4 * i, x), events++;
      for (int how = CV_ROOT_RETURN; how == CV_ROOT_RETURN && t < stop;) {
        if (CVodeReInit(cv, t, y) || CVodeQuadReInit(cv, sum) || CVodeSetStopTime(cv, stop)) fail("cannot start again");
        how = CVode(cv, stop, y, &t, CV_NORMAL);
        double at;
        if (how < 0 || CVodeGetQuad(cv, &at, sum)) fail("the integrator stopped");
        CVodeGetNumSteps(cv, &more);
        steps += more;
        starts++;
        if (how == CV_ROOT_RETURN) {
          CVodeGetRootInfo(cv, found);
          for (int i = 0; i < 4 * nb; i++)
            if (found[i]) happen(i, x), events++;
        }
      }
      t = stop;
    }
    while (shot < count && times[shot] <= t0 + span + 1e-9) memcpy(snapshot[shot++], x, n * sizeof *x);
  }
  clock_gettime(CLOCK_MONOTONIC, &b);

  printf("{\"case\": \"%s\", \"solver\": \"CVODES Adams, rtol %g\", \"simulated_s\": %.17g, \"wall_s\": %.6g, \"steps\": %ld, \"starts\": %ld, \"events\": %d,\n",
         each ? "heat-half-cycles" : "heat-pieces", rtol, end, (b.tv_sec - a.tv_sec) + 1e-9 * (b.tv_nsec - a.tv_nsec), steps, starts, events);
  printf(" \"electrical_in_J\": %.15g,\n \"elements_J\": [", NV_Ith_S(sum, 0));
  for (int i = 0; i < nb; i++) printf("%s%.15g", i ? ", " : "", NV_Ith_S(sum, 3 + i));
  printf("],\n \"snapshots\": [");
  for (int k = 0; k < count; k++) {
    printf("%s{\"t_s\": %.17g, \"temperatures_degC\": [", k ? ",\n  " : "", times[k]);
    for (int i = 0, first = 1; i < n; i++)
      if (i >= 6 * nb || i % 6 != 5) printf("%s%.15g", first ? "" : ", ", snapshot[k][i]), first = 0;
    printf("]}");
  }
  printf("]}\n");
  return 0;
}
