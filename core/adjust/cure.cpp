#include "core/adjust/cure.hpp"

#include <algorithm>
#include <cmath>

#include "core/adjust/thresholds.hpp"
#include "core/adjust/workspace.hpp"

namespace hangtrue::adjust {

template <class Scalar>
Result<Cure<Scalar>, AdjustFault> find_cure(const Problem<Scalar>& problem, std::span<const Scalar> elastic_m,
                                            Scalar tolerance_m, Workspace<Scalar>& w) {
  if (elastic_m.size() != problem.height_m.size()) return AdjustFault{AdjustFaultCode::sizes_differ};
  if (!std::all_of(elastic_m.begin(), elastic_m.end(), [](Scalar e) { return std::isfinite(e); }) ||
      !std::isfinite(tolerance_m))
    return AdjustFault{AdjustFaultCode::not_finite};
  if (const auto prepared = w.prepare(problem); !prepared) return prepared.fault();

  Cure<Scalar> cure;
  cure.what = CureFor::no_settings;
  if (w.hopeless_) return cure;

  Scalar from[kMaxSettings], to[kMaxSettings];
  for (int i = 0; i < w.settings_; ++i) {
    from[i] = w.vertex_[0].from[i];
    to[i] = w.vertex_[0].to[i];
  }
  const std::span<Scalar> heights = w.bound_.heights();
  const auto least_error = [&](Scalar s) {
    for (std::size_t j = 0; j < heights.size(); ++j)
      heights[j] = problem.height_m[j] + (s - 1) * elastic_m[j];
    w.bound_.start(w.vertex_[0], from, to);
    w.bound_.solve(w.vertex_[0], LevelBound<Scalar>::kInfinity);
    return w.vertex_[0].bound;
  };

  const Scalar now = least_error(1);
  if (!(now < LevelBound<Scalar>::kInfinity)) return cure;
  cure.continuous_error_m = now;
  if (now <= tolerance_m) {
    cure.what = CureFor::finer_steps;
    return cure;
  }

  // Convex in s: find the least between 0 and 1, then where the tolerance is crossed on the way up to 1.
  Scalar low = 0, high = 1;
  while (high - low > Scalar(kWithin)) {
    const Scalar left = low + (high - low) / 3, right = high - (high - low) / 3;
    if (least_error(left) <= least_error(right))
      high = right;
    else
      low = left;
  }
  Scalar best = (low + high) / 2;
  if (least_error(0) <= least_error(best)) best = 0;
  cure.without_sag_error_m = least_error(best);
  if (cure.without_sag_error_m > tolerance_m) {
    cure.what = CureFor::not_sag;
    return cure;
  }
  Scalar good = best, bad = 1;
  while (bad - good > kWithin) {
    const Scalar middle = (good + bad) / 2;
    (least_error(middle) <= tolerance_m ? good : bad) = middle;
  }
  cure.what = CureFor::less_sag;
  cure.load_factor = good;
  cure.stiffness_factor = good > 0 ? 1 / good : LevelBound<Scalar>::kInfinity;
  Scalar peak = 0;
  for (const Scalar e : elastic_m) peak = std::max(peak, std::abs(e));
  cure.camber_m = (1 - good) * peak;
  return cure;
}

template Result<Cure<double>, AdjustFault> find_cure(const Problem<double>&, std::span<const double>, double,
                                                     Workspace<double>&);
template Result<Cure<float>, AdjustFault> find_cure(const Problem<float>&, std::span<const float>, float,
                                                    Workspace<float>&);

}  // namespace hangtrue::adjust
