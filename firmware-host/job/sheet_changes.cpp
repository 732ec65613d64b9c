#include "firmware-host/job/sheet_changes.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <initializer_list>

#include "core/quantity/units.hpp"

namespace hangtrue::job {
namespace {

using sheet::RunSheet;
using sheet::Show;
using Shower = std::string (*)(double, Show);

constexpr double kSame = 1e-9;         // relative
constexpr double kSamePlace_m = 1e-9;  // as the sheet's own reader has it

bool same(double a, double b) {
  return a == b || std::abs(a - b) <= kSame * std::max(std::abs(a), std::abs(b));
}
bool same_place(double a, double b) { return std::abs(a - b) <= kSamePlace_m || same(a, b); }
bool same(const std::optional<double>& a, const std::optional<double>& b) {
  return a.has_value() == b.has_value() && (!a || same(*a, *b));
}

std::string digits(double value, int count) {
  char text[64];
  std::snprintf(text, sizeof text, "%.*g", count, value);
  return text;
}
// Four digits at least, without an exponent where it is large.
std::string four_digits(double value) {
  char text[64];
  std::snprintf(text, sizeof text, std::abs(value) >= 1e4 ? "%.0f" : "%.4g", value);
  return text;
}
std::string quoted(const std::string& name) { return '"' + name + '"'; }

std::string weight_words(double weight_N, Show show) {
  return sheet::show_force(weight_N, show) + " (" + sheet::show_mass(weight_N / kGravity_m_per_s2, show) +
         ")";
}
std::string stiffness_words(double stiffness_N_per_m, Show show) {
  return show == Show::metric ? four_digits(stiffness_N_per_m * 1e-6) + " kN/mm"
                              : four_digits(stiffness_N_per_m * kInch_m / kPoundForce_N) + " lbf/in";
}
std::string turning_words(double stiffness_Nm_per_rad, Show show) {
  return show == Show::metric ? four_digits(stiffness_Nm_per_rad * 1e-3) + " kN m/rad"
                              : four_digits(stiffness_Nm_per_rad / (kPoundForce_N * kInch_m)) + " lbf in/rad";
}
std::string plain(double value, Show) { return digits(value, 4); }

const std::initializer_list<Shower> kPlace = {sheet::show_place, sheet::show_length, sheet::show_fine};
const std::initializer_list<Shower> kLength = {sheet::show_length, sheet::show_fine};

std::vector<beam::LoadPart<double>> parts_of(const RunSheet& run, int load) {
  std::vector<beam::LoadPart<double>> parts;
  for (const auto& part : run.load_parts)
    if (part.load == load) parts.push_back(part);
  return parts;
}

class Comparison {
 public:
  Comparison(const RunSheet& earlier, const RunSheet& later) : was_(earlier), is_(later), show_(later.show) {}

  std::vector<SheetChange> taken() {
    if (was_.title != is_.title) differ("title", quoted(was_.title), quoted(is_.title), false);
    if (was_.show != is_.show) {
      const auto system = [](Show show) { return show == Show::metric ? "metric" : "imperial"; };
      differ("show", system(was_.show), system(is_.show), false);
    }
    place("length", was_.length_m, is_.length_m, true);
    place("width", was_.width_m, is_.width_m, true);
    stations();
    tolerance();
    members();
    loads();
    supports();
    stages();
    marks();
    priors();
    stocks();
    std::stable_partition(changes_.begin(), changes_.end(),
                          [](const SheetChange& change) { return change.matters; });
    return std::move(changes_);
  }

 private:
  void say(std::string words, bool matters) { changes_.push_back({std::move(words), matters}); }
  void differ(const std::string& what, const std::string& was, const std::string& is, bool matters) {
    say(what + " was " + was + ", is " + is, matters);
  }
  // Shown as coarsely as still tells the two apart, and with all digits where nothing coarser does.
  void numbers(const std::string& what, double was, double is, std::initializer_list<Shower> showers,
               const char* unit, bool matters) {
    for (const Shower shower : showers) {
      const std::string before = shower(was, show_), after = shower(is, show_);
      if (before != after) return differ(what, before, after, matters);
    }
    differ(what, digits(was, 12) + unit, digits(is, 12) + unit, matters);
  }
  void place(const std::string& what, double was, double is, bool matters) {
    if (!same_place(was, is)) numbers(what, was, is, kPlace, " m", matters);
  }
  void length(const std::string& what, double was, double is, bool matters) {
    if (!same_place(was, is)) numbers(what, was, is, kLength, " m", matters);
  }
  void number(const std::string& what, double was, double is, bool matters) {
    if (!same(was, is)) numbers(what, was, is, {plain}, "", matters);
  }
  // Stiffness of members has no unit that a reader would know it by.
  void factor(const std::string& what, double was, double is, bool matters) {
    if (same(was, is)) return;
    const bool countable = std::isfinite(was) && std::isfinite(is) && was > 0;
    const double times = countable ? is / was : 0;
    say(what + (countable ? " is " + digits(times, std::abs(times - 1) < 1e-3 ? 10 : 4) + " times what it was"
                          : " has changed"),
        matters);
  }

