/* example.c: the reading-room shelf of the demo sheets (data/runs/reading-room-bridge-shelf.toml) through the C interface.
 * Predicts it in every stage; then takes readings that this program invents, of a run whose rod hangs 2 mm low, and fits them.
 * With CMake: find_package(hangtrue REQUIRED), target_link_libraries(example hangtrue::c), languages C and CXX. */
#include <hangtrue.h>
#include <math.h>
#include <stdio.h>

#define COUNT(list) (sizeof(list) / sizeof((list)[0]))

enum { kBracket, kRod, kWestLift, kEastLift };          /* supports */
enum { kSpine, kCarcasses, kDoors, kBooks, kLoadCount }; /* loads */

static const double kGravity = 9.80665; /* m/s2, standard */

int main(void) {
  /* RHS 180x80x6 with 12 mm corners in steel of E = 210 GPa, G = 81 GPa, 7850 kg/m3. */
  const hangtrue_piece pieces[] = {{4.2, 2368551.5087589598, 666267.05744964071, 155174597.60638967, 0}};
  const hangtrue_load_part parts[] = {
      {kSpine, HANGTRUE_SPREAD, 0.0, 4.2, 221.96216911776546, 221.96216911776546, 0.0},
      {kCarcasses, HANGTRUE_SPREAD, 0.0, 4.2, 62 * kGravity / 4.2, 62 * kGravity / 4.2, 0.020},
      {kDoors, HANGTRUE_SPREAD, 0.3, 3.9, 24 * kGravity / 3.6, 24 * kGravity / 3.6, -0.150},
      {kBooks, HANGTRUE_SPREAD, 0.3, 3.9, 90 * kGravity / 3.6, 90 * kGravity / 3.6, -0.010},
  };
  /* held, compliance (0 is rigid), pulled home */
  const hangtrue_restraint nothing = {0, 0, 0};
  const hangtrue_support supports[] = {
      {0.0, 0.0, {1, 1 / 25e6, 0}, {1, 1 / 60e3, 0}, {1, 1 / 40e3, 0}, HANGTRUE_BOTH, 0},
      {3.9, 0.0, {1, 1 / 9e6, 0}, nothing, nothing, HANGTRUE_PULL, 0},
      {0.9, 0.0, {1, 1 / 4e6, 0}, nothing, {1, 1 / 60e3, 0}, HANGTRUE_PUSH, 0},
      {3.3, 0.0, {1, 1 / 4e6, 0}, nothing, {1, 1 / 60e3, 0}, HANGTRUE_PUSH, 0},
  };
  const uint64_t bare = 1u << kSpine | 1u << kCarcasses;
  const hangtrue_stage stages[] = {
      {1u << kWestLift | 1u << kEastLift, bare}, /* on lifts */
      {1u << kBracket | 1u << kEastLift, bare},  /* first fixed point bolted */
      {1u << kBracket | 1u << kRod, bare},       /* second bolted */
      {1u << kBracket | 1u << kRod, bare | 1u << kDoors},
      {1u << kBracket | 1u << kRod, bare | 1u << kDoors | 1u << kBooks}, /* in use */
  };
  const int second_bolted = 2, in_use = 4;
  const hangtrue_run run = {4.2, 0.38, pieces, COUNT(pieces), parts, COUNT(parts), kLoadCount,
                            supports, COUNT(supports), stages, COUNT(stages), 0, 0};

  if (hangtrue_c_version() != HANGTRUE_C_VERSION) {
    fprintf(stderr, "the library is of another version than hangtrue.h\n");
    return 3;
  }
  hangtrue_error error;
  hangtrue_prediction* as_written = NULL;
  if (hangtrue_predict(&run, NULL, &as_written, &error) != HANGTRUE_DONE) {
    fprintf(stderr, "predict: %s\n", error.says);
    return 2;
  }
  for (int stage = 0; stage < (int)COUNT(stages); ++stage) {
    double at_m = 0;
    const double lowest_m = hangtrue_lowest_m(as_written, stage, &at_m);
    printf("stage %d lowest_m %.17g lowest_at_m %.17g\n", stage, lowest_m, at_m);
    for (int support = 0; support < (int)COUNT(supports); ++support) {
      const hangtrue_action action = hangtrue_action_of(as_written, stage, support);
      printf("stage %d support %d engaged %d force_N %.17g moment_Nm %.17g torque_Nm %.17g\n", stage, support,
             action.engaged, action.force_N, action.moment_Nm, action.torque_Nm);
    }
  }
  hangtrue_prediction_free(as_written);

  /* Invented readings, without noise: slope and roll every 300 mm, of a run whose rod hangs 2 mm low. */
  double offsets[3 * COUNT(supports)] = {0};
  offsets[3 * kRod] = -0.002;
  hangtrue_prediction* truth = NULL;
  if (hangtrue_predict(&run, offsets, &truth, &error) != HANGTRUE_DONE) {
    fprintf(stderr, "predict: %s\n", error.says);
    return 2;
  }
  enum { kStations = 15 };
  double stations_m[kStations];
  hangtrue_reading readings[2 * kStations];
  for (int i = 0; i < kStations; ++i) {
    stations_m[i] = fmin(0.3 * i, 4.2);
    const hangtrue_section there = hangtrue_section_at(truth, second_bolted, stations_m[i]);
    const hangtrue_reading slope = {HANGTRUE_SLOPE, 0, 1, -1, -1, stations_m[i], 0.0, there.slope_rad, 2e-5};
    const hangtrue_reading roll = {HANGTRUE_ROLL, 0, 1, -1, -1, stations_m[i], 0.0, there.roll_rad, 2e-5};
    readings[2 * i] = slope;
    readings[2 * i + 1] = roll;
  }
  hangtrue_priors priors = hangtrue_priors_default();
  priors.bending.sigma = 0.04;
  priors.torsion.sigma = 0.10;
  hangtrue_fit* fit = NULL;
  if (hangtrue_fit_readings(&run, second_bolted, in_use, &priors, stations_m, kStations, readings, 2 * kStations, &fit,
                            &error) != HANGTRUE_DONE) {
    fprintf(stderr, "fit: %s\n", error.says);
    return 2;
  }
  const hangtrue_self_test test = hangtrue_fit_test(fit);
  const hangtrue_station first = hangtrue_fit_station(fit, 0), last = hangtrue_fit_station(fit, kStations - 1);
  const hangtrue_section first_truly = hangtrue_section_at(truth, second_bolted, 0.0);
  const hangtrue_section last_truly = hangtrue_section_at(truth, second_bolted, 4.2);
  printf("fit settled %d holds %d readings %d set_aside %d\n", test.settled, test.holds, test.degrees_of_freedom,
         test.set_aside);
  printf("fit rise_m %.6f sigma_m %.6f truth_m %.6f\n", last.height_m - first.height_m,
         hypot(first.height_less_mean_sigma_m, last.height_less_mean_sigma_m), last_truly.height_m - first_truly.height_m);
  hangtrue_fit_free(fit);
  hangtrue_prediction_free(truth);
  return 0;
}
