/* hangtrue.h: the core for other programs, in C: the shape of a run by beam mechanics, and the best estimate of it from readings.
 *
 * Model    A straight run bending in the vertical plane with shear and turning about its axis with warping (V. Z. Vlasov), through stages
 *          in which supports engage and loads come on. The cross-section keeps its shape. Small displacements, linear elastic. Shape, not strength.
 * Units    SI throughout: m, N, N m, rad. Sigma is one standard deviation.
 * Axes     x along the run from its start mark, y to the left when looking along, z up. Slope is positive where the run climbs, roll
 *          where the left edge is high. Forces on the run: up positive; couples in the sense of a positive slope, torques of a
 *          positive roll. Loads are weights: down positive. Moment positive sagging.
 * Memory   What is handed in is read during the call alone. What a call makes is freed by its ..._free().
 * Errors   a code, 0 for done, and where asked for a sentence in hangtrue_error. No exceptions come out.
 * Threads  each prediction or fit from one thread at a time; several of them at once are fine.
 * Version  HANGTRUE_C_VERSION is raised when something here changes what it means or goes away; hangtrue_c_version() says what was
 *          linked. Fill structs from the initialisers below, so that members added behind keep their default.
 * Caution  Keep lifts or props under the run until every final bolt is tight and checked by a second person. Anchors, welds, bolts
 *          and framing are designed and checked by those licensed for it.
 */
#ifndef HANGTRUE_H
#define HANGTRUE_H

#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define HANGTRUE_C_VERSION 2 /* 2: warping */
int hangtrue_c_version(void);

enum { HANGTRUE_MAX_SUPPORTS = 12, HANGTRUE_MAX_STAGES = 16, HANGTRUE_MAX_LOADS = 48 };

/* ---- the run -------------------------------------------------------------------------------------------------------- */

/* A stretch of constant section. The first begins at 0, each next where the former ends, the last ends at the run's length. */
typedef struct hangtrue_piece {
  double to_m;
  double bending_N_m2; /* EI, > 0 */
  double torsion_N_m2; /* GJ, > 0 */
  double shear_N;      /* G times shear area; 0: no shear deformation */
  double warping_N_m4; /* E Iw about the axis of bending, >= 0; 0: twist does not make it warp */
} hangtrue_piece;

enum hangtrue_load_kind {
  HANGTRUE_SPREAD = 0, /* weight along a stretch, N/m, linear from begin at from_m to end at to_m */
  HANGTRUE_POINT = 1,  /* weight begin in N at from_m */
  HANGTRUE_COUPLE = 2, /* couple begin in N m at from_m */
  HANGTRUE_WARMTH = 3  /* stress-free curvature begin in 1/m from from_m to to_m, positive sagging */
};

/* A load is the sum of the parts that have its index. */
typedef struct hangtrue_load_part {
  int load; /* 0 ... loads - 1 */
  int kind; /* hangtrue_load_kind */
  double from_m, to_m;
  double begin, end;
  double across_m; /* where the weight acts across the run */
} hangtrue_load_part;

/* How a support holds one motion: shape there = zero position - compliance * force. */
typedef struct hangtrue_restraint {
  int held;          /* 0: free */
  double compliance; /* m/N or rad/(N m); 0: rigid */
  int pulled_home;   /* 1: engages at the support's own zero, so that the misfit becomes a force */
} hangtrue_restraint;

enum hangtrue_holds { HANGTRUE_BOTH = 0, HANGTRUE_PUSH = 1, HANGTRUE_PULL = 2 };

typedef struct hangtrue_support {
  double at_m, across_m;
  hangtrue_restraint rise, pitch, roll;
  int holds;         /* hangtrue_holds: PUSH and PULL can only hold the run up */
  int holds_warping; /* 1: keeps the section there from warping */
} hangtrue_support;

/* A step of the work. Bit i set: support i listed, load i on. */
typedef struct hangtrue_stage {
  uint32_t supports;
  uint64_t loads;
} hangtrue_stage;

typedef struct hangtrue_run {
  double length_m, width_m; /* edges at +- width / 2 */
  const hangtrue_piece* pieces;
  size_t piece_count;
  const hangtrue_load_part* load_parts;
  size_t load_part_count;
  int loads; /* how many named loads */
  const hangtrue_support* supports;
  size_t support_count;
  const hangtrue_stage* stages;
  size_t stage_count;
  int bows; /* stress-free shapes sin(k pi x / length), k = 1 ... bows, that a fit may find; 0 to 4 */
  double shear_centre_m; /* where across a weight bends the run without turning it; across_m counts from the middle of the width */
} hangtrue_run;

typedef enum hangtrue_code {
  HANGTRUE_DONE = 0,
  HANGTRUE_RUN_WRONG = 1,      /* the run cannot be as it is written */
  HANGTRUE_NOT_HELD = 2,       /* in some stage nothing holds it, or supports contradict one another */
  HANGTRUE_READINGS_WRONG = 3, /* a reading, a prior or a station cannot be as it is written */
  HANGTRUE_NO_MEMORY = 4
} hangtrue_code;

typedef struct hangtrue_error {
  hangtrue_code code;
  int index;     /* of the piece, load, support, reading ... that is meant; -1: none */
  int stage;     /* -1: none */
  char says[160]; /* a sentence */
} hangtrue_error;

/* ---- its shape ------------------------------------------------------------------------------------------------------- */

typedef struct hangtrue_prediction hangtrue_prediction;

/* offsets: NULL, or rise, pitch and roll (m, rad, rad) of every support's zero from nominal, three a support. error may be NULL. */
hangtrue_code hangtrue_predict(const hangtrue_run* run, const double* offsets, hangtrue_prediction** made, hangtrue_error* error);
void hangtrue_prediction_free(hangtrue_prediction* prediction);

