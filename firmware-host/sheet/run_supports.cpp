#include "firmware-host/sheet/run_draft.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "firmware-host/sheet/format.hpp"
#include "firmware-host/sheet/threads.hpp"
#include "firmware-host/sheet/thresholds.hpp"

namespace hangtrue::sheet {

void read_stocks(RunDraft& draft, Walk& top) {
  for (auto& [name, table] : top.named_tables("stock")) {
    Stock stock;
    stock.name = name;
    for (Walk& each : table.tables("pieces", required)) {
      const auto thickness = each.quantity("thickness", Kind::length, required, Sign::positive);
      const auto count = each.whole("count", required, 0, 100000);
      if (thickness) {
        const auto same = [&](const PieceOfStock& other) {
          return std::abs(other.thickness_m - *thickness) < kSameThickness_m;
        };
        if (std::any_of(stock.pieces.begin(), stock.pieces.end(), same))
          each.complain("thickness", "each thickness once in a stock");
        stock.pieces.push_back(
            {*thickness, count.value_or(0), each.text("thickness", optional).value_or("")});
      }
      each.close();
    }
    stock.most = table.whole("most", optional, 1, 100).value_or(4);
    stock.highest_m = table.quantity("highest", Kind::length, optional, Sign::positive);
    table.close();
    draft.sheet.stocks.push_back(std::move(stock));
  }
}

namespace {

struct SupportDraft {
  SupportEntry entry;
  beam::Support<double> support;
  bool unread_motion = false;  // some motion could not be read; what follows from it is not complained of

