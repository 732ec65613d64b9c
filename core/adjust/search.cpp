#include "core/adjust/search.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <cmath>

#include "core/adjust/thresholds.hpp"
#include "core/adjust/workspace.hpp"

namespace hangtrue::adjust {

namespace {

template <class Scalar>
bool finite(std::span<const Scalar> numbers) {
  return std::all_of(numbers.begin(), numbers.end(), [](Scalar number) { return std::isfinite(number); });
}

constexpr int stacks_of(Layout layout) {
  return layout == Layout::one ? 1 : layout == Layout::corners ? 4 : 2;
}
constexpr bool rows_along(Layout layout) { return layout == Layout::near_far || layout == Layout::corners; }
constexpr bool rows_across(Layout layout) {
  return layout == Layout::left_right || layout == Layout::corners;
}

/// Where the stacks of a setting stand: pitch -1 near, 1 far, 0 both; roll 1 left, -1 right, 0 both.
Where where(Layout layout, int pitch, int roll) {
  switch (layout) {
    case Layout::one:
      return Where::whole;
    case Layout::near_far:
      return pitch < 0 ? Where::near : Where::far;
    case Layout::left_right:
      return roll > 0 ? Where::left : Where::right;
    case Layout::corners:
      break;
  }
  if (pitch < 0) return roll > 0 ? Where::near_left : Where::near_right;
  return roll > 0 ? Where::far_left : Where::far_right;
}

template <class Scalar>
bool influence_fits(const Influence<Scalar>& influence, std::size_t rows, bool pitch, bool roll) {
  const auto fits = [rows](std::span<const Scalar> part, bool needed) {
    return part.size() == rows || (!needed && part.empty());
  };
  return fits(influence.rise, true) && fits(influence.pitch, pitch) && fits(influence.roll, roll);
}

template <class Scalar>
bool influence_finite(const Influence<Scalar>& influence) {
  return finite(influence.rise) && finite(influence.pitch) && finite(influence.roll);
}

template <class Scalar>
Result<Done, AdjustFault> check(const Problem<Scalar>& problem) {
  const auto fault = [](AdjustFaultCode code, std::size_t index) { return AdjustFault{code, int(index)}; };
  if (problem.height_m.empty()) return AdjustFault{AdjustFaultCode::no_points};
  if (problem.height_m.size() > std::size_t(kMaxPoints) || problem.places.size() > std::size_t(kMaxPlaces) ||
      problem.forces.size() > std::size_t(kMaxForceLimits) || problem.stocks.size() > std::size_t(kMaxStocks))
    return AdjustFault{AdjustFaultCode::too_many};
  bool numbers = finite(problem.height_m) && std::isfinite(problem.equal_within_m) &&
                 problem.equal_within_m >= 0 && (!problem.target_m || std::isfinite(*problem.target_m));
  for (const ForceLimit<Scalar>& force : problem.forces)
    numbers =
        numbers && std::isfinite(force.now_N) && !std::isnan(force.least_N) && !std::isnan(force.greatest_N);
  if (!numbers) return AdjustFault{AdjustFaultCode::not_finite};

  for (std::size_t s = 0; s < problem.stocks.size(); ++s) {
    const Stock<Scalar>& stock = problem.stocks[s];
    if (stock.kinds.size() > std::size_t(kMaxPieceKinds)) return fault(AdjustFaultCode::too_many, s);
    bool usable = stock.most >= 0 && stock.highest_m >= 0;
    for (const PieceKind<Scalar>& kind : stock.kinds)
      usable = usable && kind.count >= 0 && kind.thickness_m >= Scalar(kUnit_m) && kind.thickness_m <= 1;
    if (!usable) return fault(AdjustFaultCode::stock_not_usable, s);
  }
  for (std::size_t p = 0; p < problem.places.size(); ++p) {
    const Place<Scalar>& place = problem.places[p];
    const bool shims = place.by == By::shims;
    if (!influence_fits(place.on_height, problem.height_m.size(), shims && place.pitch,
                        shims && place.roll) ||
        !influence_fits(place.on_force, problem.forces.size(), shims && place.pitch, shims && place.roll))
      return fault(AdjustFaultCode::sizes_differ, p);
    if (!std::isfinite(place.rise_from_m) || !std::isfinite(place.rise_to_m) ||
        !influence_finite(place.on_height) || !influence_finite(place.on_force))
      return fault(AdjustFaultCode::not_finite, p);
    if (place.rise_from_m > place.rise_to_m) return fault(AdjustFaultCode::travel_reversed, p);
    if (!shims) {
      if (!(place.step_m > 0) || !std::isfinite(place.step_m))
        return fault(AdjustFaultCode::step_not_positive, p);
      if (std::max(std::abs(place.rise_from_m), std::abs(place.rise_to_m)) / place.step_m > Scalar(kMaxSteps))
        return fault(AdjustFaultCode::too_many, p);
      continue;
    }
    if (place.stock < 0 || std::size_t(place.stock) >= problem.stocks.size())
      return AdjustFault{AdjustFaultCode::stock_not_usable, place.stock};
    if ((place.pitch && !(rows_along(place.layout) && place.along_m > 0 && std::isfinite(place.along_m))) ||
        (place.roll && !(rows_across(place.layout) && place.across_m > 0 && std::isfinite(place.across_m))))
      return fault(AdjustFaultCode::rows_missing, p);
  }
  return Done{};
}

}  // namespace

Layout layout_for(bool along, bool across, bool pitch, bool roll) {
  if (along && across) return Layout::corners;  // four stacks, whichever way they may differ
  if (pitch != roll) return pitch ? Layout::near_far : Layout::left_right;
  return along ? Layout::near_far : across ? Layout::left_right : Layout::one;
}

template <class Scalar>
Scalar level_error(std::span<const Scalar> height_m, std::optional<std::type_identity_t<Scalar>> target_m) {
  if (height_m.empty()) return 0;
  const auto [low, high] = std::minmax_element(height_m.begin(), height_m.end());
  return target_m ? 2 * std::max(*high - *target_m, *target_m - *low) : *high - *low;
}

// Preparing -----------------------------------------------------------------------------------------------------

template <class Scalar>
bool Workspace<Scalar>::add_forms(StockForms& out, Form& form, int kind, int most, std::int32_t highest) {
  if (kind == out.kinds) {
    if (out.forms == kMaxStackForms) return false;
    out.form[std::size_t(out.forms++)] = form;
    return true;
  }
  const std::size_t k = std::size_t(kind);
  const Form without = form;
  for (int count = 0; count <= std::min(out.stock[k], most); ++count) {
    form = without;
    if (count > 0 && std::int64_t(out.thick[k]) * count > std::int64_t(highest) - without.thickness) break;
    form.count[k] = std::uint8_t(count);
    form.pieces = std::uint8_t(without.pieces + count);
    form.thickness = without.thickness + out.thick[k] * count;
    if (!add_forms(out, form, kind + 1, most - count, highest)) return false;
  }
  form = without;
  return true;
}

template <class Scalar>
Result<Done, AdjustFault> Workspace<Scalar>::list_forms(const Stock<Scalar>& stock, int index) {
  StockForms& out = forms_[std::size_t(index)];
  out.forms = 0;
  out.kinds = int(stock.kinds.size());
  out.most = std::min(stock.most, kMostInStack);
  for (int k = 0; k < out.kinds; ++k) {
    const PieceKind<Scalar>& kind = stock.kinds[std::size_t(k)];
    out.thick[std::size_t(k)] = std::int32_t(std::llround(double(kind.thickness_m) / kUnit_m));
    out.stock[std::size_t(k)] = kind.count;
    out.by_thickness[std::size_t(k)] = k;
  }
  std::sort(out.by_thickness.begin(), out.by_thickness.begin() + out.kinds, [&out](int a, int b) {
    const std::int32_t thick_a = out.thick[std::size_t(a)], thick_b = out.thick[std::size_t(b)];
    return thick_a != thick_b ? thick_a > thick_b : a < b;
  });
  const double highest = std::min(double(stock.highest_m) / kUnit_m + kOnePlane, double(kMetre));
  Form none{};
  if (!add_forms(out, none, 0, out.most, std::int32_t(highest)))
    return AdjustFault{AdjustFaultCode::too_many_stacks, index};

  const auto end = out.form.begin() + out.forms;
  std::sort(out.form.begin(), end, [](const Form& a, const Form& b) {
    if (a.thickness != b.thickness) return a.thickness < b.thickness;
    if (a.pieces != b.pieces) return a.pieces < b.pieces;
    return a.count < b.count;
  });
  out.levels = 0;
  for (int f = 0; f < out.forms; ++f)
    if (f == 0 || out.form[std::size_t(f)].thickness != out.form[std::size_t(f - 1)].thickness)
      out.level_begin[std::size_t(out.levels++)] = std::int16_t(f);
  out.level_begin[std::size_t(out.levels)] = std::int16_t(out.forms);
  return Done{};
}

template <class Scalar>
void Workspace<Scalar>::find_values(const Place<Scalar>& place, Setting& setting) const {
  // A setting's own share of the rise must leave the whole within travel; the other stacks are at least empty.
  const Scalar slack = kTravelSlack_m<Scalar>;
  const bool alone = setting.gives.rise >= Scalar(0.999);
  setting.first = setting.levels = 0;
  setting.zero = -1;
  setting.pieces_at_least = 0;
  if (setting.stock < 0) {
    setting.first = int(std::ceil((place.rise_from_m - slack) / setting.step_m));
    setting.levels =
        std::max(0, int(std::floor((place.rise_to_m + slack) / setting.step_m)) - setting.first + 1);
    if (setting.first <= 0 && setting.first + setting.levels > 0) setting.zero = -setting.first;
    return;
  }
  const StockForms& stock = forms_[std::size_t(setting.stock)];
  int fewest = std::numeric_limits<int>::max();
  for (int level = 0; level < stock.levels; ++level) {
    const Form& form = stock.form[std::size_t(stock.level_begin[std::size_t(level)])];
    const Scalar rise = setting.gives.rise * Scalar(form.thickness * kUnit_m);
    if (rise > place.rise_to_m + slack || (alone && rise < place.rise_from_m - slack)) continue;
    if (setting.levels == 0) setting.first = level;
    ++setting.levels;
    if (form.thickness == 0) setting.zero = level - setting.first;
    fewest = std::min(fewest, setting.stacks * form.pieces);
  }
  if (setting.levels > 0) setting.pieces_at_least = fewest;
}

template <class Scalar>
bool Workspace<Scalar>::add_setting(const Problem<Scalar>& problem, int p, int stacks, int pitch, int roll) {
  if (settings_ == kMaxSettings) return false;
  const Place<Scalar>& place = problem.places[std::size_t(p)];
  Setting& setting = setting_[std::size_t(settings_)];
  const bool shims = place.by == By::shims;
  const Scalar share = Scalar(stacks) / Scalar(shims ? stacks_of(place.layout) : 1);
  setting = {};
  setting.place = p;
  setting.stock = shims ? place.stock : -1;
  setting.stacks = stacks;
  setting.step_m = place.step_m;
  setting.gives.rise = share;
  if (pitch != 0) setting.gives.pitch = Scalar(pitch) * 2 * share / place.along_m;
  if (roll != 0) setting.gives.roll = Scalar(roll) * 2 * share / place.across_m;
  find_values(place, setting);
  if (setting.levels == 0) hopeless_ = true;

  const std::span<Scalar> column = bound_.column(settings_);
  for (std::size_t j = 0; j < column.size(); ++j) {
    column[j] = setting.gives.rise * place.on_height.rise[j];
    if (pitch != 0) column[j] += setting.gives.pitch * place.on_height.pitch[j];
    if (roll != 0) column[j] += setting.gives.roll * place.on_height.roll[j];
  }
  const auto [low, high] = std::minmax_element(column.begin(), column.end());
  reach_[std::size_t(settings_)] =
      problem.target_m ? std::max(std::abs(*low), std::abs(*high)) : *high - *low;
  ++settings_;
  return true;
}

template <class Scalar>
bool Workspace<Scalar>::add_place(const Problem<Scalar>& problem, int p) {
  const Place<Scalar>& place = problem.places[std::size_t(p)];
  PlaceSettings& out = place_[std::size_t(p)];
  out.begin = settings_;
  out.plane = false;
  bool added = true;
  if (place.by != By::shims) {
    added = add_setting(problem, p, 1, 0, 0);
  } else {
    const int stacks = stacks_of(place.layout);
    if (place.pitch && place.roll) {
      out.plane = true;
      for (const int pitch : {-1, 1})
        for (const int roll : {1, -1}) added = added && add_setting(problem, p, 1, pitch, roll);
    } else if (place.pitch) {
      added = add_setting(problem, p, stacks / 2, -1, 0) && add_setting(problem, p, stacks / 2, 1, 0);
    } else if (place.roll) {
      added = add_setting(problem, p, stacks / 2, 0, 1) && add_setting(problem, p, stacks / 2, 0, -1);
    } else {
      added = add_setting(problem, p, stacks, 0, 0);
    }
  }
  out.count = settings_ - out.begin;
  return added;
}

template <class Scalar>
Scalar Workspace<Scalar>::force_per(const Place<Scalar>& place, const Setting& setting,
                                    std::size_t row) const {
  Scalar sum = setting.gives.rise * place.on_force.rise[row];
  if (setting.gives.pitch != 0) sum += setting.gives.pitch * place.on_force.pitch[row];
  if (setting.gives.roll != 0) sum += setting.gives.roll * place.on_force.roll[row];
  return sum;
}

template <class Scalar>
void Workspace<Scalar>::add_rows(const Problem<Scalar>& problem) {
  Scalar row[kMaxSettings], turned[kMaxSettings];
  const auto add_limits = [&](Scalar least, Scalar greatest) {
    for (int i = 0; i < settings_; ++i) turned[i] = -row[i];
    if (std::isfinite(least)) bound_.add_row(row, least, false);
    if (std::isfinite(greatest)) bound_.add_row(turned, -greatest, false);
  };
  for (std::size_t f = 0; f < problem.forces.size(); ++f) {
    const ForceLimit<Scalar>& force = problem.forces[f];
    bool moves = false;
    for (int i = 0; i < settings_; ++i) {
      const Setting& setting = setting_[std::size_t(i)];
      row[i] = force_per(problem.places[std::size_t(setting.place)], setting, f);
      moves = moves || row[i] != 0;
    }
    if (!moves && (force.now_N < force.least_N - force_slack(force.least_N) ||
                   force.now_N > force.greatest_N + force_slack(force.greatest_N)))
      hopeless_ = true;
    // The slack that a complete choice is granted, so that a choice on the very limit is not cut off.
    add_limits(force.least_N - force.now_N - force_slack(force.least_N),
               force.greatest_N - force.now_N + force_slack(force.greatest_N));
  }
  for (int p = 0; p < places_; ++p) {
    const PlaceSettings& settings = place_[std::size_t(p)];
    if (settings.count == 1) continue;  // its values keep the travel already
    std::fill(row, row + settings_, Scalar(0));
    for (int i = 0; i < settings.count; ++i)
      row[settings.begin + i] = setting_[std::size_t(settings.begin + i)].gives.rise;
    add_limits(problem.places[std::size_t(p)].rise_from_m - kTravelSlack_m<Scalar>,
               problem.places[std::size_t(p)].rise_to_m + kTravelSlack_m<Scalar>);
    if (!settings.plane) continue;
    // near left - near right - far left + far right = 0, to a nanometre
    for (int i = 0; i < 4; ++i) row[settings.begin + i] = i == 0 || i == 3 ? Scalar(1) : Scalar(-1);
    bound_.add_row(row, 0, true);
  }
}

/// What the stock can do, for the bound. A stack of at most `most` pieces has for any thickness t
///     height <= most * t + sum over its pieces of max(0, thickness - t),
/// and over all stacks the last sum is at most that of the whole stock.
template <class Scalar>
void Workspace<Scalar>::add_stock_rows(int s) {
  const StockForms& stock = forms_[std::size_t(s)];
  Scalar row[kMaxSettings] = {};
  int stacks = 0;
  for (int i = 0; i < settings_; ++i) {
    const Setting& setting = setting_[std::size_t(i)];
    if (setting.stock != s) continue;
    row[i] = -Scalar(setting.stacks);
    stacks += setting.stacks;
  }
  for (int k = -1; k < stock.kinds; ++k) {
    const std::int64_t t = k < 0 ? 0 : stock.thick[std::size_t(k)];
    double most = double(t) * stacks * stock.most;
    for (std::size_t other = 0; other < std::size_t(stock.kinds); ++other)
      most += double(std::max(std::int64_t(0), stock.thick[other] - t)) * stock.stock[other];
    bound_.add_row(row, -Scalar(most * kUnit_m) - kTravelSlack_m<Scalar>, false);
  }
}

template <class Scalar>
Result<Done, AdjustFault> Workspace<Scalar>::prepare(const Problem<Scalar>& problem) {
  if (const auto checked = check(problem); !checked) return checked.fault();
  settings_ = 0;
  places_ = int(problem.places.size());
  stocks_ = int(problem.stocks.size());
  hopeless_ = false;
  bound_.begin(problem.height_m, 0, problem.target_m);
  for (int s = 0; s < stocks_; ++s)
    if (const auto listed = list_forms(problem.stocks[std::size_t(s)], s); !listed) return listed.fault();
  for (int p = 0; p < places_; ++p)
    if (!add_place(problem, p)) return AdjustFault{AdjustFaultCode::too_many, p};
  bound_.begin(problem.height_m, settings_, problem.target_m);
  add_rows(problem);

  for (int s = 0; s < stocks_; ++s) {
    StockForms& stock = forms_[std::size_t(s)];
    int stacks = 0;
    for (int i = 0; i < settings_; ++i)
      if (setting_[std::size_t(i)].stock == s) stacks += setting_[std::size_t(i)].stacks;
    stock.ample = true;
    for (int k = 0; k < stock.kinds; ++k)
      stock.ample = stock.ample && std::int64_t(stock.stock[std::size_t(k)]) >=
                                       std::int64_t(stacks) * problem.stocks[std::size_t(s)].most;
    if (!stock.ample) add_stock_rows(s);
  }
  Scalar from[kMaxSettings], to[kMaxSettings];
  if (!hopeless_) {
    for (int i = 0; i < settings_; ++i) {
      from[i] = value(i, 0);
      to[i] = value(i, setting_[std::size_t(i)].levels - 1);
    }
    bound_.start(vertex_[0], from, to);
  }
  return Done{};
}

template <class Scalar>
std::int32_t Workspace<Scalar>::thickness(int i, int level) const {
  const Setting& setting = setting_[std::size_t(i)];
  const StockForms& stock = forms_[std::size_t(setting.stock)];
  return stock.form[std::size_t(stock.level_begin[std::size_t(setting.first + level)])].thickness;
}

template <class Scalar>
Scalar Workspace<Scalar>::value(int i, int level) const {
  const Setting& setting = setting_[std::size_t(i)];
  if (setting.stock < 0) return Scalar(setting.first + level) * setting.step_m;
  return Scalar(thickness(i, level) * kUnit_m);
}

template <class Scalar>
int Workspace<Scalar>::fewest_pieces(int i, int level) const {
  const Setting& setting = setting_[std::size_t(i)];
  if (setting.stock < 0) return 0;
  const StockForms& stock = forms_[std::size_t(setting.stock)];
  return setting.stacks *
         stock.form[std::size_t(stock.level_begin[std::size_t(setting.first + level)])].pieces;
}

// Searching -----------------------------------------------------------------------------------------------------

/// A bound of this or more ends a branch.
template <class Scalar>
Scalar Workspace<Scalar>::enough() const {
  if (aim_ == Aim::fewest_pieces) return accept_m_ + kNothing_m<Scalar>;
  return best_.found ? best_.error_m - kNothing_m<Scalar> : Bound::kInfinity;
}

template <class Scalar>
bool Workspace<Scalar>::worse_than_best(Scalar error_m, int pieces, int touched) const {
  if (!best_.found) return false;
  if (aim_ == Aim::fewest_pieces) {
    if (pieces != best_.pieces) return pieces > best_.pieces;
    if (touched != best_.touched) return touched > best_.touched;
  }
  return error_m >= best_.error_m - kNothing_m<Scalar>;
}

template <class Scalar>
int Workspace<Scalar>::pieces_at_least() const {
  int pieces = 0;
  for (int i = 0; i < settings_; ++i) {
    const int level = level_[std::size_t(i)];
    pieces += level < 0 ? setting_[std::size_t(i)].pieces_at_least : fewest_pieces(i, level);
  }
  return pieces;
}

template <class Scalar>
int Workspace<Scalar>::touched_at_least() const {
  int touched = 0;
  for (int p = 0; p < places_; ++p) {
    const PlaceSettings& settings = place_[std::size_t(p)];
    bool moved = false;
    for (int i = settings.begin; i < settings.begin + settings.count; ++i) {
      const int level = level_[std::size_t(i)], zero = setting_[std::size_t(i)].zero;
      moved = moved || (level < 0 ? zero < 0 : level != zero);
    }
    touched += moved ? 1 : 0;
  }
  return touched;
}

/// Four corners, once all are held, lie in one plane.
template <class Scalar>
bool Workspace<Scalar>::in_plane(int i) const {
  const PlaceSettings& settings = place_[std::size_t(setting_[std::size_t(i)].place)];
  if (!settings.plane) return true;
  std::int64_t out_of_plane = 0;
  for (int corner = 0; corner < 4; ++corner) {
    const int level = level_[std::size_t(settings.begin + corner)];
    if (level < 0) return true;
    const std::int64_t height = thickness(settings.begin + corner, level);
    out_of_plane += corner == 0 || corner == 3 ? height : -height;
  }
  return std::abs(out_of_plane) <= kOnePlane;
}

/// The open setting whose wanted value is farthest, in its effect, from any that it can have.
template <class Scalar>
int Workspace<Scalar>::next_setting(const Vertex& here) const {
  int next = -1;
  Scalar farthest = -1;
  for (int i = 0; i < settings_; ++i) {
    if (level_[std::size_t(i)] >= 0) continue;
    int low = 0, high = setting_[std::size_t(i)].levels - 1;
    while (high - low > 1) {
      const int middle = (low + high) / 2;
      (value(i, middle) <= here.x[i] ? low : high) = middle;
    }
    const Scalar distance = reach_[std::size_t(i)] * std::min(std::abs(value(i, low) - here.x[i]),
                                                              std::abs(value(i, high) - here.x[i]));
    if (distance > farthest) {
      farthest = distance;
      next = i;
    }
  }
  return next;
}

template <class Scalar>
void Workspace<Scalar>::find_needs() {
  for (int item = items_; item-- > 0;) {
    const Item& here = item_[std::size_t(item)];
    const StockForms& stock = forms_[std::size_t(here.stock)];
    const std::size_t kinds = std::size_t(stock.kinds);
    Need least;
    for (int f = stock.level_begin[std::size_t(here.level)];
         f < stock.level_begin[std::size_t(here.level) + 1]; ++f) {
      const Form& form = stock.form[std::size_t(f)];
      const bool first = f == stock.level_begin[std::size_t(here.level)];
      int as_thick = 0;
      for (std::size_t k = 0; k < kinds; ++k) {
        as_thick += form.count[std::size_t(stock.by_thickness[k])];
        least.of_kind[k] = first ? form.count[k] : std::min(least.of_kind[k], int(form.count[k]));
        least.as_thick[k] = first ? as_thick : std::min(least.as_thick[k], as_thick);
      }
    }
    const bool more = item + 1 < items_ && item_[std::size_t(item) + 1].stock == here.stock;
    for (std::size_t k = 0; more && k < kinds; ++k) {
      least.of_kind[k] += need_[std::size_t(item) + 1].of_kind[k];
      least.as_thick[k] += need_[std::size_t(item) + 1].as_thick[k];
    }
    need_[std::size_t(item)] = least;
  }
}

template <class Scalar>
bool Workspace<Scalar>::enough_left(int item) const {
  const int s = item_[std::size_t(item)].stock;
  const StockForms& stock = forms_[std::size_t(s)];
  const Need& need = need_[std::size_t(item)];
  std::int64_t as_thick = 0;
  for (std::size_t k = 0; k < std::size_t(stock.kinds); ++k) {
    as_thick += left_[std::size_t(s)][std::size_t(stock.by_thickness[k])];
    if (need.of_kind[k] > left_[std::size_t(s)][k] || need.as_thick[k] > as_thick) return false;
  }
  return true;
}

template <class Scalar>
void Workspace<Scalar>::take_forms(int item, int pieces, int rest_at_least, bool any) {
  if (pieces + rest_at_least >= best_item_pieces_ || stopped_) return;
  if (item == items_) {
    best_item_pieces_ = pieces;
    std::copy(item_form_.begin(), item_form_.begin() + items_, best_item_form_.begin());
    return;
  }
  if (!enough_left(item)) return;
  if (++nodes_ >= node_limit_) stopped_ = true;
  const Item& here = item_[std::size_t(item)];
  const StockForms& stock = forms_[std::size_t(here.stock)];
  auto& left = left_[std::size_t(here.stock)];
  int form = stock.level_begin[std::size_t(here.level)];
  const int end = stock.level_begin[std::size_t(here.level) + 1];
  const int fewest = stock.form[std::size_t(form)].pieces;
  // Of stacks equally high the order does not matter.
  if (item > 0 && item_[std::size_t(item - 1)].stock == here.stock &&
      item_[std::size_t(item - 1)].level == here.level)
    form = item_form_[std::size_t(item - 1)];
  for (; form < end; ++form) {
    const Form& candidate = stock.form[std::size_t(form)];
    bool fits = true;
    for (std::size_t k = 0; k < std::size_t(stock.kinds); ++k) fits = fits && candidate.count[k] <= left[k];
    if (!fits) continue;
    for (std::size_t k = 0; k < std::size_t(stock.kinds); ++k) left[k] -= candidate.count[k];
    item_form_[std::size_t(item)] = std::int16_t(form);
    take_forms(item + 1, pieces + candidate.pieces, rest_at_least - fewest, any);
    for (std::size_t k = 0; k < std::size_t(stock.kinds); ++k) left[k] += candidate.count[k];
    if (any && best_item_pieces_ < std::numeric_limits<int>::max()) return;
  }
}

template <class Scalar>
int Workspace<Scalar>::pieces_from_stock(bool any) {
  items_ = 0;
  int ample = 0, scarce_at_least = 0;
  for (int i = 0; i < settings_; ++i) {
    const Setting& setting = setting_[std::size_t(i)];
    const int level = level_[std::size_t(i)];
    if (setting.stock < 0 || level < 0) continue;
    if (forms_[std::size_t(setting.stock)].ample) {
      ample += fewest_pieces(i, level);
      continue;
    }
    scarce_at_least += fewest_pieces(i, level);
    const Item item{i, setting.stock, setting.first + level};
    int at = items_;
    const auto later = [](const Item& a, const Item& b) {
      return a.stock != b.stock ? a.stock > b.stock : a.level < b.level;  // highest stacks first
    };
    for (; at > 0 && later(item_[std::size_t(at - 1)], item); --at)
      item_[std::size_t(at + setting.stacks - 1)] = item_[std::size_t(at - 1)];
    for (int stack = 0; stack < setting.stacks; ++stack) item_[std::size_t(at + stack)] = item;
    items_ += setting.stacks;
  }
  for (int s = 0; s < stocks_; ++s) left_[std::size_t(s)] = forms_[std::size_t(s)].stock;
  best_item_pieces_ = std::numeric_limits<int>::max();
  find_needs();
  take_forms(0, 0, scarce_at_least, any);
  return best_item_pieces_ == std::numeric_limits<int>::max() ? -1 : ample + best_item_pieces_;
}

template <class Scalar>
bool Workspace<Scalar>::limits_hold(const Problem<Scalar>& problem) const {
  for (int p = 0; p < places_; ++p) {
    const PlaceSettings& settings = place_[std::size_t(p)];
    const Place<Scalar>& place = problem.places[std::size_t(p)];
    Scalar rise = 0;
    for (int i = settings.begin; i < settings.begin + settings.count; ++i)
      rise += setting_[std::size_t(i)].gives.rise * value(i, level_[std::size_t(i)]);
    if (rise < place.rise_from_m - kTravelSlack_m<Scalar> || rise > place.rise_to_m + kTravelSlack_m<Scalar>)
      return false;
  }
  for (std::size_t f = 0; f < problem.forces.size(); ++f) {
    const ForceLimit<Scalar>& limit = problem.forces[f];
    Scalar force = limit.now_N;
    for (int i = 0; i < settings_; ++i) {
      const Setting& setting = setting_[std::size_t(i)];
      force += force_per(problem.places[std::size_t(setting.place)], setting, f) *
               value(i, level_[std::size_t(i)]);
    }
    if (force < limit.least_N - force_slack(limit.least_N) ||
        force > limit.greatest_N + force_slack(limit.greatest_N))
      return false;
  }
  return true;
}

/// All settings are held: keep them if they are the best so far.
template <class Scalar>
void Workspace<Scalar>::complete(const Problem<Scalar>& problem) {
  Scalar u[kMaxSettings];
  for (int i = 0; i < settings_; ++i) u[i] = value(i, level_[std::size_t(i)]);
  bound_.heights_at(u, scratch_.data());
  const Scalar error =
      level_error(std::span<const Scalar>(scratch_.data(), problem.height_m.size()), problem.target_m);
  const int touched = touched_at_least();
  if (aim_ == Aim::fewest_pieces && error > accept_m_) return;
  if (worse_than_best(error, pieces_at_least(), touched) || !limits_hold(problem)) return;
  const int pieces = pieces_from_stock(aim_ == Aim::least_error);
  if (pieces < 0 || worse_than_best(error, pieces, touched)) return;

  best_.found = true;
  best_.error_m = error;
  best_.pieces = pieces;
  best_.touched = touched;
  best_.level = level_;
  std::array<int, kMaxSettings> given{};
  for (int i = 0; i < settings_; ++i) {
    const Setting& setting = setting_[std::size_t(i)];
    if (setting.stock < 0) continue;
    best_.form[std::size_t(i)].fill(
        forms_[std::size_t(setting.stock)].level_begin[std::size_t(setting.first + level_[std::size_t(i)])]);
  }
  for (int item = 0; item < items_; ++item) {
    const std::size_t i = std::size_t(item_[std::size_t(item)].setting);
    best_.form[i][std::size_t(given[i]++)] = best_item_form_[std::size_t(item)];
  }
}

/// Looks at one value of a setting. True: none farther in this direction can be better.
template <class Scalar>
bool Workspace<Scalar>::try_value(const Problem<Scalar>& problem, int depth, int i, int level, bool upward) {
  level_[std::size_t(i)] = level;
  bool farther_is_no_better = false;
  if (in_plane(i)) {
    if (++nodes_ >= node_limit_) stopped_ = true;
    Vertex& child = vertex_[std::size_t(depth) + 1];
    bound_.copy(vertex_[std::size_t(depth)], child);
    bound_.fix(child, i, value(i, level));
    bound_.solve(child, enough());
    if (child.bound >= enough()) {
      const Scalar farthest = value(i, upward ? setting_[std::size_t(i)].levels - 1 : 0);
      farther_is_no_better = bound_.reaches(child, i, farthest, enough());
    } else if (!worse_than_best(child.bound, pieces_at_least(), touched_at_least()) &&
               pieces_from_stock(true) >= 0) {
      descend(problem, depth + 1);
    }
  }
  level_[std::size_t(i)] = -1;
  return farther_is_no_better;
}

template <class Scalar>
void Workspace<Scalar>::descend(const Problem<Scalar>& problem, int depth) {
  if (depth == settings_) return complete(problem);
  const Vertex& here = vertex_[std::size_t(depth)];
  const int i = next_setting(here);
  const Setting& setting = setting_[std::size_t(i)];
  const Scalar wanted = here.x[i];
  int low = 0, high = setting.levels;
  while (low < high) {
    const int middle = (low + high) / 2;
    if (value(i, middle) < wanted)
      low = middle + 1;
    else
      high = middle;
  }
  int above = low, below = low - 1;
  const bool zero_first = aim_ == Aim::fewest_pieces && setting.zero >= 0;
  if (zero_first) (void)try_value(problem, depth, i, setting.zero, true);
  bool up = above < setting.levels, down = below >= 0;
  while ((up || down) && !stopped_) {
    if (here.bound >= enough()) return;
    const bool upward = up && (!down || value(i, above) - wanted <= wanted - value(i, below));
    const int level = upward ? above : below;
    const bool closed = !(zero_first && level == setting.zero) && try_value(problem, depth, i, level, upward);
    if (upward)
      up = !closed && ++above < setting.levels;
    else
      down = !closed && --below >= 0;
  }
}

template <class Scalar>
void Workspace<Scalar>::search(const Problem<Scalar>& problem, Aim aim) {
  aim_ = aim;
  level_.fill(-1);
  descend(problem, 0);
}

// Reporting -----------------------------------------------------------------------------------------------------

template <class Scalar>
Choice<Scalar> Workspace<Scalar>::report(const Problem<Scalar>& problem) const {
  Choice<Scalar> choice;
  choice.pieces = best_.pieces;
  choice.level_error_after_m = best_.error_m;
  for (int p = 0; p < places_; ++p) {
    const Place<Scalar>& place = problem.places[std::size_t(p)];
    const PlaceSettings& settings = place_[std::size_t(p)];
    bool touched = false;
    for (int i = settings.begin; i < settings.begin + settings.count; ++i)
      touched = touched || best_.level[std::size_t(i)] != setting_[std::size_t(i)].zero;
    if (!touched) continue;
    Move<Scalar>& move = choice.move[std::size_t(choice.moves++)];
    move.place = p;
    move.support = place.support;
    for (int i = settings.begin; i < settings.begin + settings.count; ++i) {
      const Setting& setting = setting_[std::size_t(i)];
      const int level = best_.level[std::size_t(i)];
      move.rise_m += setting.gives.rise * value(i, level);
      move.pitch_rad += setting.gives.pitch * value(i, level);
      move.roll_rad += setting.gives.roll * value(i, level);
      if (setting.stock < 0) {
        move.steps = setting.first + level;
        move.turns = Scalar(move.steps) * place.step_turns;
        continue;
      }
      const int pitch = setting.gives.pitch > 0 ? 1 : setting.gives.pitch < 0 ? -1 : 0;
      const int roll = setting.gives.roll > 0 ? 1 : setting.gives.roll < 0 ? -1 : 0;
      for (int stack = 0; stack < setting.stacks; ++stack) {
        Stack<Scalar>& out = move.stack[std::size_t(move.stacks++)];
        // A setting for several stacks: near or left first.
        const bool later_half = stack >= setting.stacks / 2 && setting.stacks > 1;
        const int along = pitch != 0 ? pitch : later_half ? 1 : -1;
        const int across = roll != 0 ? roll : (setting.stacks == 4 ? stack % 2 == 1 : later_half) ? -1 : 1;
        out.where = where(place.layout, along, across);
        out.thickness_m = value(i, level);
        out.count = forms_[std::size_t(setting.stock)]
                        .form[std::size_t(best_.form[std::size_t(i)][std::size_t(stack)])]
                        .count;
      }
    }
  }
  return choice;
}

template <class Scalar>
Result<Choice<Scalar>, AdjustFault> choose(const Problem<Scalar>& problem, Workspace<Scalar>& w) {
  if (const auto prepared = w.prepare(problem); !prepared) return prepared.fault();
  const Scalar before = level_error(problem.height_m, problem.target_m);
  w.best_ = {};
  w.stopped_ = false;
  w.nodes_ = 0;
  w.node_limit_ = problem.node_limit;
  Scalar root_bound = LevelBound<Scalar>::kInfinity;
  bool first_stopped = false;
  if (!w.hopeless_) {
    w.bound_.solve(w.vertex_[0], LevelBound<Scalar>::kInfinity);
    root_bound = w.vertex_[0].bound;
  }
  if (root_bound < LevelBound<Scalar>::kInfinity) {
    w.aim_ = Workspace<Scalar>::Aim::least_error;
    bool can_do_nothing = true;
    for (int i = 0; i < w.settings_; ++i) {
      w.level_[std::size_t(i)] = w.setting_[std::size_t(i)].zero;
      can_do_nothing = can_do_nothing && w.level_[std::size_t(i)] >= 0;
    }
    if (can_do_nothing) w.complete(problem);
    w.search(problem, Workspace<Scalar>::Aim::least_error);
  }
  first_stopped = w.stopped_;
  const Scalar least = w.best_.error_m;
  if (w.best_.found && !w.stopped_) {
    w.accept_m_ = least + problem.equal_within_m;
    w.search(problem, Workspace<Scalar>::Aim::fewest_pieces);
  }

  Choice<Scalar> choice;
  if (w.best_.found) {
    choice = w.report(problem);
    choice.outcome = w.stopped_ ? Outcome::stopped_at_limit : Outcome::proved_best;
    choice.least_level_error_m = least;
  } else {
    choice.outcome = w.stopped_ ? Outcome::none_found : Outcome::none_keeps_limits;
    choice.level_error_after_m = choice.least_level_error_m = before;
  }
  choice.level_error_before_m = before;
  choice.could_still_be_m = choice.least_level_error_m;
  if (first_stopped) choice.could_still_be_m = std::clamp(root_bound, Scalar(0), choice.least_level_error_m);
  choice.nodes = w.nodes_;
  return choice;
}

template <class Scalar>
void finished_heights(const Problem<Scalar>& problem, const Choice<Scalar>& choice, std::span<Scalar> out) {
  for (std::size_t j = 0; j < problem.height_m.size(); ++j) {
    out[j] = problem.height_m[j];
    for (int m = 0; m < choice.moves; ++m) {
      const Move<Scalar>& move = choice.move[std::size_t(m)];
      out[j] += change(problem.places[std::size_t(move.place)].on_height, move, int(j));
    }
  }
}

template double level_error(std::span<const double>, std::optional<double>);
template float level_error(std::span<const float>, std::optional<float>);
template class Workspace<double>;
template class Workspace<float>;
template Result<Choice<double>, AdjustFault> choose(const Problem<double>&, Workspace<double>&);
template Result<Choice<float>, AdjustFault> choose(const Problem<float>&, Workspace<float>&);
template void finished_heights(const Problem<double>&, const Choice<double>&, std::span<double>);
template void finished_heights(const Problem<float>&, const Choice<float>&, std::span<float>);

}  // namespace hangtrue::adjust
