#include "core/fit/walk.hpp"

#include <algorithm>
#include <cmath>

#include "core/fit/distribution.hpp"
#include "core/fit/fit_math.hpp"
#include "core/fit/thresholds.hpp"

namespace hangtrue::fit {

double beyond(int tried) { return std::sqrt(chi_squared_quantile(1 - kFalseAlarm / std::max(tried, 1), 1)); }

double noticed_margin() { return std::sqrt(chi_squared_quantile(2 * kNoticed - 1, 1)); }

template <class Scalar>
std::size_t Walk<Scalar>::storage_needed(int unknowns, int readings, int slips, int points) {
  const auto p = static_cast<std::size_t>(unknowns), n = static_cast<std::size_t>(readings);
  const auto s = static_cast<std::size_t>(slips), j = static_cast<std::size_t>(points);
  return n * (p + 1 + s) + j * (s + p);
}

template <class Scalar>
bool Walk<Scalar>::counts(int reading) const {
  if (static_cast<std::size_t>(reading) >= given_.judgements.size()) return true;
  const Verdict verdict = given_.judgements[static_cast<std::size_t>(reading)].verdict;
  return verdict == Verdict::kept || (given_.with_strays && verdict == Verdict::beyond_gate);
}

template <class Scalar>
Result<Done, FitFault> Walk<Scalar>::begin(const Given& given, std::span<Scalar> storage) {
  given_ = given;
  Fit<Scalar>& fit = *given.fit;
  const std::size_t n = given.readings.size(), points = 2 * given.problem.stations_m.size();
  p_ = static_cast<std::size_t>(fit.unknowns());
  beam::Parameter moves[kMaxUnknowns];
  moves_ = 0;
  for (const Slip& slip : given.slips)
    if (slip.of_support()) moves[moves_++] = slip.what.shape;
  const auto m = static_cast<std::size_t>(moves_);
  if (storage.size() < storage_needed(fit.unknowns(), static_cast<int>(n), moves_, static_cast<int>(points)))
    return fault(FitFaultCode::storage_too_small);
  const auto take = [&storage](std::size_t count) {
    const std::span<Scalar> part = storage.first(count);
    storage = storage.subspan(count);
    return part;
  };
  rows_ = take(n * p_);
  residuals_ = take(n);
  by_moves_ = take(n * m);
  finished_moves_ = take(points * m);
  finish_ = take(points * p_);

  if (const auto done = fit.effects_of({moves, m}, given.readings, by_moves_, finished_moves_); !done)
    return done.fault();
  filter_ = fit.prior_information();
  for (std::size_t i = 0; i < n; ++i) {
    const std::span<Scalar> out = rows_.subspan(i * p_, p_);
    const bool read = i < given.judgements.size();
    if (read) {
      const std::span<const Scalar> known = fit.reading_row(static_cast<int>(i));
      std::copy(known.begin(), known.end(), out.begin());
    } else if (const auto done = fit.linear_row(given.readings[i], out); !done) {
      return done.fault();
    }
    residuals_[i] = read ? fit.reading_target(static_cast<int>(i)) : Scalar(0);
    if (counts(static_cast<int>(i))) filter_.add(out, residuals_[i], 1);
  }
  Scalar estimate[kMaxUnknowns];
  (void)filter_.answer({estimate, p_});
  for (std::size_t i = 0; i < n; ++i)
    residuals_[i] = i < given.judgements.size()
                        ? residuals_[i] - dot<Scalar>(row(static_cast<int>(i)), {estimate, p_})
                        : Scalar(0);

  // The fit's finished rows are whitened by its own filter; here they are needed by this one.
  if (const auto done = fit.finished_rows({}, finish_); !done) return done.fault();
  for (std::size_t j = 0; j < points; ++j) {
    const std::span<Scalar> out = finish_.subspan(j * p_, p_);
    filter_.whiten(out, out);
  }
  return Done{};
}

template <class Scalar>
Scalar Walk<Scalar>::effect(int reading, int slip) const {
  const auto at = static_cast<std::size_t>(reading);
  const survey::Reading<Scalar>& of = given_.readings[at];
  const Unknown& what = given_.slips[static_cast<std::size_t>(slip)].what;
  switch (what.kind) {
    case UnknownKind::shape:
      return by_moves_[at * static_cast<std::size_t>(moves_) + static_cast<std::size_t>(slip)];
    case UnknownKind::datum_height:
      return what.index == of.set_up ? survey::predicted_by_kit(of).datum_height / of.sigma : Scalar(0);
    case UnknownKind::datum_tilt:
      return what.index == of.set_up ? survey::predicted_by_kit(of).datum_tilt / of.sigma : Scalar(0);
    case UnknownKind::zero:
      return what.index == of.zero ? 1 / of.sigma : Scalar(0);
    case UnknownKind::change:
    case UnknownKind::mark_height:
    case UnknownKind::mark_change:
    case UnknownKind::drift_share:
      break;
  }
  return 0;
}

// Highest less lowest, over the check points, of what a unit truly does (a slip of a support alone does anything) less what
// the fit makes of it.
template <class Scalar>
Scalar Walk<Scalar>::harm(int slip, const Scalar* whitened) const {
  const std::size_t points = 2 * given_.problem.stations_m.size(), m = static_cast<std::size_t>(moves_);
  const bool moves = slip >= 0 && slip < moves_;
  Scalar least = 0, most = 0;
  for (std::size_t j = 0; j < points; ++j) {
    const Scalar truly = moves ? finished_moves_[j * m + static_cast<std::size_t>(slip)] : Scalar(0);
    const Scalar off = truly - dot<Scalar>(finish_.subspan(j * p_, p_), {whitened, p_});
    least = j == 0 ? off : std::min(least, off);
    most = j == 0 ? off : std::max(most, off);
  }
  return given_.with_target ? 2 * std::max(std::abs(least), std::abs(most)) : most - least;
}

// along = a'r, squares = a'a, through = H'a.
template <class Scalar>
Tested<Scalar> Walk<Scalar>::test(int slip, Scalar along, Scalar squares, const Scalar* through,
                                  bool with_harm) const {
  Scalar whitened[kMaxUnknowns];
  filter_.whiten({through, p_}, {whitened, p_});
  const Scalar left = squares - squared<Scalar>(std::span<const Scalar>(whitened, p_));
  Tested<Scalar> result;
  if (with_harm) result.harm_m = harm(slip, whitened);
  if (!(left > kLeastRedundancy<Scalar> * squares)) return result;
  result.size = along / left;
  result.sigma = 1 / std::sqrt(left);
  result.statistic = along * along / left;
  return result;
}

// see(position, along, squares, through): the slip between the reading at that position and the one before; last of all with the
// first reading that counts: all readings, against what was known before.
template <class Scalar>
template <class See>
void Walk<Scalar>::each_instant(int slip, See see) const {
  Scalar through[kMaxUnknowns] = {};
  Scalar along = 0, squares = 0;
  int first = 0;  // reading that counts
  const int n = static_cast<int>(given_.order.size());
  while (first + 1 < n && !counts(given_.order[static_cast<std::size_t>(first)])) ++first;
  for (int position = n - 1; position >= first; --position) {
    const int reading = given_.order[static_cast<std::size_t>(position)];
    if (!counts(reading)) continue;
    const Scalar a = effect(reading, slip);
    if (a != 0) {
      along += a * residuals_[static_cast<std::size_t>(reading)];
      squares += a * a;
      const std::span<const Scalar> by = row(reading);
      for (std::size_t k = 0; k < p_; ++k) through[k] += a * by[k];
    }
    see(position, position == first, along, squares, static_cast<const Scalar*>(through));
  }
}

// What a slip before the first reading would explain as well is none within the walk: what was known before is wrong.
template <class Scalar>
Movement<Scalar> Walk<Scalar>::movement() const {
  Movement<Scalar> most;
  for (int slip = 0; slip < static_cast<int>(given_.slips.size()); ++slip) {
    Movement<Scalar> here;
    Scalar before = 0;
    each_instant(slip, [&](int position, bool first, Scalar along, Scalar squares, const Scalar* through) {
      if (squares == 0) return;
      const Tested<Scalar> tested = test(slip, along, squares, through, false);
      if (!(tested.sigma > 0)) return;
      if (first) {
        before = tested.statistic;
        return;
      }
      ++here.tried;
      if (here.slip >= 0 && tested.statistic <= here.test.statistic) return;
      here.slip = slip;
      here.position = position;
      here.test = tested;
    });
    most.tried += here.tried;
    if (here.slip < 0) continue;
    here.test.statistic -= before;
    if (most.slip >= 0 && here.test.statistic <= most.test.statistic) continue;
    here.tried = most.tried;
    most = here;
  }
  return most;
}

template <class Scalar>
Blind<Scalar> Walk<Scalar>::blind(int last, Scalar matters_m, std::span<const std::uint8_t> begins) const {
  Blind<Scalar> worst;
  worst.noticed_share = 1;
  int tried = 0;
  for (int slip = 0; slip < static_cast<int>(given_.slips.size()); ++slip)
    tried += static_cast<int>(given_.order.size());
  const Scalar needed = Scalar(beyond(tried) + noticed_margin());
  for (int slip = 0; slip < moves_; ++slip)
    each_instant(slip, [&](int position, bool first, Scalar along, Scalar squares, const Scalar* through) {
      if (first || position > last) return;
      if (!begins.empty() && begins[static_cast<std::size_t>(position)] == 0) return;
      const Tested<Scalar> tested = test(slip, along, squares, through, true);
      if (!(tested.harm_m > 0)) return;
      const Scalar share = tested.sigma > 0 ? matters_m / (tested.harm_m * tested.sigma * needed) : Scalar(0);
      if (share >= worst.noticed_share) return;
      worst = {slip, position, share};
    });
  return worst;
}

template <class Scalar>
Tested<Scalar> Walk<Scalar>::shift(std::span<const int> members) const {
  Scalar through[kMaxUnknowns] = {};
  Scalar along = 0, squares = 0;
  for (const int reading : members) {
    if (!counts(reading)) continue;
    const auto at = static_cast<std::size_t>(reading);
    const survey::Reading<Scalar>& of = given_.readings[at];
    const Scalar a = (of.channel == Channel::distance ? Scalar(1) : Scalar(of.face)) / of.sigma;
    along += a * residuals_[at];
    squares += a * a;
    for (std::size_t k = 0; k < p_; ++k) through[k] += a * row(reading)[k];
  }
  if (squares == 0) return {};
  return test(-1, along, squares, through, true);
}

template class Walk<double>;
template class Walk<float>;

}  // namespace hangtrue::fit
