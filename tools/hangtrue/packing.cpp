#include "tools/hangtrue/packing.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <set>
#include <utility>

#include "firmware-host/job/survey_fit.hpp"
#include "firmware-host/say/complaint.hpp"

namespace hangtrue::tools {

namespace {

namespace limits = node_limits;

class Packing {
 public:
  Packing(const sheet::RunSheet& run, const sheet::KitSheet& kit, int stage)
      : sheet_(run), kit_(kit), stage_(stage), finished_(std::max(stage, run.tolerance.stage)) {}

  PackedOrComplaints make() {
    if (!find_node()) return {std::nullopt, std::move(complaints_)};
    head();
    mechanics();
    instrument();
    adjustment();
    if (complaints_.empty()) known();
    if (complaints_.empty()) write();
    if (!complaints_.empty()) return {std::nullopt, std::move(complaints_)};
    return {std::move(packed_), {}};
  }

 private:
  bool find_node();
  void head();
  void mechanics();
  void instrument();
  void adjustment();
  [[nodiscard]] int settings_of(const sheet::SupportEntry& support) const;
  void known();
  void list_unknowns(const job::SurveyFit& survey);
  void write();

  void refuse(std::string key, std::string found, std::string expected) {
    complaints_.push_back({sheet_.file, 0, std::move(key), std::move(found), std::move(expected)});
  }
  void refuse_kit(std::string key, std::string found, std::string expected) {
    complaints_.push_back({kit_.file, 0, std::move(key), std::move(found), std::move(expected)});
  }
  /// Whether `found` are not too many; else it is refused.
  bool fits(const std::string& key, std::size_t found, int most, const std::string& what) {
    if (found <= std::size_t(most)) return true;
    refuse(key, std::to_string(found) + ' ' + what, "at most " + std::to_string(most) + " on a node");
    return false;
  }
  [[nodiscard]] node::Name name(const std::string& text) {
    node::Name result{};
    if (text.size() > result.size())
      packed_.remarks.push_back('"' + text + "\" is cut to " + std::to_string(result.size()) +
                                " characters on the node");
    std::copy_n(text.begin(), std::min(text.size(), result.size()), result.begin());
    return result;
  }

