// section.hpp: what a cross-section gives to stiffness: area, second moments, torsion constant, shear area.
//
// Model   Prismatic, one material. Bending in the vertical plane about the horizontal axis through the
//         centroid; depth is upright, width across. Saint-Venant torsion, warping free.
// Units   m, m2, m3, m4. Lengths are outside dimensions.
// Limits  An angle bends about the horizontal axis as if it were held from going sideways: asymmetric bending
//         is not modelled, and an angle free to go sideways sags more. Open sections take the thin-walled
//         torsion constant, which leaves out fillets and what the walls share where they meet. Closed and
//         solid sections count as not warping at all.
// Shear   centre: where a load bends the section without twisting it. In the middle of all shapes but two: of a
// centre  channel outside its web, of an angle where the middles of its legs meet.
// Errors  the first SectionFault found, in its order; nothing is computed then.
// Source  Hollow rectangles: EN 10210-2 and EN 10219-2, formulas for section properties (from memory; they
//         reproduce the published tables in data/reference/sections.csv to every printed figure). Shear: G.
//         R. Cowper, The Shear Coefficient in Timoshenko's Beam Theory, J. Applied Mechanics 33 (1966)
//         335-340 (coefficients from memory); 5/6 for a solid rectangle, since E/(2G) - 1 is no Poisson's
//         ratio for wood; upright web alone for angle and channel (common practice, no source). Shear centre and
//         warping constant of a channel: V. Z. Vlasov, Thin-walled Elastic Beams, by the middles of its walls
//         (from memory; the shear centres of data/reference/channels_upe.csv come out to 0.01 cm). Torsion of a
//         solid rectangle: Timoshenko & Goodier, Theory of Elasticity, series solution (from memory).
#pragma once

#include <cstdint>

#include "core/quantity/result.hpp"

namespace hangtrue::beam {

enum class SectionFault : std::uint8_t {
  not_positive,      // a dimension <= 0, a corner radius < 0, or one of them not finite
  wall_too_thick,    // the walls leave no hollow, or an open section's walls fill it
  corner_too_large,  // outside radius over half a side, inside radius over half the hollow, or no wall left
                     // between
  poisson_out_of_range  // not in -1 < poisson <= 0.5
};

template <class Scalar>
struct SectionProperties {
  Scalar area_m2;
  Scalar second_moment_vertical_m4;  // for bending in the vertical plane
  Scalar second_moment_sideways_m4;  // for bending in the horizontal plane
  Scalar torsion_constant_m4;
  Scalar shear_area_m2;       // for vertical shear: shear stiffness is G times this
  Scalar section_modulus_m3;  // elastic, vertical bending, of the weaker face
  Scalar centroid_up_m;       // above the bottom face
  Scalar depth_m;
  Scalar warping_constant_m6 = 0;  // Iw about the shear centre; 0: it does not warp
  Scalar shear_centre_m = 0;       // from the centroid, sideways, to where its upright wall stands
  Scalar upright_face_m = 0;       // from the centroid to the outer face of that wall; 0: it has none
};

template <class Scalar>
using SectionResult = Result<SectionProperties<Scalar>, SectionFault>;

/// Poisson's ratio that E and G imply, E/(2G) - 1, kept within 0 ... 0.5: outside it the material is not
/// isotropic and the coefficients have no meaning.
template <class Scalar>
[[nodiscard]] Scalar poisson_ratio(Scalar E_Pa, Scalar G_Pa);

/// Corner radii may be 0 (sharp).
template <class Scalar>
[[nodiscard]] SectionResult<Scalar> hollow_rectangle(Scalar depth_m, Scalar width_m, Scalar wall_m,
                                                     Scalar corner_outside_m, Scalar corner_inside_m,
                                                     Scalar poisson);

template <class Scalar>
[[nodiscard]] SectionResult<Scalar> solid_rectangle(Scalar depth_m, Scalar width_m);

template <class Scalar>
[[nodiscard]] SectionResult<Scalar> round_bar(Scalar diameter_m, Scalar poisson);

template <class Scalar>
[[nodiscard]] SectionResult<Scalar> tube(Scalar diameter_m, Scalar wall_m, Scalar poisson);

/// Laid flat: the thickness is the depth.
template <class Scalar>
[[nodiscard]] SectionResult<Scalar> flat_plate(Scalar width_m, Scalar thickness_m);

/// Upright leg of the full depth at one edge, flat leg of the full width at the bottom, both of one
/// thickness.
template <class Scalar>
[[nodiscard]] SectionResult<Scalar> angle(Scalar depth_m, Scalar width_m, Scalar thickness_m);

/// Upright web of the full depth at one edge, two flanges of the full width at top and bottom, parallel; fillets of `root_m`
/// where they meet.
template <class Scalar>
[[nodiscard]] SectionResult<Scalar> channel(Scalar depth_m, Scalar width_m, Scalar web_m, Scalar flange_m,
                                            Scalar root_m = 0);

}  // namespace hangtrue::beam