  [[nodiscard]] bool lacks(const beam::Restraint<double>& restraint) const {
    return !restraint.held && !unread_motion;
  }
};

// True where it could be read.
bool read_restraint(Walk& table, const char* key, Kind kind, beam::Restraint<double>& restraint) {
  const std::string expected =
      std::string("\"rigid\", \"free\" or ") + std::string(name(kind)) + ", " + std::string(example(kind));
  const toml::node* const node = table.node(key, required, expected);
  if (node == nullptr) return false;
  const auto* const text = node->as_string();
  if (text != nullptr && text->get() == "free") return true;
  if (text != nullptr && text->get() == "rigid") return restraint.held = true;
  const auto stiffness =
      text != nullptr ? parse_quantity(text->get(), kind) : QuantityFault{"a number without a unit"};
  if (!stiffness) {
    table.complain(key, shown(*node) + " (" + stiffness.fault().what + ")", expected);
  } else if (!(stiffness.value() > 0)) {
    table.complain(key, expected + ", more than 0");
  } else {
    restraint.held = true;
    restraint.compliance = 1 / stiffness.value();
  }
  return restraint.held;
}

// Where a support stands across the run.
void read_across(const RunDraft& draft, Walk& table, SupportDraft& of) {
  const auto across = table.quantity("across", Kind::length, optional);
  if (!across) return;
  of.support.across_m = *across;
  const bool wide = draft.sheet.width_m > 0;
  const double farthest = wide ? kFarthestAcross * draft.sheet.width_m : draft.sheet.length_m;
  if (farthest > 0 && std::abs(*across) > farthest)
    table.complain("across",
                   std::string("from the middle of the run, to the left positive: at most the run's ") +
                       (wide ? "width, " : "length, ") + show_place(farthest, draft.sheet.show) +
                       ", to either side");
}

void read_pulled_home(RunDraft& draft, Walk& table, SupportDraft& of) {
  beam::Support<double>& support = of.support;
  for (const TextAt& motion : table.texts("pulled_home", optional)) {
    beam::Restraint<double>* const restraint = motion.text == "rise"    ? &support.rise
                                               : motion.text == "pitch" ? &support.pitch
                                               : motion.text == "roll"  ? &support.roll
                                                                        : nullptr;
    if (restraint == nullptr)
      draft.sink.add(motion.line, motion.path, in_quotes(motion.text), "\"rise\", \"pitch\" or \"roll\"");
    else if (of.lacks(*restraint))
      draft.sink.add(motion.line, motion.path, in_quotes(motion.text), "a motion that this support holds");
    else if (restraint == &support.rise && support.holds != beam::Holds::both)
      draft.sink.add(motion.line, motion.path, in_quotes(motion.text),
                     "\"pitch\" or \"roll\": bolts draw home only where the support holds both ways");
    else
      restraint->pulled_home = true;
  }
}

void read_shims(const RunDraft& draft, Walk& adjust, SupportDraft& of) {
  SupportEntry& entry = of.entry;
  if (const auto name = adjust.text("stock", required)) {
    std::vector<std::string> names;
    for (std::size_t i = 0; i < draft.sheet.stocks.size(); ++i) {
      names.push_back(draft.sheet.stocks[i].name);
      if (draft.sheet.stocks[i].name == *name) entry.adjust.stock = static_cast<int>(i);
    }
    if (entry.adjust.stock < 0)
      adjust.complain("stock", names.empty() ? "a [stock." + *name + "] in this sheet"
                                             : "a stock of this sheet: " + any_of(names));
  }
  entry.adjust.pitch = adjust.flag("pitch").value_or(false);
  entry.adjust.roll = adjust.flag("roll").value_or(false);
  if (entry.adjust.pitch && !entry.bolt_rows_along_m)
    adjust.complain("pitch", "true without bolt_rows",
                    "bolt_rows = { along = ... }: the rows between which a taper acts");
  if (entry.adjust.roll && !entry.bolt_rows_across_m)
    adjust.complain("roll", "true without bolt_rows",
                    "bolt_rows = { across = ... }: the rows between which a taper acts");
  if (entry.adjust.pitch && of.lacks(of.support.pitch))
    adjust.complain("pitch", "false: this support is free in pitch");
  if (entry.adjust.roll && of.lacks(of.support.roll))
    adjust.complain("roll", "false: this support is free in roll");
}

void read_adjust(const RunDraft& draft, Walk& adjust, Walk& table, SupportDraft& of) {
  Adjust& to = of.entry.adjust;
  const auto by = adjust.word("by", required, {"shims", "rod", "lift"});
  if (const auto rise = adjust.pair("rise", Kind::length, required)) {
    std::tie(to.rise_from_m, to.rise_to_m) = *rise;
    if (to.rise_to_m <= to.rise_from_m)
      adjust.complain("rise", "its travel, lowest first, such as [\"0 mm\", \"8 mm\"]");
  }
  if (of.lacks(of.support.rise))
    table.complain("adjust", "a way to raise a support that is free in rise", "a support that holds rise");
  if (by == 0) {
    to.by = AdjustBy::shims;
    read_shims(draft, adjust, of);
  } else if (by == 1) {
    to.by = AdjustBy::rod;
    to.thread_m = read_thread(adjust).value_or(1);
    to.step_turns = adjust.quantity("step", Kind::turns, required, Sign::positive).value_or(1);
  } else if (by == 2) {
    to.by = AdjustBy::lift;
    to.step_m = adjust.quantity("step", Kind::length, optional, Sign::positive).value_or(kDefaultLiftStep_m);
  }
  if (!by) adjust.know({"stock", "pitch", "roll", "thread", "step"});
  adjust.close();
}

// One length, of the rise, or a table of those motions that the sheet knows better than the defaults.
void read_fit_up(Walk& table, SupportEntry& entry) {
  constexpr const char* kExpected =
      "a length for the rise, such as \"0.5 mm\", or { rise = \"0.5 mm\", pitch = \"0.5 mm/m\", roll = "
      "\"0.5 "
      "mm/m\" }";
  const toml::node* const node = table.node("fit_up", optional, kExpected);
  if (node == nullptr) return;
  double* const to = entry.fit_up_sigma;
  if (node->is_string()) {
    to[0] = table.quantity("fit_up", Kind::length, optional, Sign::not_negative).value_or(to[0]);
  } else if (node->is_table() && !node->as_table()->empty()) {
    auto motions = table.table("fit_up", optional);
    to[0] = motions->quantity("rise", Kind::length, optional, Sign::not_negative).value_or(to[0]);
    to[1] = motions->quantity("pitch", Kind::slope, optional, Sign::not_negative).value_or(to[1]);
    to[2] = motions->quantity("roll", Kind::angle, optional, Sign::not_negative).value_or(to[2]);
    motions->close();
  } else {
    table.complain("fit_up", shown(*node) + (node->is_number() ? " (a number without a unit)" : ""),
                   kExpected);
  }
}

// The thermal expansion of what a support hangs from or stands on: by its material, or its own.
std::optional<double> read_expansion(const RunDraft& draft, Walk& table) {
  constexpr const char* kValues =
      "expansion = \"12e-6 /K\" (steel, EN 1993-1-1, 3.2.6; aluminium 23e-6 /K, EN 1999-1-1, 3.2.5)";
  const auto own = table.quantity("expansion", Kind::expansion, optional, Sign::positive);
  const auto name = table.text("material", optional);
  if (table.has("material") && table.has("expansion")) {
    table.complain("expansion", "both material and expansion", "one of the two");
    return std::nullopt;
  }
  if (!name) {
    if (!table.has("material") && !table.has("expansion"))
      table.complain("material", "no such key", std::string("a material of this sheet; or ") + kValues);
    return own;
  }
  const auto material = draft.materials.find(*name);
  if (material == draft.materials.end()) {
    std::vector<std::string> known;
    for (const auto& [each, unused] : draft.materials) known.push_back(each);
    table.complain("material", known.empty()
                                   ? "a [material." + *name + "] in this sheet; or " + kValues
                                   : "a material of this sheet: " + any_of(known) + "; or " + kValues);
    return std::nullopt;
  }
  if (!material->second.expansion_per_K)
    table.complain("material", in_quotes(*name) + ", whose thermal expansion is not known",
                   std::string(kValues) + " in [material." + *name + "]");
  return material->second.expansion_per_K;
}

// What its rod or post grows by as it gets warmer.
void read_growth(const RunDraft& draft, Walk& table, SupportDraft& of) {
  const auto hangs = table.quantity("hangs", Kind::length, optional, Sign::positive);
  const auto stands = table.quantity("stands", Kind::length, optional, Sign::positive);
  if (!table.has("hangs") && !table.has("stands")) {
    for (const char* const key : {"material", "expansion"})
      if (table.has(key))
        table.complain(
            key, "neither hangs nor stands beside it",
            "the length that grows: hangs = \"1.1 m\" of a rod from above, stands = \"0.9 m\" of a "
            "post on the floor");
    table.know({"material", "expansion"});
    return;
  }
  const auto expansion = read_expansion(draft, table);
  const char* const key = table.has("hangs") ? "hangs" : "stands";
  if (table.has("hangs") && table.has("stands"))
    table.complain("stands", "both hangs and stands", "one of the two: it hangs from above, or stands below");
  else if (of.lacks(of.support.rise))
    table.complain(key, "the length of a rod or post at a support that is free in rise",
                   "a support that holds rise");
  else if (table.has("hangs") && of.support.holds == beam::Holds::push)
    table.complain("hangs", "a support that pushes from below",
                   "stands = ... of a post below it, or holds = \"pull\"");
  else if (table.has("stands") && of.support.holds == beam::Holds::pull)
    table.complain("stands", "a support that pulls from above",
                   "hangs = ... of a rod above it, or holds = \"push\"");
  const auto length = hangs ? hangs : stands;
  if (length && *length > kLongestRod_m)
    table.complain(key, "a length of at most " + show_length(kLongestRod_m, draft.sheet.show));
  if (length && expansion) of.entry.growth_m_per_K = (hangs ? -1 : 1) * *expansion * *length;
}

void read_support_prior(Walk& table, SupportEntry& entry) {
  entry.offset_sigma = {kDefaultRiseSigma_m, kDefaultTurnSigma_rad, kDefaultTurnSigma_rad};
  entry.log_spring_sigma = {kDefaultLogSpringSigma, kDefaultLogSpringSigma, kDefaultLogSpringSigma};
  auto prior = table.table("prior", optional);
  if (!prior) return;
  const auto take = [&](const char* key, Kind kind, Sign sign, double& to) {
    to = prior->quantity(key, kind, optional, sign).value_or(to);
  };
  take("rise", Kind::length, Sign::positive, entry.offset_sigma.rise);
  take("pitch", Kind::slope, Sign::positive, entry.offset_sigma.pitch);
  take("roll", Kind::angle, Sign::positive, entry.offset_sigma.roll);
  take("rise_mean", Kind::length, Sign::any, entry.offset_mean.rise);
  take("pitch_mean", Kind::slope, Sign::any, entry.offset_mean.pitch);
  take("roll_mean", Kind::angle, Sign::any, entry.offset_mean.roll);
  if (const auto spring =
          prior->number("spring", optional, 0, 10,
                        "a plain number more than 0: sigma of the logarithm of a spring's factor"))
    entry.log_spring_sigma = {*spring, *spring, *spring};
  prior->close();
}

}  // namespace

void read_support(RunDraft& draft, Walk& table) {
  SupportDraft of;
  SupportEntry& entry = of.entry;
  beam::Support<double>& support = of.support;
  entry.name = read_name(table, draft.support_names, "a name of its own among supports");
  if (const auto at = read_place(draft, table, "at")) support.at_m = *at;
  read_across(draft, table, of);
  const bool read[] = {read_restraint(table, "rise", Kind::stiffness, support.rise),
                       read_restraint(table, "pitch", Kind::turning_stiffness, support.pitch),
                       read_restraint(table, "roll", Kind::turning_stiffness, support.roll)};
  of.unread_motion = !(read[0] && read[1] && read[2]);
  if (of.lacks(support.rise) && !support.pitch.held && !support.roll.held)
    table.complain("rise", "a support that is free in rise, pitch and roll",
                   "at least one motion that it holds");
  if (const auto holds = table.word("holds", optional, {"both", "push", "pull"}))
    support.holds = static_cast<beam::Holds>(*holds);
  if (support.holds != beam::Holds::both && of.lacks(support.rise))
    table.complain("holds", "\"both\": a support that is free in rise neither pushes nor pulls");
  read_pulled_home(draft, table, of);
  support.holds_warping = table.word("warping", optional, {"free", "held"}) == 1;
  if (auto rows = table.table("bolt_rows", optional)) {
    entry.bolt_rows_along_m = rows->quantity("along", Kind::length, optional, Sign::positive);
    entry.bolt_rows_across_m = rows->quantity("across", Kind::length, optional, Sign::positive);
    if (!rows->has("along") && !rows->has("across"))
      rows->complain("along", "no distance", "along, across or both");
    rows->close();
  }
  entry.rating_N = table.quantity("rating", Kind::force, optional, Sign::positive);
  if (auto adjust = table.table("adjust", optional)) read_adjust(draft, *adjust, table, of);
  read_fit_up(table, entry);
  read_growth(draft, table, of);
  read_support_prior(table, entry);
  table.close();
  draft.sheet.supports.push_back(std::move(entry));
  draft.sheet.beam_supports.push_back(support);
}

}  // namespace hangtrue::sheet