  // Entries by name: what was removed and added (unless told by nothing that it is said elsewhere), `both` for those in both
  // sheets, and whether their order is another.
  template <class Entries, class Removed, class Added, class Both>
  void by_name(const std::string& kind, const Entries& was, const Entries& is, Removed removed_matters,
               Added added_matters, Both both) {
    std::vector<std::size_t> order;
    for (std::size_t i = 0; i < was.size(); ++i) {
      const auto found =
          std::find_if(is.begin(), is.end(), [&](const auto& entry) { return entry.name == was[i].name; });
      if (found == is.end()) {
        if (const std::optional<bool> matters = removed_matters(i))
          say(kind + ' ' + quoted(was[i].name) + " was removed", *matters);
        continue;
      }
      order.push_back(static_cast<std::size_t>(found - is.begin()));
      both(i, order.back(), kind + ' ' + quoted(was[i].name) + ": ");
    }
    for (std::size_t i = 0; i < is.size(); ++i) {
      if (std::find(order.begin(), order.end(), i) != order.end()) continue;
      if (const std::optional<bool> matters = added_matters(i))
        say(kind + ' ' + quoted(is[i].name) + " was added", *matters);
    }
    if (!std::is_sorted(order.begin(), order.end()))
      say("the " + kind + "s are listed in another order", false);
  }

  // Whether the entry of that name is listed by a stage that the earlier sheet has, then or now.
  template <class Lists>
  bool in_play(const std::string& name, Lists lists) const {
    for (std::size_t i = 0; i < was_.stages.size(); ++i) {
      if (lists(was_, i, name)) return true;
      const int now = is_.stage(was_.stages[i]);
      if (now >= 0 && lists(is_, static_cast<std::size_t>(now), name)) return true;
    }
    return false;
  }
  static bool lists_load(const RunSheet& run, std::size_t stage, const std::string& name) {
    const int load = run.load(name);
    return load >= 0 && run.beam_stages[stage].lists_load(load);
  }
  static bool lists_support(const RunSheet& run, std::size_t stage, const std::string& name) {
    const int support = run.support(name);
    return support >= 0 && run.beam_stages[stage].lists_support(support);
  }

  void stations() {
    const auto& was = was_.stations_m;
    const auto& is = is_.stations_m;
    if (was.size() != is.size())
      differ("number of stations", std::to_string(was.size()), std::to_string(is.size()), false);
    else if (!std::equal(was.begin(), was.end(), is.begin(), same_place))
      say("stations stand at other places", false);
  }

  void tolerance() {
    const sheet::Tolerance& was = was_.tolerance;
    const sheet::Tolerance& is = is_.tolerance;
    length("tolerance: level", was.level_m, is.level_m, false);
    const std::string& stage_was = was_.stages[static_cast<std::size_t>(was.stage)];
    const std::string& stage_is = is_.stages[static_cast<std::size_t>(is.stage)];
    if (stage_was != stage_is)
      differ("tolerance: finished stage", quoted(stage_was), quoted(stage_is), false);
    number("tolerance: confidence", was.confidence, is.confidence, false);
    if (!same(was.span_ratio, is.span_ratio) || was.span_ratio_source != is.span_ratio_source)
      say("tolerance: the limit of span over sag has changed", false);
    if (!same(was.target_height_m, is.target_height_m)) say("tolerance: target height has changed", false);
  }

