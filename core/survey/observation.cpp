#include "core/survey/observation.hpp"

#include <algorithm>

namespace hangtrue::survey {
namespace {

// Two places, a length apart that fits the run, moved in from its ends.
template <class Scalar>
struct Feet {
  Scalar first_m, second_m;
};
template <class Scalar>
Feet<Scalar> feet(Scalar at_m, Scalar base_m, Scalar length_m) {
  const Scalar base = std::min(base_m, length_m);
  const Scalar first = std::clamp(at_m - base / 2, Scalar(0), length_m - base);
  return {first, first + base};
}

// Without a base, what the turn of the section along x adds to the slope of an edge.
template <class Scalar>
Feet<Scalar> twist_feet(Scalar at_m, Scalar length_m) {
  return feet(at_m, length_m / (sizeof(Scalar) < sizeof(double) ? Scalar(1e3) : Scalar(1e5)), length_m);
}

template <class Scalar>
Scalar across(const Scene<Scalar>& scene, const Reading<Scalar>& reading) {
  return Scalar(static_cast<int>(reading.edge)) * scene.width_m / 2;
}

template <class Scalar>
Scalar on_run(const Scene<Scalar>& scene, const Reading<Scalar>& reading) {
  return std::clamp(reading.at_m, Scalar(0), scene.length_m);
}

template <class Scalar>
void add_scaled(std::span<const Scalar> from, Scalar factor, std::span<Scalar> to) {
  for (std::size_t i = 0; i < to.size(); ++i) to[i] += factor * from[i];
}

// Without what the instrument's zero error and the drift add.
template <class Scalar>
Scalar seen(const Scene<Scalar>& scene, const Reading<Scalar>& reading, const KitState<Scalar>& kit) {
  const Scalar at = on_run(scene, reading);
  const Scalar y = across(scene, reading);
  const beam::Solver<Scalar>& solver = *scene.solver;
  switch (reading.channel) {
    case Channel::slope: {
      if (reading.base_m > 0) {
        const auto [first, second] = feet(at, reading.base_m, scene.length_m);
        const Scalar climb = solver.height(scene.stage, second, y) - solver.height(scene.stage, first, y);
        return Scalar(reading.face) * climb / (second - first);
      }
      Scalar slope = solver.at(scene.stage, at).slope_rad;
      if (y != 0) {
        const auto [first, second] = twist_feet(at, scene.length_m);
        const Scalar turn = solver.at(scene.stage, second).roll_rad - solver.at(scene.stage, first).roll_rad;
        slope += y * turn / (second - first);
      }
      return Scalar(reading.face) * slope;
    }
    case Channel::roll:
      return Scalar(reading.face) * solver.at(scene.stage, at).roll_rad;
    case Channel::distance:
    case Channel::temperature:
    case Channel::station:
      break;
  }
  const bool on_mark = reading.mark >= 0;
  const Scalar x = on_mark ? reading.at_m : at;
  const Scalar datum = reading.set_up < 0
                           ? Scalar(0)
                           : kit.datum_height_m[reading.set_up] + kit.datum_tilt_rad[reading.set_up] * x;
  return (on_mark ? kit.mark_height_m[reading.mark] : solver.height(scene.stage, at, y)) - datum;
}

}  // namespace

template <class Scalar>
Scalar predicted(const Scene<Scalar>& scene, const Reading<Scalar>& reading, const KitState<Scalar>& kit) {
  const Scalar added =
      (reading.zero < 0 ? Scalar(0) : kit.zero[reading.zero]) + kit.drift_share * reading.drift;
  return seen(scene, reading, kit) + added;
}

template <class Scalar>
void predicted_by_shape(const Scene<Scalar>& scene, const Reading<Scalar>& reading, std::span<Scalar> out,
                        std::span<Scalar> scratch) {
  const Scalar at = on_run(scene, reading);
  const Scalar y = across(scene, reading);
  const beam::Solver<Scalar>& solver = *scene.solver;
  const Scalar face = Scalar(reading.face);
  switch (reading.channel) {
    case Channel::slope:
      if (reading.base_m > 0) {
        const auto [first, second] = feet(at, reading.base_m, scene.length_m);
        const Scalar factor = face / (second - first);
        std::fill(out.begin(), out.end(), Scalar(0));
        solver.height_derivatives(scene.stage, second, y, scratch);
        add_scaled<Scalar>(scratch, factor, out);
        solver.height_derivatives(scene.stage, first, y, scratch);
        add_scaled<Scalar>(scratch, -factor, out);
        return;
      }
      solver.slope_derivatives(scene.stage, at, out);
      for (Scalar& entry : out) entry *= face;
      if (y != 0) {
        const auto [first, second] = twist_feet(at, scene.length_m);
        const Scalar factor = face * y / (second - first);
        solver.roll_derivatives(scene.stage, second, scratch);
        add_scaled<Scalar>(scratch, factor, out);
        solver.roll_derivatives(scene.stage, first, scratch);
        add_scaled<Scalar>(scratch, -factor, out);
      }
      return;
    case Channel::roll:
      solver.roll_derivatives(scene.stage, at, out);
      for (Scalar& entry : out) entry *= face;
      return;
    case Channel::distance:
      if (reading.mark >= 0)
        std::fill(out.begin(), out.end(), Scalar(0));
      else
        solver.height_derivatives(scene.stage, at, y, out);
      return;
    case Channel::temperature:
    case Channel::station:
      return;
  }
}

template <class Scalar>
ByKit<Scalar> predicted_by_kit(const Reading<Scalar>& reading) {
  ByKit<Scalar> by{0, 0, reading.zero < 0 ? Scalar(0) : Scalar(1), 0, reading.drift};
  if (reading.channel == Channel::distance && reading.set_up >= 0) {
    by.datum_height = -1;
    by.datum_tilt = -reading.at_m;
  }
  if (reading.channel == Channel::distance && reading.mark >= 0) by.mark_height = 1;
  return by;
}

template double predicted(const Scene<double>&, const Reading<double>&, const KitState<double>&);
template float predicted(const Scene<float>&, const Reading<float>&, const KitState<float>&);
template void predicted_by_shape(const Scene<double>&, const Reading<double>&, std::span<double>,
                                 std::span<double>);
template void predicted_by_shape(const Scene<float>&, const Reading<float>&, std::span<float>,
                                 std::span<float>);
template ByKit<double> predicted_by_kit(const Reading<double>&);
template ByKit<float> predicted_by_kit(const Reading<float>&);

}  // namespace hangtrue::survey
