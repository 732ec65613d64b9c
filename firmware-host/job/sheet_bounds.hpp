// sheet_bounds.hpp: between which values what a run sheet says can be meant, each with its source. Beyond them it is doubted, not
// refused: they are there to find a wrong unit, a point in the wrong place, a forgotten line.
#pragma once

#include <array>

#include "firmware-host/job/sheet_doubts.hpp"

namespace hangtrue::job {

/// Of what has a modulus within these bounds: the ratio of E to G, the density, and the stress that a common grade bears.
struct MaterialBand {
  MaterialSort sort;
  double E_least_Pa, E_most_Pa;
  double E_by_G_least, E_by_G_most;
  double density_least, density_most;  // kg/m3
  double bears_Pa;
};
/// wood       boards from particleboard (EN 12369-1, about 1.5 GPa) to the hardest hardwood (EN 338 D80, 24 GPa); density from
///            softboard to hardboard and D80 (EN 1991-1-1 Table A.3: 4 to 10 kN/m3; softwood EN 338 C14 350 kg/m3 in the mean), with
///            room for light panels; bending strength of EN 338 C24, 24 MPa. E/G is about 16 in EN 338, 2 to 3 in boards.
/// aluminium  EN 1999-1-1 3.2.5: 70 GPa, 27 GPa, 2,700 kg/m3; glass (EN 1991-1-1 Table A.5: 25 kN/m3) has nearly the same
///            modulus. Bears: EN AW-6082 T6, 250 MPa (EN 1999-1-1 Table 3.2b).
/// steel      EN 1993-1-1 3.2.6: 210 GPa, 81 GPa; EN 1993-1-4: stainless from 195 GPa; EN 1991-1-1 Table A.4: 77 to 78.5 kN/m3, with
///            room for stainless. Bears: S235, 235 MPa (EN 1993-1-1 Table 3.1).
/// All from memory, but for E and G of steel and of EN 338, which were seen quoted. Metals: E/G = 2 (1 + nu), nu from 0.2 to 0.4.
inline constexpr std::array kMaterialBands{
    MaterialBand{MaterialSort::wood, 1e9, 26e9, 2, 45, 250, 1200, 24e6},
    MaterialBand{MaterialSort::aluminium, 64e9, 76e9, 2.4, 2.8, 2400, 2900, 250e6},
    MaterialBand{MaterialSort::steel, 190e9, 215e9, 2.4, 2.8, 7600, 8100, 235e6},
};

/// Span over depth. Common practice, no source: beams stand at 10 to 30; a shelf's spine may reach 50. Below 2 a beam is a
/// plate.
inline constexpr double kMostSlender = 60, kLeastSlender = 2;
/// Span over sag, and length over sag of what hangs over. Common practice, no source: a tenth of what any limit allows (span over
/// 250 to 500).
inline constexpr double kLeastSpanRatio = 50, kLeastOverhangRatio = 25;
/// How far the run may roll or climb, and rise or sink for its length. Small angles, no source: all that is worked out takes the sine
/// of an angle for the angle, 0.04 % off here; a run that leans by a twentieth is held wrongly, or written so.
inline constexpr double kLargestAngle = 0.05;
/// What brackets, posts, rods and lifts give. Common practice, no source: a rod M8 three metres long has 2.5 kN/mm, a bracket in a
/// light wall a tenth of it, a post on concrete hundreds; a thousandth or a thousand times that is a wrong unit.
inline constexpr double kSoftestRise_N_per_m = 1e5, kStiffestRise_N_per_m = 2e9;
inline constexpr double kSoftestTurn_Nm_per_rad = 200, kStiffestTurn_Nm_per_rad = 1e8;
/// What the kit tells of a height at best, of the tolerance. No source: beyond a half, no run is ever sure to be within it.
inline constexpr double kRoughestKit = 0.5;

}  // namespace hangtrue::job