  void members() {
    const std::size_t before = changes_.size();
    const auto always = [](std::size_t) { return true; };
    by_name("member", was_.members, is_.members, always, always,
            [&](std::size_t i, std::size_t j, const std::string& what) {
              const sheet::MemberEntry& was = was_.members[i];
              const sheet::MemberEntry& is = is_.members[j];
              place(what + "begin", was.from_m, is.from_m, true);
              place(what + "end", was.to_m, is.to_m, true);
              factor(what + "bending stiffness", was.bending_N_m2, is.bending_N_m2, true);
              if (was.as_one != is.as_one)
                say(what + (is.as_one ? "acts as one with others now, was side by side"
                                      : "acts side by side now, was as one with others"),
                    true);
              if (was.as_one && is.as_one) length(what + "height of its centroid", was.up_m, is.up_m, true);
              if (was.material != is.material)
                differ(what + "material", quoted(was.material), quoted(is.material), false);
              length(what + "depth", was.depth_m, is.depth_m, false);
              factor(what + "section modulus", was.section_modulus_m3, is.section_modulus_m3, false);
            });
    const bool explained = std::any_of(changes_.begin() + static_cast<std::ptrdiff_t>(before), changes_.end(),
                                       [](const SheetChange& change) { return change.matters; });
    // What the entries do not show (torsion, shear, creep), where they do not explain it.
    if (!explained && was_.pieces.size() == is_.pieces.size()) pieces();
  }

  void pieces() {
    double from_m = 0;
    for (std::size_t i = 0; i < was_.pieces.size(); ++i) {
      const auto& was = was_.pieces[i];
      const auto& is = is_.pieces[i];
      const std::string what = "members from " + sheet::show_place(from_m, show_) + " to " +
                               sheet::show_place(is.to_m, show_) + ": ";
      factor(what + "bending stiffness", was.bending_N_m2, is.bending_N_m2, true);
      factor(what + "torsion stiffness", was.torsion_N_m2, is.torsion_N_m2, true);
      factor(what + "shear stiffness", was.shear_N, is.shear_N, true);
      number(what + "creep in bending", was.bending_creep, is.bending_creep, false);
      number(what + "creep in torsion", was.torsion_creep, is.torsion_creep, false);
      number(what + "creep in shear", was.shear_creep, is.shear_creep, false);
      from_m = is.to_m;
    }
  }

  void loads() {
    // A member's own weight comes and goes with the member.
    const auto alone = [&](const sheet::LoadEntry& load) {
      return load.is_member ? std::nullopt : std::optional(in_play(load.name, lists_load));
    };
    by_name(
        "load", was_.loads, is_.loads, [&](std::size_t i) { return alone(was_.loads[i]); },
        [&](std::size_t i) { return alone(is_.loads[i]); },
        [&](std::size_t i, std::size_t j, const std::string& what) {
          const sheet::LoadEntry& was = was_.loads[i];
          const sheet::LoadEntry& is = is_.loads[j];
          load_parts(what, was, parts_of(was_, static_cast<int>(i)), is, parts_of(is_, static_cast<int>(j)),
                     in_play(was.name, lists_load));
          number(what + "sigma", was.sigma, is.sigma, false);
          number(what + "lasting share", was.permanent_share, is.permanent_share, false);
        });
  }

  void load_parts(const std::string& what, const sheet::LoadEntry& load_was,
                  const std::vector<beam::LoadPart<double>>& parts_was, const sheet::LoadEntry& load_is,
                  const std::vector<beam::LoadPart<double>>& parts_is, bool matters) {
    const auto kind = [](const std::vector<beam::LoadPart<double>>& parts) {
      return parts.empty() ? beam::LoadKind::warmth : parts.front().kind;
    };
    if (kind(parts_was) != kind(parts_is)) {
      const auto named = [](beam::LoadKind of) {
        return of == beam::LoadKind::spread   ? "weight along a stretch"
               : of == beam::LoadKind::point  ? "weight at a point"
               : of == beam::LoadKind::couple ? "a couple"
                                              : "warmth";
      };
      differ(what + "kind", named(kind(parts_was)), named(kind(parts_is)), matters);
      return;
    }
    if (kind(parts_was) == beam::LoadKind::warmth) {
      const auto alike = [](const beam::LoadPart<double>& a, const beam::LoadPart<double>& b) {
        return same_place(a.from_m, b.from_m) && same_place(a.to_m, b.to_m) && same(a.begin, b.begin);
      };
      if (!std::equal(parts_was.begin(), parts_was.end(), parts_is.begin(), parts_is.end(), alike))
        say(what + "the curvature by warmth has changed, or where it acts", matters);
      return;
    }
    const beam::LoadPart<double>& was = parts_was.front();
    const beam::LoadPart<double>& is = parts_is.front();
    if (was.kind == beam::LoadKind::spread) {
      if (!load_was.is_member || !load_is.is_member) {
        place(what + "begin", was.from_m, is.from_m, matters);
        place(what + "end", was.to_m, is.to_m, matters);
      }
      if (!same(was.begin / (was.begin + was.end), is.begin / (is.begin + is.end)))
        say(what + "is shared out otherwise along its stretch", matters);
    } else {
      place(what + "place", was.from_m, is.from_m, matters);
    }
    if (was.kind == beam::LoadKind::couple) {
      if (!same(was.begin, is.begin))
        numbers(what + "couple", was.begin, is.begin, {sheet::show_couple}, " N m", matters);
    } else if (!same(load_was.weight_N, load_is.weight_N)) {
      numbers(what + "weight", load_was.weight_N, load_is.weight_N, {weight_words}, " N", matters);
    }
    length(what + "place across", was.across_m, is.across_m, matters);
  }

