// reading.hpp: one settled value of one instrument channel, and what it should be for a given shape.
//
// Units   slope and roll in rad, distance in m, SI throughout; sigma is one standard deviation of the settled
//         value.
// Slope   a slope instrument stands on two feet `base_m` apart and sees the chord of the height between them,
//         along the edge it stands on; base 0 is the tangent. Near an end both feet stay on the run: the
//         centre moves in.
// Face    1, or -1 when the instrument is turned round: it then sees the opposite slope (or roll) and the
//         same zero error:  value = face * truth + zero.
// Distance  value = height of the run at that edge - (datum height + datum tilt * x) + zero.
// Mark    a distance may be to a stable mark off the run instead, whose height stays from survey to survey: the mark's
//         height stands in the place of the run's, and x may lie beyond the run's ends.
// Drift   what the run is expected to have done by itself since an earlier survey (creep, temperature) adds
//         drift_share * drift to what the reading should be; drift_share is 1 where all goes as expected.
#pragma once

#include <cstdint>

#include "core/quantity/channel.hpp"

namespace hangtrue::survey {

enum class Edge : std::int8_t { right = -1, middle = 0, left = 1 };

template <class Scalar>
struct Reading {
  Channel channel = Channel::slope;
  Edge edge = Edge::middle;
  std::int8_t face = 1;
  std::int16_t set_up = -1;  // index of the datum's set-up (distance only); -1: none
  std::int16_t zero = -1;    // index of the instrument channel whose zero error it carries; -1: none
  Scalar at_m = 0;
  Scalar base_m = 0;
  Scalar value = 0;
  Scalar sigma = 0;
  std::int16_t mark = -1;  // index of the stable mark (distance only); -1: on the run
  Scalar drift = 0;        // rad or m, as value
};

}  // namespace hangtrue::survey
