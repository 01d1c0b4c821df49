/* The healthy board of a circuit table (tables.py) by CVODES: BDF, Newton with
 * the exact Jacobian, energies as quadratures under error control, switching
 * instants by its root finding, a fresh start after each.
 *
 * usage: circuit TABLE RTOL HALF_CYCLES > RESULT.json
 */
#include <cvodes/cvodes.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <time.h>

enum { ROW, CONST, ADD, SUB, MUL, MIN, MAX, ABS, WHERE, SELECT };
#define STACK 256
#define MOST_CHANNELS 8
#define MOST_STATES 16
#define MAX_STEP 2e-4 /* s: no window of a zero-cross opto is stepped over */

typedef struct { int op; double v; } Op;
typedef struct { int fires, channel, part, value, length; Op *code; } Margin;
typedef struct { int terms; double *rows; } Power;
typedef struct {
  int state[MOST_CHANNELS][4];
  double *rates; /* n rows of n + 2 */
  int powers, rows, margins;
  Power *power;
  double *row, *y;
  Margin *margin;
} Combination;

static int n, channels, combinations, sign = 1;
static double peak, omega, half;
static Combination *all, *now;

static void fail(const char *what) {
  fprintf(stderr, "circuit: %s\n", what);
  exit(1);
}

static void *room(size_t count, size_t size) {
  void *p = calloc(count ? count : 1, size);
  if (!p) fail("out of memory");
  return p;
}

static double number(FILE *f) {
  double v;
  if (fscanf(f, "%lf", &v) != 1) fail("the table ends early");
  return v;
}

static double *row_of(FILE *f, int count) {
  double *r = room(count, sizeof *r);
  for (int i = 0; i < count; i++) r[i] = number(f);
  return r;
}

static void read_combination(FILE *f, Combination *c) {
  for (int k = 0; k < channels; k++)
    for (int i = 0; i < 4; i++) c->state[k][i] = (int)number(f);
  c->rates = row_of(f, n * (n + 2));
  c->powers = (int)number(f);
  c->power = room(c->powers, sizeof *c->power);
  for (int i = 0; i < c->powers; i++) {
    c->power[i].terms = (int)number(f);
    c->power[i].rows = row_of(f, 2 * c->power[i].terms * (n + 2));
  }
  c->rows = (int)number(f);
  c->margins = (int)number(f);
  if (c->margins > 512) fail("the table is too large");
  c->row = row_of(f, c->rows * (n + 2));
  c->y = room(c->rows, sizeof(double));
  c->margin = room(c->margins, sizeof *c->margin);
  for (int i = 0; i < c->margins; i++) {
    Margin *m = &c->margin[i];
    m->fires = (int)number(f);
    m->channel = (int)number(f);
    m->part = (int)number(f);
    m->value = (int)number(f);
    m->length = (int)number(f);
    m->code = room(m->length, sizeof *m->code);
    for (int j = 0; j < m->length; j++) {
      m->code[j].op = (int)number(f);
      m->code[j].v = number(f);
    }
  }
}

static double source(double t) { return sign * peak * sin(omega * t); }

static double dot(const double *r, const double *x, double e) {
  double s = r[n] * e + r[n + 1];
  for (int i = 0; i < n; i++) s += r[i] * x[i];
  return s;
}

static double run(const Margin *m, const double *y) {
  double s[STACK];
  int p = 0;
  for (const Op *o = m->code, *end = o + m->length; o < end; o++) {
    switch (o->op) {
    case ROW: s[p++] = y[(int)o->v]; break;
    case CONST: s[p++] = o->v; break;
    case ADD: p--; s[p - 1] += s[p]; break;
    case SUB: p--; s[p - 1] -= s[p]; break;
    case MUL: p--; s[p - 1] *= s[p]; break;
    case MIN: p--; if (s[p] < s[p - 1]) s[p - 1] = s[p]; break;
    case MAX: p--; if (s[p] > s[p - 1]) s[p - 1] = s[p]; break;
    case ABS: s[p - 1] = fabs(s[p - 1]); break;
    case WHERE: p -= 2; s[p - 1] = s[p - 1] > 0 ? s[p] : s[p + 1]; break;
    case SELECT: { /* the value whose measure is the least */
      int k = (int)o->v, best = 0;
      p -= 2 * k;
      for (int i = 1; i < k; i++)
        if (s[p + i] < s[p + best]) best = i;
      s[p] = s[p + k + best];
      p++;
    }
    }
    if (p > STACK - 4) fail("a margin is too deep");
  }
  return s[0];
}

