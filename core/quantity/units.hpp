// units.hpp: the few constants that carry a value between units. Inside: SI and radians.
//
// Sources   g: 3rd CGPM (1901), standard acceleration of free fall, 9.80665 m/s2 exactly.
//           inch, pound: international yard and pound agreement (1959), 25.4 mm and 0.45359237 kg exactly.
#pragma once

namespace hangtrue {

inline constexpr double kPi = 3.14159265358979323846;
inline constexpr double kGravity_m_per_s2 = 9.80665;
inline constexpr double kInch_m = 0.0254;
inline constexpr double kFoot_m = 0.3048;
inline constexpr double kPound_kg = 0.45359237;
inline constexpr double kPoundForce_N = kPound_kg * kGravity_m_per_s2;

}  // namespace hangtrue
