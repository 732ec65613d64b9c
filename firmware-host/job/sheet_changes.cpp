#include "firmware-host/job/sheet_changes.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {
namespace {

using sheet::RunSheet;
using Kind = beam::LoadKind;

bool same(double a, double b) {
  return a == b || std::abs(a - b) <= kSameNumber * std::max(std::abs(a), std::abs(b));
}
bool same_place(double a, double b) { return std::abs(a - b) <= kSameSheetPlace_m || same(a, b); }
bool same(const std::optional<double>& a, const std::optional<double>& b) {
  return a.has_value() == b.has_value() && (!a || same(*a, *b));
}

std::vector<beam::LoadPart<double>> parts_of(const RunSheet& run, int load) {
  std::vector<beam::LoadPart<double>> parts;
  for (const auto& part : run.load_parts)
    if (part.load == load) parts.push_back(part);
  return parts;
}

class Comparison {
 public:
  Comparison(const RunSheet& earlier, const RunSheet& later) : was_(earlier), is_(later) {}

  std::vector<SheetChange> taken() {
    const SheetEntry run{EntryOf::run};
    if (was_.title != is_.title) note(run, Property::title, Names{was_.title, is_.title}, false);
    if (was_.show != is_.show) note(run, Property::units, Units{was_.show, is_.show}, false);
    place(run, Property::length, was_.length_m, is_.length_m, true);
    place(run, Property::width, was_.width_m, is_.width_m, true);
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
  using How = decltype(SheetChange::how);
  void note(const SheetEntry& entry, Property property, How how, bool matters) {
    changes_.push_back({entry, property, std::move(how), matters});
  }
  void place(const SheetEntry& entry, Property property, double was, double is, bool matters) {
    if (!same_place(was, is)) note(entry, property, Numbers{was, is}, matters);
  }
  void number(const SheetEntry& entry, Property property, double was, double is, bool matters) {
    if (!same(was, is)) note(entry, property, Numbers{was, is}, matters);
  }
  void name(const SheetEntry& entry, Property property, const std::string& was, const std::string& is) {
    if (was != is) note(entry, property, Names{was, is}, false);
  }

  // Entries by name: what was removed and added (unless told by nothing that it is said elsewhere), `both` for those in both
  // sheets, and whether their order is another.
  template <class Entries, class RemovedMatters, class AddedMatters, class Both>
  void by_name(EntryOf of, const Entries& was, const Entries& is, RemovedMatters removed_matters,
               AddedMatters added_matters, Both both) {
    std::vector<std::size_t> order;
    for (std::size_t i = 0; i < was.size(); ++i) {
      const SheetEntry entry{of, was[i].name};
      const auto found =
          std::find_if(is.begin(), is.end(), [&](const auto& each) { return each.name == was[i].name; });
      if (found == is.end()) {
        if (const std::optional<bool> matters = removed_matters(i))
          note(entry, Property::entry, Removed{}, *matters);
        continue;
      }
      order.push_back(static_cast<std::size_t>(found - is.begin()));
      both(i, order.back(), entry);
    }
    for (std::size_t i = 0; i < is.size(); ++i) {
      if (std::find(order.begin(), order.end(), i) != order.end()) continue;
      if (const std::optional<bool> matters = added_matters(i))
        note({of, is[i].name}, Property::entry, Added{}, *matters);
    }
    if (!std::is_sorted(order.begin(), order.end())) note({of}, Property::entry, Reordered{}, false);
  }

  // Whether the entry of that name is listed by a stage that the earlier sheet has, then or now.
  template <class IsListed>
  bool in_play(const std::string& entry, IsListed lists) const {
    for (std::size_t i = 0; i < was_.stages.size(); ++i) {
      if (lists(was_, i, entry)) return true;
      const int now = is_.stage(was_.stages[i]);
      if (now >= 0 && lists(is_, static_cast<std::size_t>(now), entry)) return true;
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
    const SheetEntry run{EntryOf::run};
    if (was.size() != is.size())
      note(run, Property::station_count, Counts{was.size(), is.size()}, false);
    else if (!std::equal(was.begin(), was.end(), is.begin(), same_place))
      note(run, Property::station_places, Altered{}, false);
  }

  void tolerance() {
    const sheet::Tolerance& was = was_.tolerance;
    const sheet::Tolerance& is = is_.tolerance;
    const SheetEntry entry{EntryOf::tolerance};
    place(entry, Property::level, was.level_m, is.level_m, false);
    name(entry, Property::finished_stage, was_.stages[static_cast<std::size_t>(was.stage)],
         is_.stages[static_cast<std::size_t>(is.stage)]);
    number(entry, Property::confidence, was.confidence, is.confidence, false);
    if (!same(was.span_ratio, is.span_ratio) || was.span_ratio_source != is.span_ratio_source)
      note(entry, Property::span_ratio, Altered{}, false);
    if (!same(was.target_height_m, is.target_height_m))
      note(entry, Property::target_height, Altered{}, false);
  }

  void members() {
    const std::size_t before = changes_.size();
    const auto always = [](std::size_t) { return true; };
    by_name(EntryOf::member, was_.members, is_.members, always, always,
            [&](std::size_t i, std::size_t j, const SheetEntry& entry) {
              const sheet::MemberEntry& was = was_.members[i];
              const sheet::MemberEntry& is = is_.members[j];
              place(entry, Property::begin, was.from_m, is.from_m, true);
              place(entry, Property::end, was.to_m, is.to_m, true);
              number(entry, Property::bending_stiffness, was.bending_N_m2, is.bending_N_m2, true);
              if (was.as_one != is.as_one) note(entry, Property::as_one, ActsAsOne{is.as_one}, true);
              if (was.as_one && is.as_one) place(entry, Property::centroid_height, was.up_m, is.up_m, true);
              name(entry, Property::material, was.material, is.material);
              place(entry, Property::depth, was.depth_m, is.depth_m, false);
              place(entry, Property::place_across, was.axis_m, is.axis_m, true);
              number(entry, Property::section_modulus, was.section_modulus_m3, is.section_modulus_m3, false);
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
      const SheetEntry entry{EntryOf::stretch, "", from_m, is.to_m};
      number(entry, Property::bending_stiffness, was.bending_N_m2, is.bending_N_m2, true);
      number(entry, Property::torsion_stiffness, was.torsion_N_m2, is.torsion_N_m2, true);
      number(entry, Property::shear_stiffness, was.shear_N, is.shear_N, true);
      if (!same(was.warping_N_m4, is.warping_N_m4)) note(entry, Property::warping_stiffness, Altered{}, true);
      number(entry, Property::bending_creep, was.bending_creep, is.bending_creep, false);
      number(entry, Property::torsion_creep, was.torsion_creep, is.torsion_creep, false);
      number(entry, Property::shear_creep, was.shear_creep, is.shear_creep, false);
      from_m = is.to_m;
    }
  }

  void loads() {
    // A member's own weight comes and goes with the member.
    const auto alone = [&](const sheet::LoadEntry& load) {
      return load.is_member ? std::nullopt : std::optional(in_play(load.name, lists_load));
    };
    by_name(
        EntryOf::load, was_.loads, is_.loads, [&](std::size_t i) { return alone(was_.loads[i]); },
        [&](std::size_t i) { return alone(is_.loads[i]); },
        [&](std::size_t i, std::size_t j, const SheetEntry& entry) {
          load_parts(entry, i, j, in_play(entry.name, lists_load));
          number(entry, Property::sigma, was_.loads[i].sigma, is_.loads[j].sigma, false);
          number(entry, Property::lasting_share, was_.loads[i].permanent_share, is_.loads[j].permanent_share,
                 false);
        });
  }

  void load_parts(const SheetEntry& entry, std::size_t i, std::size_t j, bool matters) {
    const auto parts_was = parts_of(was_, static_cast<int>(i)), parts_is = parts_of(is_, static_cast<int>(j));
    const auto kind = [](const std::vector<beam::LoadPart<double>>& parts) {
      return parts.empty() ? Kind::warmth : parts.front().kind;
    };
    if (kind(parts_was) != kind(parts_is))
      return note(entry, Property::kind, LoadKinds{kind(parts_was), kind(parts_is)}, matters);
    if (kind(parts_was) == Kind::warmth) {
      const auto alike = [](const beam::LoadPart<double>& a, const beam::LoadPart<double>& b) {
        return same_place(a.from_m, b.from_m) && same_place(a.to_m, b.to_m) && same(a.begin, b.begin);
      };
      if (!std::equal(parts_was.begin(), parts_was.end(), parts_is.begin(), parts_is.end(), alike))
        note(entry, Property::warmth, Altered{}, matters);
      return;
    }
    const beam::LoadPart<double>& was = parts_was.front();
    const beam::LoadPart<double>& is = parts_is.front();
    if (was.kind == Kind::spread) {
      if (!was_.loads[i].is_member || !is_.loads[j].is_member) {
        place(entry, Property::begin, was.from_m, is.from_m, matters);
        place(entry, Property::end, was.to_m, is.to_m, matters);
      }
      if (!same(was.begin / (was.begin + was.end), is.begin / (is.begin + is.end)))
        note(entry, Property::distribution, Altered{}, matters);
    } else {
      place(entry, Property::place, was.from_m, is.from_m, matters);
    }
    if (was.kind == Kind::couple)
      number(entry, Property::couple, was.begin, is.begin, matters);
    else
      number(entry, Property::weight, was_.loads[i].weight_N, is_.loads[j].weight_N, matters);
    place(entry, Property::place_across, was.across_m, is.across_m, matters);
  }

  void supports() {
    by_name(
        EntryOf::support, was_.supports, is_.supports,
        [&](std::size_t i) { return in_play(was_.supports[i].name, lists_support); },
        [&](std::size_t i) { return in_play(is_.supports[i].name, lists_support); },
        [&](std::size_t i, std::size_t j, const SheetEntry& entry) {
          const beam::Support<double>& was = was_.beam_supports[i];
          const beam::Support<double>& is = is_.beam_supports[j];
          const bool matters = in_play(entry.name, lists_support);
          place(entry, Property::place, was.at_m, is.at_m, matters);
          place(entry, Property::place_across, was.across_m, is.across_m, matters);
          restraint(entry, Property::rise, was.rise, is.rise, matters);
          restraint(entry, Property::pitch, was.pitch, is.pitch, matters);
          restraint(entry, Property::roll, was.roll, is.roll, matters);
          if (was.holds_warping != is.holds_warping) note(entry, Property::warping, Altered{}, matters);
          if (was.holds != is.holds) note(entry, Property::holds, HoldsWays{was.holds, is.holds}, matters);
          beside_the_mechanics(entry, was_.supports[i], is_.supports[j]);
        });
  }

  void restraint(const SheetEntry& entry, Property property, const beam::Restraint<double>& was,
                 const beam::Restraint<double>& is, bool matters) {
    const auto sprung = [](const beam::Restraint<double>& of) { return of.held && of.compliance > 0; };
    if (was.held != is.held || sprung(was) != sprung(is) ||
        (sprung(was) && !same(was.compliance, is.compliance)))
      note(entry, property, Restraints{was, is}, matters);
    if (was.held && is.held && was.pulled_home != is.pulled_home)
      note(entry, property, PulledHome{is.pulled_home}, matters);
  }

  void beside_the_mechanics(const SheetEntry& entry, const sheet::SupportEntry& was,
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
      note(entry, Property::adjustment, Altered{}, false);
    if (!same(was.rating_N, is.rating_N)) note(entry, Property::rating, Altered{}, false);
    if (!same(was.growth_m_per_K, is.growth_m_per_K)) note(entry, Property::growth, Altered{}, false);
    bool prior = false;
    for (int m = 0; m < 3; ++m)
      prior = prior || !same(was.offset_mean[m], is.offset_mean[m]) ||
              !same(was.offset_sigma[m], is.offset_sigma[m]) ||
              !same(was.log_spring_sigma[m], is.log_spring_sigma[m]);
    if (prior) note(entry, Property::assumed, Altered{}, false);
  }

  void stages() {
    std::vector<int> order;
    int last_of_earlier = -1;
    for (const std::string& each : was_.stages) {
      const SheetEntry entry{EntryOf::stage, each};
      const int now = is_.stage(each);
      if (now < 0) {
        note(entry, Property::entry, Removed{}, true);
        continue;
      }
      order.push_back(now);
      last_of_earlier = std::max(last_of_earlier, now);
      listed(entry, static_cast<std::size_t>(was_.stage(each)), static_cast<std::size_t>(now));
    }
    for (std::size_t i = 0; i < is_.stages.size(); ++i)
      if (was_.stage(is_.stages[i]) < 0)
        note({EntryOf::stage, is_.stages[i]}, Property::entry, Added{},
             static_cast<int>(i) < last_of_earlier);
    if (!std::is_sorted(order.begin(), order.end()))
      note({EntryOf::stage}, Property::entry, Reordered{}, true);
  }

  // What a stage lists; a load or support that only one of the sheets has is noted already.
  void listed(const SheetEntry& stage, std::size_t was, std::size_t is) {
    const auto compare = [&](EntryOf of, const std::string& entry, bool before, bool now) {
      if (before != now) note(stage, Property::entry, Lists{{of, entry}, now}, true);
    };
    for (const sheet::SupportEntry& each : was_.supports)
      if (is_.support(each.name) >= 0)
        compare(EntryOf::support, each.name, lists_support(was_, was, each.name),
                lists_support(is_, is, each.name));
    for (const sheet::LoadEntry& each : was_.loads)
      if (is_.load(each.name) >= 0)
        compare(EntryOf::load, each.name, lists_load(was_, was, each.name), lists_load(is_, is, each.name));
  }

  void marks() {
    by_name(
        EntryOf::mark, was_.marks, is_.marks, [](std::size_t) { return true; },
        [](std::size_t) { return false; },
        [&](std::size_t i, std::size_t j, const SheetEntry& entry) {
          place(entry, Property::place, was_.marks[i].at_m, is_.marks[j].at_m, true);
        });
  }

  void priors() {
    const sheet::Priors& was = was_.priors;
    const sheet::Priors& is = is_.priors;
    const SheetEntry entry{EntryOf::prior};
    number(entry, Property::bending, was.bending_sigma, is.bending_sigma, false);
    number(entry, Property::torsion, was.torsion_sigma, is.torsion_sigma, false);
    place(entry, Property::bow, was.bow_sigma_m, is.bow_sigma_m, false);
    if (was.bows != is.bows)
      note(entry, Property::bow_count,
           Counts{static_cast<std::size_t>(was.bows), static_cast<std::size_t>(is.bows)}, false);
    place(entry, Property::datum_height, was.datum_height_sigma_m, is.datum_height_sigma_m, false);
    number(entry, Property::datum_tilt, was.datum_tilt_sigma, is.datum_tilt_sigma, false);
  }

  void stocks() {
    const auto never = [](std::size_t) { return false; };
    by_name(
        EntryOf::stock, was_.stocks, is_.stocks, never, never,
        [&](std::size_t i, std::size_t j, const SheetEntry& entry) {
          const sheet::Stock& was = was_.stocks[i];
          const sheet::Stock& is = is_.stocks[j];
          const auto alike = [](const sheet::PieceOfStock& a, const sheet::PieceOfStock& b) {
            return same(a.thickness_m, b.thickness_m) && a.count == b.count;
          };
          if (!std::equal(was.pieces.begin(), was.pieces.end(), is.pieces.begin(), is.pieces.end(), alike) ||
              was.most != is.most || !same(was.highest_m, is.highest_m))
            note(entry, Property::pieces, Altered{}, false);
        });
  }

  const RunSheet& was_;
  const RunSheet& is_;
  std::vector<SheetChange> changes_;
};

}  // namespace

std::vector<SheetChange> sheet_changes(const RunSheet& earlier, const RunSheet& later) {
  return Comparison(earlier, later).taken();
}

}  // namespace hangtrue::job