  void supports() {
    by_name(
        "support", was_.supports, is_.supports,
        [&](std::size_t i) { return in_play(was_.supports[i].name, lists_support); },
        [&](std::size_t i) { return in_play(is_.supports[i].name, lists_support); },
        [&](std::size_t i, std::size_t j, const std::string& what) {
          const beam::Support<double>& was = was_.beam_supports[i];
          const beam::Support<double>& is = is_.beam_supports[j];
          const bool matters = in_play(was_.supports[i].name, lists_support);
          place(what + "place", was.at_m, is.at_m, matters);
          restraint(what + "rise", was.rise, is.rise, stiffness_words, " N/m", matters);
          restraint(what + "pitch", was.pitch, is.pitch, turning_words, " N m/rad", matters);
          restraint(what + "roll", was.roll, is.roll, turning_words, " N m/rad", matters);
          if (was.holds != is.holds) {
            const auto holds = [](beam::Holds of) {
              return of == beam::Holds::both ? "\"both\"" : of == beam::Holds::push ? "\"push\"" : "\"pull\"";
            };
            differ(what + "holds", holds(was.holds), holds(is.holds), matters);
          }
          beside_the_mechanics(what, was_.supports[i], is_.supports[j]);
        });
  }

  void restraint(const std::string& what, const beam::Restraint<double>& was,
                 const beam::Restraint<double>& is, Shower shower, const char* unit, bool matters) {
    const auto sprung = [](const beam::Restraint<double>& of) { return of.held && of.compliance > 0; };
    const auto words = [&](const beam::Restraint<double>& of) {
      return !of.held ? "free" : !sprung(of) ? "rigid" : shower(1 / of.compliance, show_);
    };
    if (sprung(was) && sprung(is)) {
      if (!same(was.compliance, is.compliance))
        numbers(what, 1 / was.compliance, 1 / is.compliance, {shower}, unit, matters);
    } else if (words(was) != words(is)) {
      differ(what, words(was), words(is), matters);
    }
    if (was.held && is.held && was.pulled_home != is.pulled_home)
      say(what + (is.pulled_home ? " is pulled home now" : " is no longer pulled home"), matters);
  }

  void beside_the_mechanics(const std::string& what, const sheet::SupportEntry& was,
                            const sheet::SupportEntry& is) {
    const sheet::Adjust& a = was.adjust;
    const sheet::Adjust& b = is.adjust;
    const auto stock = [](const RunSheet& run, const sheet::Adjust& adjust) {
      return adjust.stock < 0 ? std::string() : run.stocks[static_cast<std::size_t>(adjust.stock)].name;
    };
    if (a.by != b.by || stock(was_, a) != stock(is_, b) || !same(a.thread_m, b.thread_m) ||
        !same(a.step_turns, b.step_turns) || !same(a.step_m, b.step_m) ||
        !same_place(a.rise_from_m, b.rise_from_m) || !same_place(a.rise_to_m, b.rise_to_m) ||
        a.pitch != b.pitch || a.roll != b.roll || !same(was.bolt_rows_along_m, is.bolt_rows_along_m) ||
        !same(was.bolt_rows_across_m, is.bolt_rows_across_m))
      say(what + "the way to adjust it has changed", false);
    if (!same(was.rating_N, is.rating_N)) say(what + "rating has changed", false);
    bool prior = false;
    for (int m = 0; m < 3; ++m)
      prior = prior || !same(was.offset_mean[m], is.offset_mean[m]) ||
              !same(was.offset_sigma[m], is.offset_sigma[m]) ||
              !same(was.log_spring_sigma[m], is.log_spring_sigma[m]);
    if (prior) say(what + "what is assumed of it beforehand (prior) has changed", false);
  }

