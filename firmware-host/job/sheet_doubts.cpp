#include "firmware-host/job/sheet_doubts.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

#include "firmware-host/job/finished_level.hpp"
#include "firmware-host/job/sheet_bounds.hpp"
#include "firmware-host/sheet/units.hpp"

namespace hangtrue::job {

namespace {

using Kind = SheetDoubtKind;

class Asker {
 public:
  Asker(const sheet::RunSheet& run, SolvedRun& solved, const sheet::SheetLines& lines)
      : run_(run), solver_(solved.solver()), lines_(lines) {}

  std::vector<SheetDoubt> ask() {
    own_weights();
    in_no_stage();
    for (const sheet::MemberEntry& member : run_.members)
      if (std::find(asked_.begin(), asked_.end(), member.material) == asked_.end() &&
          !member.material.empty()) {
        asked_.push_back(member.material);
        material(member.material);
      }
    slenderness();
    stress();
    deflection();
    small_angles();
    springs();
    steps();
    nothing_to_adjust();
    std::stable_sort(doubts_.begin(), doubts_.end(),
                     [](const SheetDoubt& a, const SheetDoubt& b) { return a.line < b.line; });
    return std::move(doubts_);
  }

 private:
  static std::string path(const char* list, std::size_t index) {
    return std::string(list) + '[' + std::to_string(index + 1) + ']';
  }
  SheetDoubt& add(Kind kind, const std::string& key, const std::string& name) {
    SheetDoubt doubt;
    doubt.kind = kind;
    doubt.key = key;
    doubt.line = lines_.line(key);
    doubt.typed = lines_.typed(key);
    doubt.name = name;
    doubts_.push_back(std::move(doubt));
    return doubts_.back();
  }
  [[nodiscard]] bool on(std::size_t stage, int load) const {
    return run_.beam_stages[stage].lists_load(load);
  }

  // A member is there, and weighs, in every stage.
  void own_weights() {
    for (std::size_t m = 0; m < run_.members.size(); ++m) {
      const std::string& name = run_.members[m].name;
      const int load = run_.load(name);
      if (load < 0) continue;  // a given section whose weight is not known
      bool ever = false;
      for (std::size_t s = 0; s < run_.stages.size(); ++s) ever = ever || on(s, load);
      if (!ever) {
        add(Kind::own_weight_in_no_stage, path("member", m), name);
        continue;
      }
      if (!on(0, load))
        add(Kind::own_weight_not_on, path("stage", 0) + ".loads", name).stage = run_.stages[0];
      for (std::size_t s = 1; s < run_.stages.size(); ++s)
        if (on(s - 1, load) && !on(s, load))
          add(Kind::own_weight_dropped, path("stage", s) + ".loads", name).stage = run_.stages[s];
    }
  }

  void in_no_stage() {
    std::size_t of_sheet = 0;  // [[load]]s: members' own weights are loads too, and have no table
    for (std::size_t i = 0; i < run_.loads.size(); ++i) {
      if (run_.loads[i].is_member) continue;
      const std::size_t index = of_sheet++;
      bool ever = false;
      for (std::size_t s = 0; s < run_.stages.size(); ++s) ever = ever || on(s, int(i));
      if (!ever) add(Kind::load_in_no_stage, path("load", index), run_.loads[i].name);
    }
    for (std::size_t i = 0; i < run_.supports.size(); ++i) {
      const bool ever = std::any_of(run_.beam_stages.begin(), run_.beam_stages.end(),
                                    [&](const beam::Stage& stage) { return stage.lists_support(int(i)); });
      if (!ever) add(Kind::support_in_no_stage, path("support", i), run_.supports[i].name);
    }
  }

  [[nodiscard]] std::optional<double> typed_quantity(const std::string& key, sheet::Kind kind) const {
    const auto value = sheet::parse_quantity(lines_.typed(key), kind);
    return value.ok() ? std::optional(value.value()) : std::nullopt;
  }
  [[nodiscard]] static const MaterialBand* band_of(double E_Pa) {
    for (const MaterialBand& band : kMaterialBands)
      if (E_Pa >= band.E_least_Pa && E_Pa <= band.E_most_Pa) return &band;
    return nullptr;
  }