static void measure(Combination *c, double t, const double *x) {
  double e = source(t);
  for (int i = 0; i < c->rows; i++) c->y[i] = dot(c->row + i * (n + 2), x, e);
}

static int rates(double t, N_Vector x, N_Vector dx, void *u) {
  double e = source(t), *v = NV_DATA_S(x), *d = NV_DATA_S(dx);
  (void)u;
  for (int i = 0; i < n; i++) d[i] = dot(now->rates + i * (n + 2), v, e);
  return 0;
}

static int jacobian(double t, N_Vector x, N_Vector fx, SUNMatrix j, void *u, N_Vector a, N_Vector b, N_Vector c) {
  (void)t, (void)x, (void)fx, (void)u, (void)a, (void)b, (void)c;
  for (int i = 0; i < n; i++)
    for (int k = 0; k < n; k++) SM_ELEMENT_D(j, i, k) = now->rates[i * (n + 2) + k];
  return 0;
}

static int powers(double t, N_Vector x, N_Vector dq, void *u) {
  double e = source(t), *v = NV_DATA_S(x);
  (void)u;
  for (int i = 0; i < now->powers; i++) {
    const double *r = now->power[i].rows;
    double s = 0;
    for (int k = 0; k < now->power[i].terms; k++, r += 2 * (n + 2)) s += dot(r, v, e) * dot(r + n + 2, v, e);
    NV_Ith_S(dq, i) = s;
  }
  return 0;
}

static int margins(double t, N_Vector x, double *g, void *u) {
  (void)u;
  measure(now, t, NV_DATA_S(x));
  for (int i = 0; i < now->margins; i++) g[i] = run(&now->margin[i], now->y);
  return 0;
}

/* angles of the firings, printed once the clock has stopped */
static struct { int channel, half; double firing, extinction; } *angle;
static int angles, most_angles, last[MOST_CHANNELS];

static int rose[512], upward[512];

/* settle admits one change at a time until none is demanded. What the root
 * finder says has risen counts as demanded even where rounding leaves its
 * margin at zero. */
static void settle(double t, const double *x, int h, int rooted) {
  for (int seen = 0; seen < 200; seen++) {
    int state[MOST_CHANNELS][4], i;
    measure(now, t, x);
    for (i = 0; i < now->margins && run(&now->margin[i], now->y) <= 0 && !(rooted && rose[i] > 0); i++) {}
    rooted = 0;
    if (i == now->margins) return;
    const Margin *m = &now->margin[i];
    if (m->fires) {
      if (angles == most_angles) fail("more firings than there is room for");
      angle[angles].channel = m->channel;
      angle[angles].half = h;
      angle[angles].firing = t / half * 180;
      angle[angles].extinction = -1;
      last[m->channel] = angles++;
    } else if (m->part == 0 && m->value == 0 && last[m->channel] >= 0) {
      int a = last[m->channel];
      angle[a].extinction = (t / half + h - angle[a].half) * 180;
    }
    memcpy(state, now->state, sizeof state);
    state[m->channel][m->part] = m->value;
    for (i = 0; i < combinations && memcmp(state, all[i].state, sizeof state); i++) {}
    if (i == combinations) fail("a combination that the table does not have: the tolerance is too loose");
    now = &all[i];
  }
  fail("no consistent combination");
}