typedef struct hangtrue_section {
  double height_m, slope_rad, roll_rad;
  double moment_Nm, shear_N, torque_Nm;
  double bimoment_Nm2; /* E Iw d2(roll)/dx2 */
} hangtrue_section;

typedef struct hangtrue_action {
  int engaged; /* listed, and where one-way not lifted */
  double force_N, moment_Nm, torque_Nm;
} hangtrue_action;

/* A stage or support that is not there gives not-a-numbers; x is brought to the nearest end. At a jump: what is right of it. */
hangtrue_section hangtrue_section_at(const hangtrue_prediction* prediction, int stage, double x_m);
hangtrue_action hangtrue_action_of(const hangtrue_prediction* prediction, int stage, int support);
/* The lowest point of the reference line; at_m may be NULL. */
double hangtrue_lowest_m(const hangtrue_prediction* prediction, int stage, double* at_m);

/* ---- its shape from readings ------------------------------------------------------------------------------------------ */

typedef struct hangtrue_prior {
  double mean, sigma; /* sigma 0: known, not estimated */
} hangtrue_prior;

enum { HANGTRUE_MAX_SET_UPS = 12, HANGTRUE_MAX_CHANNELS = 24, HANGTRUE_MAX_BOWS = 4 };

/* What is known beforehand; hangtrue_priors_default() leaves everything known as written but heights and datums. */
typedef struct hangtrue_priors {
  hangtrue_prior offset[HANGTRUE_MAX_SUPPORTS][3];     /* of supports engaged by the survey's stage: rise, pitch, roll */
  hangtrue_prior later_offset[HANGTRUE_MAX_SUPPORTS][3]; /* of those that engage after it */
  hangtrue_prior log_spring[HANGTRUE_MAX_SUPPORTS][3]; /* natural logarithm of the factor on each stiffness */
  hangtrue_prior bending, torsion;                     /* factors, near 1 */
  hangtrue_prior load[HANGTRUE_MAX_LOADS];             /* factors, near 1 */
  hangtrue_prior bow[HANGTRUE_MAX_BOWS];               /* m */
  hangtrue_prior datum_height[HANGTRUE_MAX_SET_UPS];   /* m */
  hangtrue_prior datum_tilt[HANGTRUE_MAX_SET_UPS];     /* rad */
  hangtrue_prior zero[HANGTRUE_MAX_CHANNELS];          /* rad or m */
} hangtrue_priors;

/* Rise to 5 mm, pitch and roll to 10 mm/m, datum height to 10 m: one sigma, usual on site (common practice, no source). */
hangtrue_priors hangtrue_priors_default(void);

enum hangtrue_channel { HANGTRUE_SLOPE = 0, HANGTRUE_ROLL = 1, HANGTRUE_DISTANCE = 2 };

/* One settled value. value = face * truth + zero; a distance = height there - (datum height + datum tilt * x) + zero. */
typedef struct hangtrue_reading {
  int channel; /* hangtrue_channel */
  int edge;    /* 1 left, 0 middle, -1 right */
  int face;    /* 1, or -1 where the instrument is turned round */
  int set_up;  /* of the laser datum, 0 ... 11; -1: none */
  int zero;    /* of the instrument channel, 0 ... 23; -1: none */
  double at_m;
  double base_m; /* between the feet of a slope instrument */
  double value, sigma;
} hangtrue_reading;

typedef struct hangtrue_fit hangtrue_fit;

/* stage: that of the readings; finished: the one whose shape is wanted, not before it. Not of use where code is not 0. */
hangtrue_code hangtrue_fit_readings(const hangtrue_run* run, int stage, int finished, const hangtrue_priors* priors,
                                    const double* stations_m, size_t station_count, const hangtrue_reading* readings,
                                    size_t reading_count, hangtrue_fit** made, hangtrue_error* error);
void hangtrue_fit_free(hangtrue_fit* fit);

typedef struct hangtrue_self_test {
  int settled; /* 0: the steps did not end, and no figure is to be relied on */
  int holds;   /* 0: the readings contradict the run as written, or one another */
  double chi_squared, p_value;
  int degrees_of_freedom; /* readings kept */
  int set_aside;          /* readings beyond the gate */
} hangtrue_self_test;

typedef struct hangtrue_station {
  double at_m;
  double height_m, height_sigma_m;
  double height_less_mean_sigma_m; /* of the height less the mean over the stations: what level is about */
  double slope_rad, slope_sigma_rad, roll_rad, roll_sigma_rad;
  double sag_m;         /* elastic, now: shims do not cure it */
  double sag_to_come_m; /* height at the finished stage less height now */
} hangtrue_station;

hangtrue_self_test hangtrue_fit_test(const hangtrue_fit* fit);
/* station: 0 ... station_count - 1. */
hangtrue_station hangtrue_fit_station(const hangtrue_fit* fit, size_t station);
/* Whether reading i was kept: 1; 0: set aside. */
int hangtrue_fit_kept(const hangtrue_fit* fit, size_t reading);
/* The factor on the bending stiffness, on load i, and the natural logarithm of that on a support's stiffness in rise (0), pitch (1)
 * or roll (2): mean and sigma, the given ones where they were no unknown. */
hangtrue_prior hangtrue_fit_bending(const hangtrue_fit* fit);
hangtrue_prior hangtrue_fit_load(const hangtrue_fit* fit, int load);
hangtrue_prior hangtrue_fit_log_spring(const hangtrue_fit* fit, int support, int motion);

#ifdef __cplusplus
}
#endif

#endif