  void material(const std::string& name) {
    const std::string of = "material." + name;
    const auto E = typed_quantity(of + ".E", sheet::Kind::stress),
               G = typed_quantity(of + ".G", sheet::Kind::stress),
               density = typed_quantity(of + ".density", sheet::Kind::density);
    if (!E) return;  // of a grade, or written in another way
    const MaterialBand* const band = band_of(*E);
    if (band == nullptr) {
      add(Kind::modulus, of + ".E", name);
      return;
    }
    if (G && !(*E / *G >= band->E_by_G_least && *E / *G <= band->E_by_G_most)) {
      SheetDoubt& doubt = add(Kind::shear_modulus, of + ".G", name);
      doubt.value = *E / *G;
      doubt.least = band->E_by_G_least;
      doubt.most = band->E_by_G_most;
      doubt.sort = band->sort;
    }
    if (density && !(*density >= band->density_least && *density <= band->density_most)) {
      SheetDoubt& doubt = add(Kind::density, of + ".density", name);
      doubt.least = band->density_least;
      doubt.most = band->density_most;
      doubt.sort = band->sort;
    }
  }

  // The deepest member over the middle of the longest span; where one acts as one with others its depth says nothing.
  void slenderness() {
    const Span* longest = nullptr;
    const std::vector<Span> all = spans(run_, solver_, run_.tolerance.stage);
    for (const Span& span : all)
      if (!span.overhang && (longest == nullptr || span.to_m - span.from_m > longest->to_m - longest->from_m))
        longest = &span;
    if (longest == nullptr) return;
    const double middle_m = (longest->from_m + longest->to_m) / 2;
    std::optional<std::size_t> deepest;
    for (std::size_t m = 0; m < run_.members.size(); ++m) {
      const sheet::MemberEntry& member = run_.members[m];
      if (member.from_m > middle_m || member.to_m < middle_m) continue;
      if (member.as_one || !(member.depth_m > 0)) return;
      if (!deepest || member.depth_m > run_.members[*deepest].depth_m) deepest = m;
    }
    if (!deepest) return;
    const double ratio = (longest->to_m - longest->from_m) / run_.members[*deepest].depth_m;
    if (ratio <= kMostSlender && ratio >= kLeastSlender) return;
    SheetDoubt& doubt = add(ratio > kMostSlender ? Kind::slender : Kind::stocky,
                            path("member", *deepest) + ".section", run_.members[*deepest].name);
    doubt.value = ratio;
    doubt.least = kLeastSlender;
    doubt.most = kMostSlender;
    doubt.at_m = longest->from_m;
    doubt.to_m = longest->to_m;
  }

  // Each member once, in the stage in which it bends most.
  void stress() {
    std::vector<double> most(run_.members.size(), 0);
    std::vector<int> when(run_.members.size(), 0);
    for (int s = 0; s < int(run_.stages.size()); ++s) {
      const std::vector<double> stress = bending_stress_Pa(run_, solver_, s);
      for (std::size_t m = 0; m < most.size(); ++m)
        if (stress[m] > most[m]) {
          most[m] = stress[m];
          when[m] = s;
        }
    }
    for (std::size_t m = 0; m < most.size(); ++m) {
      const sheet::MemberEntry& member = run_.members[m];
      const double second_moment = member.section_modulus_m3 * member.depth_m / 2;  // of a symmetric section
      const MaterialBand* const band =
          second_moment > 0 ? band_of(member.bending_N_m2 / second_moment) : nullptr;
      const double bears_Pa = band != nullptr ? band->bears_Pa : kMaterialBands.back().bears_Pa;
      if (most[m] <= bears_Pa) continue;
      SheetDoubt& doubt = add(Kind::stress, path("member", m), member.name);
      doubt.stage = run_.stages[std::size_t(when[m])];
      doubt.value = most[m];
      doubt.most = bears_Pa;
      doubt.sort = band != nullptr ? band->sort : MaterialSort::steel;
    }
  }

