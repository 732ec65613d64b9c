#include "core/beam/section.hpp"

#include <algorithm>
#include <cmath>

#include "core/quantity/units.hpp"

namespace hangtrue::beam {
namespace {

template <class Scalar>
constexpr Scalar kPiOf = static_cast<Scalar>(kPi);

template <class... Length>
bool all_positive(Length... length) {
  return ((std::isfinite(length) && length > 0) && ...);
}

template <class Scalar>
bool usable_poisson(Scalar poisson) {
  return poisson > Scalar(-1) && poisson <= Scalar(0.5);
}

template <class Scalar>
Scalar cubed(Scalar x) {
  return x * x * x;
}

/// Of one rectangle of a built-up section about an axis `arm` from its own centroid.
template <class Scalar>
Scalar second_moment(Scalar height, Scalar width, Scalar arm) {
  return width * cubed(height) / 12 + width * height * arm * arm;
}

/// J = a b^3 (1/3 - 64/pi^5 b/a sum over odd n of tanh(n pi a / 2b) / n^5), a >= b. The sum of 1/n^5 over odd
/// n is 31 zeta(5) / 32; what tanh falls short of 1 dies out as exp(-n pi), so six terms are exact to double.
template <class Scalar>
Scalar rectangle_torsion_constant(Scalar side_m, Scalar other_side_m) {
  const Scalar a = std::max(side_m, other_side_m);
  const Scalar b = std::min(side_m, other_side_m);
  constexpr Scalar kSumOfOddFifthPowers = Scalar(31.0 / 32.0 * 1.0369277551433699263);
  Scalar sum = kSumOfOddFifthPowers;
  for (int n = 1; n <= 11; n += 2) {
    const Scalar order = static_cast<Scalar>(n);
    const Scalar short_of_one = 2 / (std::exp(order * kPiOf<Scalar> * a / b) + 1);
    sum -= short_of_one / (order * order * cubed(order));
  }
  const Scalar pi_squared = kPiOf<Scalar> * kPiOf<Scalar>;
  const Scalar end_share = 64 / (pi_squared * pi_squared * kPiOf<Scalar>)*b / a * sum;
  return a * cubed(b) * (Scalar(1) / 3 - end_share);
}

/// A quarter-round corner that is cut off a rectangle (outside) or left standing in a hollow (inside): what
/// lies between the sharp corner and the arc.
template <class Scalar>
struct Spandrel {
  explicit Spandrel(Scalar radius, Scalar half_side)
      : area((1 - kPiOf<Scalar> / 4) * radius * radius),
        own_second_moment((Scalar(1) / 3 - kPiOf<Scalar> / 16 - 1 / (3 * (12 - 3 * kPiOf<Scalar>))) *
                          cubed(radius) * radius),
        arm(half_side - (10 - 3 * kPiOf<Scalar>) / (12 - 3 * kPiOf<Scalar>)*radius) {}
  [[nodiscard]] Scalar second_moment() const { return own_second_moment + area * arm * arm; }
  Scalar area, own_second_moment, arm;
};

template <class Scalar>
Scalar hollow_second_moment(Scalar height, Scalar width, Scalar wall, Scalar outside, Scalar inside) {
  const Scalar hollow_height = height - 2 * wall;
  const Scalar hollow_width = width - 2 * wall;
  return (width * cubed(height) - hollow_width * cubed(hollow_height)) / 12 -
         4 * Spandrel<Scalar>(outside, height / 2).second_moment() +
         4 * Spandrel<Scalar>(inside, hollow_height / 2).second_moment();
}

/// Cowper's thin-walled box with one wall thickness all round, by its mid-line dimensions.
template <class Scalar>
Scalar cowper_box(Scalar height, Scalar width, Scalar poisson) {
  const Scalar n = width / height;
  const Scalar m = n;  // flange area over web area; both walls are equally thick
  const Scalar m2 = m * m;
  const Scalar m3 = m2 * m;
  const Scalar top = 10 * (1 + poisson) * (1 + 3 * m) * (1 + 3 * m);
  const Scalar bottom = 12 + 72 * m + 150 * m2 + 90 * m3 + poisson * (11 + 66 * m + 135 * m2 + 90 * m3) +
                        10 * n * n * ((3 + poisson) * m + 3 * m2);
  return top / bottom;
}

/// Cowper's hollow circle; `hollow` is inside over outside diameter: 0 the solid circle, near 1 the thin
/// tube.
template <class Scalar>
Scalar cowper_ring(Scalar hollow, Scalar poisson) {
  const Scalar m2 = hollow * hollow;
  const Scalar one_plus = (1 + m2) * (1 + m2);
  return 6 * (1 + poisson) * one_plus / ((7 + 6 * poisson) * one_plus + (20 + 12 * poisson) * m2);
}

template <class Scalar>
SectionProperties<Scalar> ring(Scalar diameter, Scalar hollow_diameter, Scalar poisson) {
  const Scalar outside2 = diameter * diameter;
  const Scalar inside2 = hollow_diameter * hollow_diameter;
  const Scalar area = kPiOf<Scalar> / 4 * (outside2 - inside2);
  const Scalar second = area * (outside2 + inside2) / 16;
  return {.area_m2 = area,
          .second_moment_vertical_m4 = second,
          .second_moment_sideways_m4 = second,
          .torsion_constant_m4 = 2 * second,
          .shear_area_m2 = cowper_ring(hollow_diameter / diameter, poisson) * area,
          .section_modulus_m3 = 2 * second / diameter,
          .centroid_up_m = diameter / 2,
          .depth_m = diameter};
}

}  // namespace

template <class Scalar>
Scalar poisson_ratio(Scalar E_Pa, Scalar G_Pa) {
  return std::clamp(E_Pa / (2 * G_Pa) - 1, Scalar(0), Scalar(0.5));
}

template <class Scalar>
SectionResult<Scalar> hollow_rectangle(Scalar depth_m, Scalar width_m, Scalar wall_m, Scalar corner_outside_m,
                                       Scalar corner_inside_m, Scalar poisson) {
  if (!all_positive(depth_m, width_m, wall_m)) return SectionFault::not_positive;
  if (!std::isfinite(corner_outside_m) || !std::isfinite(corner_inside_m)) return SectionFault::not_positive;
  if (corner_outside_m < 0 || corner_inside_m < 0) return SectionFault::not_positive;
  const Scalar smaller = std::min(depth_m, width_m);
  if (2 * wall_m >= smaller) return SectionFault::wall_too_thick;
  // Along the corner's diagonal the wall is sqrt(2) wall, less what the outside loses, more what the inside
  // keeps.
  const Scalar root2 = std::sqrt(Scalar(2));
  const Scalar corner_wall = root2 * wall_m + (root2 - 1) * (corner_inside_m - corner_outside_m);
  if (2 * corner_outside_m > smaller || 2 * corner_inside_m > smaller - 2 * wall_m || corner_wall <= 0)
    return SectionFault::corner_too_large;
  if (!usable_poisson(poisson)) return SectionFault::poisson_out_of_range;

  const Scalar mid_depth = depth_m - wall_m;
  const Scalar mid_width = width_m - wall_m;
  const Scalar area =
      2 * wall_m * (mid_depth + mid_width) -
      (4 - kPiOf<Scalar>)*(corner_outside_m * corner_outside_m - corner_inside_m * corner_inside_m);
  const Scalar second = hollow_second_moment(depth_m, width_m, wall_m, corner_outside_m, corner_inside_m);

  const Scalar mid_corner = (corner_outside_m + corner_inside_m) / 2;
  const Scalar mid_length = 2 * (mid_depth + mid_width) - 2 * mid_corner * (4 - kPiOf<Scalar>);
  const Scalar mid_area = mid_depth * mid_width - mid_corner * mid_corner * (4 - kPiOf<Scalar>);
  const Scalar torsion = cubed(wall_m) * mid_length / 3 + 4 * mid_area * mid_area * wall_m / mid_length;

  return SectionProperties<Scalar>{.area_m2 = area,
                                   .second_moment_vertical_m4 = second,
                                   .second_moment_sideways_m4 = hollow_second_moment(
                                       width_m, depth_m, wall_m, corner_outside_m, corner_inside_m),
                                   .torsion_constant_m4 = torsion,
                                   .shear_area_m2 = cowper_box(mid_depth, mid_width, poisson) * area,
                                   .section_modulus_m3 = 2 * second / depth_m,
                                   .centroid_up_m = depth_m / 2,
                                   .depth_m = depth_m};
}

template <class Scalar>
SectionResult<Scalar> solid_rectangle(Scalar depth_m, Scalar width_m) {
  if (!all_positive(depth_m, width_m)) return SectionFault::not_positive;
  const Scalar area = depth_m * width_m;
  return SectionProperties<Scalar>{.area_m2 = area,
                                   .second_moment_vertical_m4 = area * depth_m * depth_m / 12,
                                   .second_moment_sideways_m4 = area * width_m * width_m / 12,
                                   .torsion_constant_m4 = rectangle_torsion_constant(depth_m, width_m),
                                   .shear_area_m2 = area * 5 / 6,
                                   .section_modulus_m3 = area * depth_m / 6,
                                   .centroid_up_m = depth_m / 2,
                                   .depth_m = depth_m};
}

template <class Scalar>
SectionResult<Scalar> round_bar(Scalar diameter_m, Scalar poisson) {
  if (!all_positive(diameter_m)) return SectionFault::not_positive;
  if (!usable_poisson(poisson)) return SectionFault::poisson_out_of_range;
  return ring(diameter_m, Scalar(0), poisson);
}

template <class Scalar>
SectionResult<Scalar> tube(Scalar diameter_m, Scalar wall_m, Scalar poisson) {
  if (!all_positive(diameter_m, wall_m)) return SectionFault::not_positive;
  if (2 * wall_m >= diameter_m) return SectionFault::wall_too_thick;
  if (!usable_poisson(poisson)) return SectionFault::poisson_out_of_range;
  return ring(diameter_m, diameter_m - 2 * wall_m, poisson);
}

template <class Scalar>
SectionResult<Scalar> flat_plate(Scalar width_m, Scalar thickness_m) {
  return solid_rectangle(thickness_m, width_m);
}

template <class Scalar>
SectionResult<Scalar> angle(Scalar depth_m, Scalar width_m, Scalar thickness_m) {
  if (!all_positive(depth_m, width_m, thickness_m)) return SectionFault::not_positive;
  if (thickness_m >= std::min(depth_m, width_m)) return SectionFault::wall_too_thick;

  // The upright leg of full depth, and the rest of the flat leg.
  const Scalar upright_area = depth_m * thickness_m;
  const Scalar rest_m = width_m - thickness_m;
  const Scalar rest_area = rest_m * thickness_m;
  const Scalar area = upright_area + rest_area;
  const Scalar up = (upright_area * depth_m + rest_area * thickness_m) / (2 * area);
  const Scalar across = (upright_area * thickness_m + rest_area * (width_m + thickness_m)) / (2 * area);
  const Scalar vertical = second_moment(depth_m, thickness_m, depth_m / 2 - up) +
                          second_moment(thickness_m, rest_m, thickness_m / 2 - up);
  const Scalar sideways = second_moment(thickness_m, depth_m, thickness_m / 2 - across) +
                          second_moment(rest_m, thickness_m, (width_m + thickness_m) / 2 - across);
  return SectionProperties<Scalar>{
      .area_m2 = area,
      .second_moment_vertical_m4 = vertical,
      .second_moment_sideways_m4 = sideways,
      .torsion_constant_m4 = (depth_m + width_m - thickness_m) * cubed(thickness_m) / 3,
      .shear_area_m2 = upright_area,
      .section_modulus_m3 = vertical / std::max(up, depth_m - up),
      .centroid_up_m = up,
      .depth_m = depth_m,
      .shear_centre_m = across - thickness_m / 2,
      .upright_face_m = across};
}

template <class Scalar>
SectionResult<Scalar> channel(Scalar depth_m, Scalar width_m, Scalar web_m, Scalar flange_m, Scalar root_m) {
  if (!all_positive(depth_m, width_m, web_m, flange_m) || !(root_m >= 0) || !std::isfinite(root_m))
    return SectionFault::not_positive;
  if (web_m >= width_m || 2 * flange_m >= depth_m) return SectionFault::wall_too_thick;
  if (root_m > width_m - web_m || 2 * root_m > depth_m - 2 * flange_m) return SectionFault::corner_too_large;

  // The web of full depth, the rest of each flange, and the fillets.
  const Scalar web_area = depth_m * web_m;
  const Scalar rest_m = width_m - web_m;
  const Scalar rest_area = rest_m * flange_m;
  const Spandrel<Scalar> fillet(root_m, depth_m / 2 - flange_m);
  const Scalar fillet_across = web_m + (depth_m / 2 - flange_m - fillet.arm);
  const Scalar area = web_area + 2 * rest_area + 2 * fillet.area;
  const Scalar across =
      (web_area * web_m + 2 * rest_area * (width_m + web_m) + 4 * fillet.area * fillet_across) / (2 * area);
  const Scalar vertical = second_moment(depth_m, web_m, Scalar(0)) +
                          2 * second_moment(flange_m, rest_m, (depth_m - flange_m) / 2) +
                          2 * fillet.second_moment();
  const Scalar sideways =
      second_moment(web_m, depth_m, web_m / 2 - across) +
      2 * second_moment(rest_m, flange_m, (width_m + web_m) / 2 - across) +
      2 * (fillet.own_second_moment + fillet.area * (fillet_across - across) * (fillet_across - across));
  // By the middles of the walls: flanges b wide, h apart.
  const Scalar b = width_m - web_m / 2, h = depth_m - flange_m;
  const Scalar walls = 6 * b * flange_m + h * web_m;
  return SectionProperties<Scalar>{
      .area_m2 = area,
      .second_moment_vertical_m4 = vertical,
      .second_moment_sideways_m4 = sideways,
      .torsion_constant_m4 =
          (2 * (width_m - web_m / 2) * cubed(flange_m) + (depth_m - flange_m) * cubed(web_m)) / 3,
      .shear_area_m2 = web_area,
      .section_modulus_m3 = 2 * vertical / depth_m,
      .centroid_up_m = depth_m / 2,
      .depth_m = depth_m,
      .warping_constant_m6 = flange_m * cubed(b) * h * h / 12 * (3 * b * flange_m + 2 * h * web_m) / walls,
      .shear_centre_m = across - web_m / 2 + 3 * b * b * flange_m / walls,
      .upright_face_m = across};
}

#define HANGTRUE_SECTIONS_FOR(Scalar)                                                              \
  template Scalar poisson_ratio(Scalar, Scalar);                                                   \
  template SectionResult<Scalar> hollow_rectangle(Scalar, Scalar, Scalar, Scalar, Scalar, Scalar); \
  template SectionResult<Scalar> solid_rectangle(Scalar, Scalar);                                  \
  template SectionResult<Scalar> round_bar(Scalar, Scalar);                                        \
  template SectionResult<Scalar> tube(Scalar, Scalar, Scalar);                                     \
  template SectionResult<Scalar> flat_plate(Scalar, Scalar);                                       \
  template SectionResult<Scalar> angle(Scalar, Scalar, Scalar);                                    \
  template SectionResult<Scalar> channel(Scalar, Scalar, Scalar, Scalar, Scalar);
HANGTRUE_SECTIONS_FOR(double)
HANGTRUE_SECTIONS_FOR(float)
#undef HANGTRUE_SECTIONS_FOR

}  // namespace hangtrue::beam
