#include "tools/rehearsal/truth.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <random>
#include <stdexcept>

#include "firmware-host/job/prediction.hpp"
#include "firmware-host/job/thresholds.hpp"
#include "firmware-host/say/complaint.hpp"

namespace hangtrue::rehearsal {

namespace {

/// Draws for one named quantity: its own stream, whatever else is drawn.
class Draw {
 public:
  Draw(std::uint64_t seed, std::string_view name) {
    std::seed_seq::result_type words[16];
    std::vector<std::uint32_t> entropy = {static_cast<std::uint32_t>(seed),
                                          static_cast<std::uint32_t>(seed >> 32)};
    for (const char c : name) entropy.push_back(static_cast<unsigned char>(c));
    std::seed_seq(entropy.begin(), entropy.end()).generate(std::begin(words), std::end(words));
    engine_.seed((std::uint64_t{words[0]} << 32) | words[1]);
  }
  /// Normal, cut at two sigma.
  double normal(double mean, double sigma) {
    for (;;) {
      const double z = standard();
      if (std::abs(z) <= 2) return mean + sigma * z;
    }
  }

 private:
  // Box and Muller's transform rather than std::normal_distribution, whose stream each library chooses for itself.
  double standard() {
    constexpr double kTwoPi = 6.28318530717958647692;
    return std::sqrt(-2 * std::log(1 - uniform())) * std::cos(kTwoPi * uniform());
  }
  double uniform() { return static_cast<double>(engine_() >> 11) * 0x1p-53; }
  std::mt19937_64 engine_;
};

constexpr double kMarkSigma_m =
    0.15;  // of a mark's height: well within what a laser reads that reads the run

beam::Motions<double> draw_motions(Draw& draw, const beam::Motions<double>& mean,
                                   const beam::Motions<double>& sigma, const beam::Motions<double>& most) {
  return {draw.normal(mean.rise, std::min(sigma.rise, most.rise)),
          draw.normal(mean.pitch, std::min(sigma.pitch, most.pitch)),
          draw.normal(mean.roll, std::min(sigma.roll, most.roll))};
}

/// Whether the support engages only after that stage.
bool engages_later(const sheet::RunSheet& run, int support, int stage) {
  for (int s = 0; s <= stage; ++s)
    if (run.beam_stages[std::size_t(s)].lists_support(support)) return false;
  return true;
}

/// How far the bolts of a support that engages later draw the run: its misfit, or its own zero where they draw it home.
beam::Motions<double> fit_up_sigma(const sheet::SupportEntry& entry) {
  return {entry.fit_up_sigma[0], entry.fit_up_sigma[1], entry.fit_up_sigma[2]};
}

beam::State<double> draw_state(const sheet::RunSheet& run, int stage, std::uint64_t seed) {
  beam::State<double> state;
  for (std::size_t i = 0; i < run.supports.size(); ++i) {
    const sheet::SupportEntry& support = run.supports[i];
    Draw draw(seed, "support " + support.name);
    const bool later = engages_later(run, int(i), stage);
    state.offset[i] = later ? draw_motions(draw, {}, fit_up_sigma(support), {1, 1, 1})
                            : draw_motions(draw, support.offset_mean, support.offset_sigma,
                                           {kMostRise_m, kMostTurn_rad, kMostTurn_rad});
    state.log_spring[i] = draw_motions(draw, {}, support.log_spring_sigma, {kMostLog, kMostLog, kMostLog});
  }
  for (std::size_t i = 0; i < run.loads.size(); ++i) {
    const double factor = Draw(seed, "load " + run.loads[i].name).normal(1, run.loads[i].sigma);
    state.load_factor[i] = std::max(0.05, factor);
  }
  Draw stiffness(seed, "stiffness");
  state.bending_factor = std::max(0.2, stiffness.normal(1, run.priors.bending_sigma));
  state.torsion_factor = std::max(0.2, stiffness.normal(1, run.priors.torsion_sigma));
  Draw bow(seed, "bow");
  for (int k = 0; k < std::min(run.priors.bows, kMaxBows); ++k) {
    state.bow_m[k] = bow.normal(0, run.priors.bow_sigma_m / ((k + 1) * (k + 1)));
  }
  return state;
}

/// Such that the distances lie in the middle of what the laser's channel can read.
double usual_datum_m(const sheet::KitSheet& kit) {
  for (const sheet::KitInstrument& instrument : kit.instruments) {
    for (const sheet::KitChannel& channel : instrument.channels) {
      if (channel.gives == Channel::distance && channel.range_from && channel.range_to) {
        return -(*channel.range_from + *channel.range_to) / 2;
      }
    }
  }
  return kUsualDatum_m;
}

/// What a channel reads more because of it.
double put_under(const sheet::KitChannel& kit, const PutUnder& put, int face) {
  switch (kit.gives) {
    case Channel::slope:
      return kit.base_m > 0 ? face * put.end_m / kit.base_m : 0;
    case Channel::roll:
      return face * put.left_m / put.feet_across_m;
    case Channel::distance:
      return put.higher_m;
    case Channel::temperature:
    case Channel::station:
      break;
  }
  return 0;
}

}  // namespace

double Profile::tilt_rad() const {
  const double n = static_cast<double>(at_m.size());
  double x = 0, z = 0, xx = 0, xz = 0;
  for (std::size_t i = 0; i < at_m.size(); ++i) {
    x += at_m[i] / n;
    z += height_m[i] / n;
  }
  for (std::size_t i = 0; i < at_m.size(); ++i) {
    xx += (at_m[i] - x) * (at_m[i] - x);
    xz += (at_m[i] - x) * (height_m[i] - z);
  }
  return xx > 0 ? xz / xx : 0;
}

double Profile::sag_m() const {
  const double tilt = tilt_rad();
  const double n = static_cast<double>(at_m.size());
  double mean = 0;
  for (std::size_t i = 0; i < at_m.size(); ++i) mean += (height_m[i] - tilt * at_m[i]) / n;
  double largest = 0;
  for (std::size_t i = 0; i < at_m.size(); ++i) {
    const double departure = height_m[i] - tilt * at_m[i] - mean;
    if (std::abs(departure) > std::abs(largest)) largest = departure;
  }
  return largest;
}

Truth::Truth(const sheet::RunSheet& run, const sheet::KitSheet& kit, int stage, std::uint64_t seed)
    : run_(run), kit_(kit), seed_(seed), solved_(run_) {
  look_at(stage);
  if (solved_.trouble()) throw std::invalid_argument(say::complaint(run_, *solved_.trouble()).text());
  // A draw may lift a one-way support that the run cannot do without: such a run would not be hung.
  bool solvable = false;
  for (std::uint64_t attempt = 0; attempt < 100 && !solvable; ++attempt) {
    state_ = draw_state(run_, stage, seed + attempt * 0x9E3779B97F4A7C15u);
    solvable = solved_.solver().solve(state_).ok();
  }
  if (!solvable)
    throw std::invalid_argument(run.file +
                                ": the run stands as listed, but with no offsets as they happen on site");

  for (std::size_t i = 0; i < run_.marks.size(); ++i)
    kit_state_.mark_height_m[i] = Draw(seed, "mark " + run_.marks[i].name).normal(0, kMarkSigma_m);
  visit(0, true);
}

void Truth::visit(std::uint64_t visit, bool kit) {
  const std::string which = visit == 0 ? std::string() : " of visit " + std::to_string(visit);
  const double datum_m = usual_datum_m(kit_);
  for (int i = 0; i < kMaxSetUps; ++i) {
    Draw draw(seed_, "set-up " + std::to_string(i) + which);
    kit_state_.datum_height_m[i] = draw.normal(datum_m, std::min(run_.priors.datum_height_sigma_m, 0.05));
    kit_state_.datum_tilt_rad[i] = draw.normal(0, run_.priors.datum_tilt_sigma);
  }
  if (!kit) return;
  zeros_.clear();
  for (const sheet::KitInstrument& instrument : kit_.instruments) {
    std::vector<double>& zeros = zeros_.emplace_back();
    for (const sheet::KitChannel& channel : instrument.channels) {
      Draw draw(seed_, "zero " + instrument.name + " " + channel.transducer + which);
      zeros.push_back(is_measured_of_run(channel.gives) ? draw.normal(0, channel.zero_sigma) : 0.0);
    }
  }
}

double Truth::zero(std::size_t instrument, std::size_t channel) const {
  return zeros_.at(instrument).at(channel);
}

double Truth::reading(std::size_t instrument, std::size_t channel, const Stand& stand) const {
  const sheet::KitChannel& kit = kit_.instruments.at(instrument).channels.at(channel);
  survey::Reading<double> reading;
  reading.channel = kit.gives;
  switch (kit.gives) {
    case Channel::slope:
    case Channel::roll:
    case Channel::distance:
      break;
    case Channel::temperature:
      return 20.0 + 2.0 * stand.at_m / run_.length_m;  // warmer at the far end
    case Channel::station: {
      const auto nearest = std::min_element(
          run_.stations_m.begin(), run_.stations_m.end(),
          [&](double a, double b) { return std::abs(a - stand.at_m) < std::abs(b - stand.at_m); });
      return static_cast<double>(nearest - run_.stations_m.begin() + 1);
    }
  }
  reading.edge = kit.station_m ? kit.edge : stand.edge;
  reading.face = static_cast<std::int8_t>(kit.station_m ? 1 : stand.face);
  reading.at_m = kit.station_m.value_or(stand.at_m);
  reading.base_m = kit.base_m;
  if (kit.gives == Channel::distance) {
    reading.set_up = static_cast<std::int16_t>(stand.set_up);
    if (!kit.station_m) reading.mark = static_cast<std::int16_t>(stand.mark);
  }
  const survey::Scene<double> scene{&solved_.solver(), stage_, run_.length_m, run_.width_m};
  return survey::predicted(scene, reading, kit_state_) + (crept_ ? crept_->on(reading) : 0) +
         zero(instrument, channel) + put_under(kit, stand.put, reading.face);
}

Profile Truth::profile(std::span<const double> at_m) const {
  Profile profile;
  profile.at_m.assign(at_m.begin(), at_m.end());
  for (const double x : at_m)
    profile.height_m.push_back(solved_.solver().height(stage_, x) + (crept_ ? crept_->height_m(x, 0) : 0));
  return profile;
}

double Truth::level_error_m(const beam::Solver<double>& solver) const {
  std::vector<double> heights = job::edge_heights(run_, solver, run_.tolerance.stage);
  if (crept_)  // station by station, the left edge first
    for (std::size_t j = 0; j < heights.size(); ++j)
      heights[j] += crept_->height_m(run_.stations_m[j / 2], (j % 2 == 0 ? 0.5 : -0.5) * run_.width_m);
  return adjust::level_error<double>(heights, run_.tolerance.target_height_m);
}

double Truth::level_error_m() const { return level_error_m(solved_.solver()); }

beam::State<double> Truth::moved(std::span<const beam::Motions<double>> moves) const {
  beam::State<double> state = state_;
  if (state.move_stage < 0) state.move_stage = stage_;
  for (std::size_t i = 0; i < moves.size(); ++i)
    for (int m = 0; m < 3; ++m) state.move[i][m] += moves[i][m];
  return state;
}

double Truth::level_error_after_m(std::span<const beam::Motions<double>> moves) const {
  job::SolvedRun solved(run_);
  if (const auto done = solved.solver().solve(moved(moves)); !done) {
    throw std::invalid_argument("after these moves: " + say::complaint(run_, done.fault()).text());
  }
  return level_error_m(solved.solver());
}

void Truth::move(int support, const beam::Motions<double>& by) {
  std::vector<beam::Motions<double>> moves(run_.supports.size());
  moves.at(std::size_t(support)) = by;
  const beam::State<double> state = moved(moves);
  if (const auto done = solved_.solver().solve(state); !done) {
    const std::string why = say::complaint(run_, done.fault()).text();
    (void)solved_.solver().solve(state_);  // as before
    throw std::invalid_argument("after this move: " + why);
  }
  state_ = state;
}

double Truth::let_creep(double days) {
  const book::Time loaded{};
  crept_ = job::drift_since(run_, stage_, state_, loaded,
                            loaded + std::chrono::duration_cast<book::Time::duration>(
                                         std::chrono::duration<double, std::ratio<86400>>(days)));
  return crept_ ? crept_->expected().sag_m : 0;
}

void Truth::look_at(int stage) {
  if (stage < 0 || std::size_t(stage) >= run_.stages.size())
    throw std::invalid_argument("the run sheet has no stage number " + std::to_string(stage + 1));
  stage_ = stage;
}

}  // namespace hangtrue::rehearsal