  // Once, in the stage and the span that sag most for their length.
  void deflection() {
    SheetDoubt worst;
    worst.value = std::numeric_limits<double>::infinity();
    for (int s = 0; s < int(run_.stages.size()); ++s)
      for (const Span& span : spans(run_, solver_, s)) {
        const double least = span.overhang ? kLeastOverhangRatio : kLeastSpanRatio;
        if (!(span.ratio() < least) || span.ratio() >= worst.value) continue;
        worst.stage = run_.stages[std::size_t(s)];
        worst.value = span.ratio();
        worst.least = least;
        worst.at_m = span.from_m;
        worst.to_m = span.to_m;
      }
    if (worst.stage.empty()) return;
    SheetDoubt& doubt = add(Kind::deflection, path("stage", std::size_t(run_.stage(worst.stage))), "");
    doubt.stage = worst.stage;
    doubt.value = worst.value;
    doubt.least = worst.least;
    doubt.at_m = worst.at_m;
    doubt.to_m = worst.to_m;
  }

  // Each once, in the stage and at the place where it is largest.
  void small_angles() {
    struct Largest {
      Kind kind;
      double most, value = 0, at_m = 0;
      int stage = -1;
      void see(double found, double at, int in) {
        if (std::abs(found) <= most || std::abs(found) <= std::abs(value)) return;
        value = found;
        at_m = at;
        stage = in;
      }
    };
    Largest roll{Kind::large_roll, kLargestAngle}, slope{Kind::large_slope, kLargestAngle},
        height{Kind::large_height, kLargestAngle * run_.length_m};
    for (int s = 0; s < int(run_.stages.size()); ++s)
      for (const double x : run_.stations_m) {
        const beam::Section<double> here = solver_.at(s, x);
        roll.see(here.roll_rad, x, s);
        slope.see(here.slope_rad, x, s);
        height.see(here.height_m, x, s);
      }
    for (const Largest& each : {roll, slope, height}) {
      if (each.stage < 0) continue;
      SheetDoubt& doubt = add(each.kind, path("stage", std::size_t(each.stage)) + ".supports", "");
      doubt.stage = run_.stages[std::size_t(each.stage)];
      doubt.value = each.value;
      doubt.most = each.most;
      doubt.at_m = each.at_m;
    }
  }

  void springs() {
    constexpr std::array kKeys{".rise", ".pitch", ".roll"};
    for (std::size_t i = 0; i < run_.supports.size(); ++i) {
      const beam::Support<double>& support = run_.beam_supports[i];
      const std::array motions{support.rise, support.pitch, support.roll};
      for (std::size_t m = 0; m < motions.size(); ++m) {
        if (!motions[m].held || !(motions[m].compliance > 0)) continue;
        const double stiffness = 1 / motions[m].compliance;
        const double softest = m == 0 ? kSoftestRise_N_per_m : kSoftestTurn_Nm_per_rad,
                     stiffest = m == 0 ? kStiffestRise_N_per_m : kStiffestTurn_Nm_per_rad;
        if (stiffness >= softest && stiffness <= stiffest) continue;
        SheetDoubt& doubt = add(stiffness < softest ? Kind::soft_spring : Kind::stiff_spring,
                                path("support", i) + kKeys[m], run_.supports[i].name);
        doubt.value = stiffness;
        doubt.least = softest;
        doubt.most = stiffest;
        doubt.motion = int(m);
      }
    }
  }

  // What a stack can be made finer by: the thinnest piece, or the least difference of two.
  static double finest_step_m(const sheet::Stock& stock) {
    double finest = std::numeric_limits<double>::infinity();
    for (const sheet::PieceOfStock& a : stock.pieces) {
      if (a.count <= 0) continue;
      finest = std::min(finest, a.thickness_m);
      for (const sheet::PieceOfStock& b : stock.pieces)
        if (b.count > 0 && a.thickness_m > b.thickness_m)
          finest = std::min(finest, a.thickness_m - b.thickness_m);
    }
    return finest;
  }