  void stages() {
    std::vector<int> order;
    int last_of_earlier = -1;
    for (const std::string& name : was_.stages) {
      const int now = is_.stage(name);
      if (now < 0) say("stage " + quoted(name) + " was removed", true);
      if (now < 0) continue;
      order.push_back(now);
      last_of_earlier = std::max(last_of_earlier, now);
      listed("stage " + quoted(name) + ": ", static_cast<std::size_t>(was_.stage(name)),
             static_cast<std::size_t>(now));
    }
    for (std::size_t i = 0; i < is_.stages.size(); ++i)
      if (was_.stage(is_.stages[i]) < 0)
        say("stage " + quoted(is_.stages[i]) + " was added", static_cast<int>(i) < last_of_earlier);
    if (!std::is_sorted(order.begin(), order.end())) say("the stages come in another order", true);
  }

  // What a stage lists; a load or support that only one of the sheets has is said already.
  void listed(const std::string& what, std::size_t was, std::size_t is) {
    const auto tell = [&](const std::string& kind, const std::string& name, bool before, bool now) {
      if (before != now) say(what + (now ? "lists " : "no longer lists ") + kind + ' ' + quoted(name), true);
    };
    for (const sheet::SupportEntry& each : was_.supports)
      if (is_.support(each.name) >= 0)
        tell("support", each.name, lists_support(was_, was, each.name), lists_support(is_, is, each.name));
    for (const sheet::LoadEntry& each : was_.loads)
      if (is_.load(each.name) >= 0)
        tell("load", each.name, lists_load(was_, was, each.name), lists_load(is_, is, each.name));
  }

  void marks() {
    by_name(
        "mark", was_.marks, is_.marks, [](std::size_t) { return true; }, [](std::size_t) { return false; },
        [&](std::size_t i, std::size_t j, const std::string& what) {
          place(what + "place", was_.marks[i].at_m, is_.marks[j].at_m, true);
        });
  }

  void priors() {
    const sheet::Priors& was = was_.priors;
    const sheet::Priors& is = is_.priors;
    number("prior: bending", was.bending_sigma, is.bending_sigma, false);
    number("prior: torsion", was.torsion_sigma, is.torsion_sigma, false);
    length("prior: bow", was.bow_sigma_m, is.bow_sigma_m, false);
    if (was.bows != is.bows)
      differ("prior: number of bow shapes", std::to_string(was.bows), std::to_string(is.bows), false);
    length("prior: datum height", was.datum_height_sigma_m, is.datum_height_sigma_m, false);
    if (!same(was.datum_tilt_sigma, is.datum_tilt_sigma))
      numbers("prior: datum tilt", was.datum_tilt_sigma, is.datum_tilt_sigma, {sheet::show_slope}, " rad",
              false);
  }

  void stocks() {
    const auto never = [](std::size_t) { return false; };
    by_name(
        "stock", was_.stocks, is_.stocks, never, never,
        [&](std::size_t i, std::size_t j, const std::string& what) {
          const sheet::Stock& was = was_.stocks[i];
          const sheet::Stock& is = is_.stocks[j];
          const auto alike = [](const sheet::PieceOfStock& a, const sheet::PieceOfStock& b) {
            return same(a.thickness_m, b.thickness_m) && a.count == b.count;
          };
          if (!std::equal(was.pieces.begin(), was.pieces.end(), is.pieces.begin(), is.pieces.end(), alike) ||
              was.most != is.most || !same(was.highest_m, is.highest_m))
            say(what + "pieces or limits of a stack have changed", false);
        });
  }

  const RunSheet& was_;
  const RunSheet& is_;
  Show show_;
  std::vector<SheetChange> changes_;
};

}  // namespace

std::vector<SheetChange> sheet_changes(const RunSheet& earlier, const RunSheet& later) {
  return Comparison(earlier, later).taken();
}

}  // namespace hangtrue::job
