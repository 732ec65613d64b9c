#include "core/change/drift_course.hpp"

#include <algorithm>
#include <cmath>

namespace hangtrue::change {

double creep_share(double days_under_load) {
  if (!(days_under_load > 0)) return 0;
  return std::min(std::pow(days_under_load / kCreepEnds_days, kCreepExponent), 1.0);
}

}  // namespace hangtrue::change