  void coarse(const std::string& key, const std::string& name, double step_m) {
    if (!(run_.tolerance.level_m > 0) || !(step_m > run_.tolerance.level_m)) return;
    SheetDoubt& doubt = add(Kind::coarse_step, key, name);
    doubt.value = step_m;
    doubt.most = run_.tolerance.level_m;
  }

  void steps() {
    std::vector<bool> asked(run_.stocks.size(), false);
    for (std::size_t i = 0; i < run_.supports.size(); ++i) {
      const sheet::Adjust& adjust = run_.supports[i].adjust;
      if (!run_.beam_stages[std::size_t(run_.tolerance.stage)].lists_support(int(i))) continue;
      if (adjust.by == sheet::AdjustBy::rod)
        coarse(path("support", i) + ".adjust.step", run_.supports[i].name,
               adjust.thread_m * adjust.step_turns);
      if (adjust.by == sheet::AdjustBy::shims && adjust.stock >= 0 && !asked[std::size_t(adjust.stock)]) {
        const sheet::Stock& stock = run_.stocks[std::size_t(adjust.stock)];
        asked[std::size_t(adjust.stock)] = true;
        if (const double step_m = finest_step_m(stock); std::isfinite(step_m))
          coarse("stock." + stock.name, stock.name, step_m);
      }
    }
  }

  void nothing_to_adjust() {
    const FinishedLevel level = finished_level(run_, solver_);
    if (level.within != false || level.level_error_m <= run_.tolerance.level_m) return;
    for (std::size_t i = 0; i < run_.supports.size(); ++i) {
      if (run_.supports[i].adjust.by != sheet::AdjustBy::nothing ||
          !run_.beam_stages[std::size_t(level.stage)].lists_support(int(i)) ||
          !run_.beam_supports[i].rise.held)
        continue;
      SheetDoubt& doubt = add(Kind::nothing_to_adjust, path("support", i), run_.supports[i].name);
      doubt.value = level.level_error_m;
      doubt.most = run_.tolerance.level_m;
    }
  }

  const sheet::RunSheet& run_;
  beam::Solver<double>& solver_;
  const sheet::SheetLines& lines_;
  std::vector<std::string> asked_;  // materials
  std::vector<SheetDoubt> doubts_;
};

}  // namespace

std::vector<SheetDoubt> sheet_doubts(const sheet::RunSheet& run, SolvedRun& solved,
                                     const sheet::SheetLines& lines) {
  return Asker(run, solved, lines).ask();
}

std::vector<SheetDoubt> kit_doubts(const sheet::RunSheet& run, const sheet::KitSheet& kit,
                                   const sheet::SheetLines& lines) {
  if (!(run.tolerance.level_m > 0) || run.stations_m.size() < 2) return {};
  // Of a height against the other end: two distances; or slopes added up from station to station.
  const double spacing_m = run.length_m / double(run.stations_m.size() - 1);
  double best_m = std::numeric_limits<double>::infinity();
  for (const sheet::KitInstrument& instrument : kit.instruments)
    for (const sheet::KitChannel& channel : instrument.channels) {
      if (channel.gives == Channel::distance) best_m = std::min(best_m, std::sqrt(2.0) * channel.sigma);
      if (channel.gives == Channel::slope)
        best_m = std::min(best_m, channel.sigma * std::sqrt(spacing_m * run.length_m));
    }
  if (!std::isfinite(best_m) || best_m <= kRoughestKit * run.tolerance.level_m) return {};
  SheetDoubt doubt;
  doubt.kind = Kind::kit_too_rough;
  doubt.key = "tolerance.level";
  doubt.line = lines.line(doubt.key);
  doubt.typed = lines.typed(doubt.key);
  doubt.value = best_m;
  doubt.most = run.tolerance.level_m;
  return {doubt};
}

}  // namespace hangtrue::job