int main(int argc, char **argv) {
  if (argc != 4) fail("usage: circuit TABLE RTOL HALF_CYCLES");
  FILE *f = fopen(argv[1], "r");
  if (!f) fail("cannot open the table");
  double rtol = atof(argv[2]);
  int halves = atoi(argv[3]);
  n = (int)number(f);
  channels = (int)number(f);
  combinations = (int)number(f);
  if (n < 1 || n > MOST_STATES || channels > MOST_CHANNELS || combinations < 1) fail("the table is too large");
  peak = sqrt(2) * number(f);
  double hertz = number(f);
  omega = 2 * acos(-1) * hertz;
  half = 0.5 / hertz;
  double *start = row_of(f, n);
  char kind[MOST_STATES][4];
  for (int i = 0; i < n; i++)
    if (fscanf(f, "%3s", kind[i]) != 1) fail("the table ends early");
  all = room(combinations, sizeof *all);
  for (int i = 0; i < combinations; i++) read_combination(f, &all[i]);
  fclose(f);
  int rest[MOST_CHANNELS][4] = {{0}};
  for (int i = 0; i < combinations; i++)
    if (!memcmp(rest, all[i].state, sizeof rest)) now = &all[i];
  if (!now) fail("the table has no combination at rest");
  int q = now->powers;
  double *energy = room((size_t)halves * q, sizeof *energy);
  most_angles = halves * channels * 4;
  angle = room(most_angles, sizeof *angle);
  for (int k = 0; k < channels; k++) last[k] = -1;
  for (int i = 0; i < 512; i++) upward[i] = 1;

  struct timespec a, b;
  clock_gettime(CLOCK_MONOTONIC, &a);
  SUNContext context;
  SUNContext_Create(NULL, &context);
  N_Vector x = N_VNew_Serial(n, context), atol = N_VNew_Serial(n, context), sum = N_VNew_Serial(q, context);
  for (int i = 0; i < n; i++) {
    NV_Ith_S(x, i) = start[i];
    NV_Ith_S(atol, i) = rtol * (kind[i][0] == 'L' ? 1e-4 : 1e-2);
  }
  N_VConst(0, sum);
  void *cv = CVodeCreate(CV_BDF, context);
  SUNMatrix j = SUNDenseMatrix(n, n, context);
  SUNLinearSolver linear = SUNLinSol_Dense(x, j, context);
  if (CVodeInit(cv, rates, 0, x) || CVodeSVtolerances(cv, rtol, atol) || CVodeSetLinearSolver(cv, linear, j) ||
      CVodeSetJacFn(cv, jacobian) || CVodeQuadInit(cv, powers, sum) || CVodeQuadSStolerances(cv, rtol, rtol * 1e-2) ||
      CVodeSetQuadErrCon(cv, SUNTRUE) || CVodeSetMaxStep(cv, MAX_STEP) || CVodeSetMaxNumSteps(cv, 100000))
    fail("cannot set up the integrator");
  long steps = 0, restarts = 0, more;
  for (int h = 0; h < halves; h++) {
    double t = 0;
    int rooted = 0;
    sign = h % 2 ? -1 : 1;
    N_VConst(0, sum);
    while (t < half) {
      settle(t, NV_DATA_S(x), h, rooted);
      if (CVodeReInit(cv, t, x) || CVodeQuadReInit(cv, sum) || CVodeRootInit(cv, now->margins, margins) ||
          CVodeSetRootDirection(cv, upward) ||
          CVodeSetNoInactiveRootWarn(cv) || CVodeSetStopTime(cv, half))
        fail("cannot start again");
      int how = CVode(cv, half, x, &t, CV_NORMAL);
      if (how < 0) fail("the integrator stopped");
      double at;
      if (CVodeGetQuad(cv, &at, sum)) fail("no energies");
      CVodeGetNumSteps(cv, &more);
      steps += more;
      if (++restarts > 1000L * halves) fail("the states keep changing");
      rooted = how == CV_ROOT_RETURN;
      if (rooted) CVodeGetRootInfo(cv, rose);
      if (how == CV_TSTOP_RETURN || t >= half) break;
    }
    for (int i = 0; i < q; i++) energy[h * q + i] = NV_Ith_S(sum, i);
  }
  clock_gettime(CLOCK_MONOTONIC, &b);

  printf("{\"case\": \"circuit\", \"solver\": \"CVODES BDF, rtol %g\", \"simulated_s\": %.17g, \"wall_s\": %.6g, \"steps\": %ld, \"starts\": %ld,\n",
         rtol, halves * half, (b.tv_sec - a.tv_sec) + 1e-9 * (b.tv_nsec - a.tv_nsec), steps, restarts);
  printf(" \"energy_J\": {");
  for (int i = 0; i < q; i++) {
    if (i == 0) printf("\"source\": [");
    else printf(", \"%s%d\": [", i % 2 ? "element" : "triac", (i + 1) / 2);
    for (int h = 0; h < halves; h++) printf("%s%.12g", h ? ", " : "", energy[h * q + i]);
    printf("]");
  }
  printf("},\n \"angles\": [");
  for (int i = 0; i < angles; i++)
    printf("%s{\"channel\": %d, \"half\": %d, \"firing_deg\": %.12g, \"extinction_deg\": %.12g}", i ? ", " : "",
           angle[i].channel, angle[i].half, angle[i].firing, angle[i].extinction);
  printf("]}\n");
  return 0;
}