  const sheet::RunSheet& sheet_;
  const sheet::KitSheet& kit_;
  const int stage_, finished_;
  sheet::KitSheet node_kit_;  // the node alone, with what it reads of the run
  const sheet::KitChannel* slope_ = nullptr;
  const sheet::KitChannel* roll_ = nullptr;
  Packed packed_;
  node::PackedRun& run_ = packed_.run;
  std::vector<sheet::Complaint> complaints_;
};

// ---- the node in the kit ------------------------------------------------------------------------------------------

bool Packing::find_node() {
  int found = 0;
  for (const sheet::KitInstrument& each : kit_.instruments) {
    const auto channel = [&](const char* transducer, Channel gives) -> const sheet::KitChannel* {
      for (const sheet::KitChannel& one : each.channels)
        if (one.transducer == transducer && one.gives == gives) return &one;
      return nullptr;
    };
    const auto* const slope = channel("ALONG", Channel::slope);
    const auto* const roll = channel("ACROSS", Channel::roll);
    if (each.speaks != sheet::Speaks::xdr || slope == nullptr || roll == nullptr) continue;
    ++found;
    node_kit_.file = kit_.file;
    node_kit_.instruments = {each};
    node_kit_.instruments.front().channels = {*slope, *roll};
  }
  if (found != 1) {
    refuse_kit(
        "instrument", std::to_string(found) + " nodes",
        "one instrument that speaks xdr with a transducer \"ALONG\" that gives slope and \"ACROSS\" that "
        "gives roll");
    return false;
  }
  slope_ = &node_kit_.instruments.front().channels[0];
  roll_ = &node_kit_.instruments.front().channels[1];
  for (const sheet::KitChannel* each : {slope_, roll_}) {
    if (each->station_m)
      refuse_kit("instrument.channel.station", each->transducer + " stays at one place",
                 "\"walking\" for a node");
    if (each->edge != survey::Edge::middle)
      refuse_kit("instrument.channel.edge", each->transducer + " stands at an edge", "\"middle\" for a node");
  }
  return complaints_.empty();
}

void Packing::instrument() {
  run_.base_m = float(slope_->base_m);
  run_.slope_sigma = float(slope_->sigma);
  run_.roll_sigma_rad = float(roll_->sigma);
  run_.slope_spread = float(slope_->settle_spread);
  run_.roll_spread_rad = float(roll_->settle_spread);
  run_.slope_window_s = float(slope_->settle_window_s);
  run_.roll_window_s = float(roll_->settle_window_s);
  run_.slope_sign = std::int8_t(slope_->sign);
  run_.roll_sign = std::int8_t(roll_->sign);
}

// ---- the run ------------------------------------------------------------------------------------------------------

void Packing::head() {
  run_.title = name(sheet_.title);
  run_.stage_name = name(sheet_.stages[std::size_t(stage_)]);
  run_.length_m = float(sheet_.length_m);
  run_.width_m = float(sheet_.width_m);
  run_.shear_centre_m = float(sheet_.shear_centre_m);
  run_.stage = std::uint8_t(stage_);
  run_.finished_stage = std::uint8_t(finished_);
  if (fits("priors.bows", std::size_t(sheet_.priors.bows), limits::kBows, "bows"))
    run_.bows = std::uint8_t(sheet_.priors.bows);
  run_.tolerance_m = float(sheet_.tolerance.level_m);
  if (sheet_.tolerance.per)
    refuse("tolerance.per", "a straight-edge", "none on a node, which chooses its moves by the level alone");
  run_.has_target = sheet_.tolerance.target_height_m.has_value();
  run_.target_m = float(sheet_.tolerance.target_height_m.value_or(0));
}

beam::Restraint<float> narrow(const beam::Restraint<double>& wide) {
  return {wide.held, float(wide.compliance), wide.pulled_home};
}
beam::Motions<float> narrow(const beam::Motions<double>& wide) {
  return {float(wide.rise), float(wide.pitch), float(wide.roll)};
}

void Packing::mechanics() {
  if (fits("member", sheet_.pieces.size(), limits::kPieces, "stretches of constant section"))
    for (const beam::Piece<double>& piece : sheet_.pieces) {
      beam::Piece<float>& to = run_.pieces.entry[std::size_t(run_.pieces.count++)];
      to.to_m = float(piece.to_m);
      to.bending_N_m2 = float(piece.bending_N_m2);
      to.torsion_N_m2 = float(piece.torsion_N_m2);
      to.shear_N = float(piece.shear_N);
      to.warping_N_m4 = float(piece.warping_N_m4);
    }
  if (fits("load", sheet_.load_parts.size(), limits::kLoadParts, "parts of loads"))
    for (const beam::LoadPart<double>& part : sheet_.load_parts)
      run_.load_parts.entry[std::size_t(run_.load_parts.count++)] = {
          part.load,         part.kind,       float(part.from_m),  float(part.to_m),
          float(part.begin), float(part.end), float(part.across_m)};
  if (fits("support", sheet_.beam_supports.size(), limits::kSupports, "supports"))
    for (const beam::Support<double>& support : sheet_.beam_supports)
      run_.supports.entry[std::size_t(run_.supports.count++)] = {
          float(support.at_m), narrow(support.rise),    narrow(support.pitch), narrow(support.roll),
          support.holds,       float(support.across_m), support.holds_warping};
  if (fits("stage", std::size_t(finished_) + 1, limits::kStages, "stages up to the finished one"))
    for (int s = 0; s <= finished_; ++s)
      run_.stages.entry[std::size_t(run_.stages.count++)] = sheet_.beam_stages[std::size_t(s)];
  if (fits("stations", sheet_.stations_m.size(), limits::kStations, "stations"))
    for (const double station : sheet_.stations_m)
      run_.stations_m.entry[std::size_t(run_.stations_m.count++)] = float(station);
  static_cast<void>(fits("load", sheet_.loads.size(), limits::kLoads, "loads"));
}

// ---- what is known beforehand -------------------------------------------------------------------------------------

bool is_give(const fit::Unknown& unknown) {
  return unknown.kind == fit::UnknownKind::shape &&
         std::any_of(beam::kMotions.begin(), beam::kMotions.end(),
                     [&](beam::Motion motion) { return unknown.shape.kind == beam::kGives[motion]; });
}

// As for the host's fit: what rigid supports may give is left out where there are too many.
void Packing::list_unknowns(const job::SurveyFit& survey) {
  const fit::UnknownList<double>& all = survey.unknowns();
  const std::span<const fit::Unknown> unknowns(all.unknown, std::size_t(all.count));
  const bool without_give = all.count > limits::kUnknowns;
  const auto left_out =
      without_give ? std::count_if(unknowns.begin(), unknowns.end(), is_give) : std::ptrdiff_t(0);
  if (!fits("unknowns", std::size_t(all.count - left_out), limits::kUnknowns,
            "quantities that readings are to tell (offsets, springs, stiffness, loads, bows, zero errors)"))
    return;
  if (left_out > 0)
    packed_.remarks.emplace_back("what rigid supports may give is left out: the node holds " +
                                 std::to_string(limits::kUnknowns) + " unknowns");
  for (std::size_t u = 0; u < unknowns.size(); ++u) {
    if (without_give && is_give(unknowns[u])) continue;
    run_.unknowns.entry[std::size_t(run_.unknowns.count++)] = {
        unknowns[u], {float(all.prior[u].mean), float(all.prior[u].sigma)}};
  }
}

void Packing::known() {
  job::SurveyFit survey(sheet_, &node_kit_, stage_);
  survey.take_as_planned();
  if (const auto done = survey.fit(); !done) {
    complaints_.push_back(say::complaint(sheet_, done.fault()));
    return;
  }
  list_unknowns(survey);
  const job::WalkSubject walk = survey.walk();
  const beam::State<double>& base = walk.problem.base;
  for (std::size_t i = 0; i < sheet_.supports.size(); ++i)
    run_.state[i] = {narrow(base.offset[i]), narrow(base.log_spring[i]), narrow(base.give[i])};
  run_.bending_factor = float(base.bending_factor);
  run_.torsion_factor = float(base.torsion_factor);
  run_.load_factor.count = int(sheet_.loads.size());
  for (std::size_t l = 0; l < sheet_.loads.size(); ++l)
    run_.load_factor.entry[l] = float(base.load_factor[l]);
  for (const sheet::KitChannel* each : {slope_, roll_}) {
    if (!(each->zero_sigma > 0)) continue;
    const auto number = std::int8_t(run_.zero.count++);
    (each == slope_ ? run_.slope_zero : run_.roll_zero) = number;
    run_.zero.entry[std::size_t(number)] = float(walk.problem.kit.zero[number]);
  }
}

// ---- what can be adjusted -----------------------------------------------------------------------------------------

// Stacks, rods and lifts that the search sets one by one: two bolt rows take two, and four corners four.
int Packing::settings_of(const sheet::SupportEntry& support) const {
  if (support.adjust.by != sheet::AdjustBy::shims) return 1;
  return (support.adjust.pitch ? 2 : 1) * (support.adjust.roll ? 2 : 1);
}

void Packing::adjustment() {
  std::set<int> stocks;
  int settings = 0;
  if (sheet_.supports.size() > run_.adjust.size()) return;  // said already
  for (std::size_t i = 0; i < sheet_.supports.size(); ++i) {
    const sheet::SupportEntry& support = sheet_.supports[i];
    const sheet::Adjust& from = support.adjust;
    node::PackedAdjust& to = run_.adjust[i];
    to.name = name(support.name);
    to.rating_N = float(support.rating_N.value_or(0));
    if (support.growth_m_per_K != 0)
      packed_.remarks.push_back("what the rod or post at \"" + support.name +
                                "\" grows by in the warmth is not taken off on the node");
    if (from.by == sheet::AdjustBy::nothing) continue;
    to.by = from.by == sheet::AdjustBy::shims ? 1 : from.by == sheet::AdjustBy::rod ? 2 : 3;
    to.pitch = from.pitch;
    to.roll = from.roll;
    to.rise_from_m = float(from.rise_from_m);
    to.rise_to_m = float(from.rise_to_m);
    to.along_m = float(support.bolt_rows_along_m.value_or(0));
    to.across_m = float(support.bolt_rows_across_m.value_or(0));
    to.step_m = float(from.by == sheet::AdjustBy::rod ? from.thread_m * from.step_turns : from.step_m);
    to.step_turns = float(from.step_turns);
    settings += settings_of(support);
    if (from.by == sheet::AdjustBy::shims && from.stock >= 0) stocks.insert(from.stock);
  }
  static_cast<void>(fits("support.adjust", std::size_t(settings), limits::kSettings,
                         "stacks, rods and lifts to be set one by one"));
  if (!fits("stock", stocks.size(), limits::kStocks, "stocks of shims in use") || stocks.empty()) return;
  const sheet::Stock& stock = sheet_.stocks[std::size_t(*stocks.begin())];
  if (!fits("stock." + stock.name + ".pieces", stock.pieces.size(), limits::kPieceKinds, "thicknesses"))
    return;
  for (const sheet::PieceOfStock& piece : stock.pieces)
    run_.stock.entry[std::size_t(run_.stock.count++)] = {float(piece.thickness_m),
                                                         std::uint8_t(std::min(piece.count, 255))};
  run_.most_in_stack = std::uint8_t(std::min(stock.most, 255));
  run_.highest_stack_m = float(stock.highest_m.value_or(0));
}

// ---- bytes --------------------------------------------------------------------------------------------------------

void Packing::write() {
  packed_.bytes.resize(node::kMostPacked);
  const auto length = node::pack(run_, packed_.bytes);
  if (!length.ok()) {
    refuse(length.fault().what, std::to_string(length.fault().found),
           "at most " + std::to_string(length.fault().most) + " on a node");
    return;
  }
  packed_.bytes.resize(length.value());
  node::PackedRun again;
  if (const auto read = node::unpack(packed_.bytes, again); !read.ok())
    refuse(read.fault().what, std::to_string(read.fault().found), "what a node can use");
}

}  // namespace

PackedOrComplaints pack_for_node(const sheet::RunSheet& run, const sheet::KitSheet& kit, int stage) {
  return Packing(run, kit, stage).make();
}

}  // namespace hangtrue::tools
