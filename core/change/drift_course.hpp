// drift_course.hpp: how creep goes on in time.
//
// Model     share of the creep of kCreepEnds_days (core/beam/creep.hpp gives that) that is there after so long under
//           load: (time / kCreepEnds_days)^kCreepExponent, at most 1. Steep at first: more than a third within the first
//           half year.
// Source    a power law of time is the usual course (W. N. Findley; from memory), its exponent common practice, no source;
//           the classes of load duration of ENV 1995-1-1:1993, Table 4.1 (from memory; solid timber, service class 1: 0.25
//           up to six months, 0.50 up to ten years, 0.60 beyond) stand for shares of 0.42, 0.83 and 1, which the law follows
//           within 0.15. Fifty years: design working life of buildings, EN 1990, Table 2.1 (from memory).
#pragma once

#include "core/change/thresholds.hpp"

namespace hangtrue::change {

/// 0 where the time is not above 0.
[[nodiscard]] double creep_share(double days_under_load);

}  // namespace hangtrue::change
