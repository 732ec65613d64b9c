#include "firmware-host/job/live_target.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <utility>

#include "core/fit/distribution.hpp"
#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {
namespace {

using Matrix = Eigen::MatrixXd;
using Vector = Eigen::VectorXd;

/// A change so far off a straight path is bent, in the noise of the reading before. No source: nobody sees less.
constexpr double kBent = 0.2;
/// Scores of suspects nearer than this are as likely. No source: e^3 is 20 to 1.
constexpr double kAsLikelySuspect = 6;
constexpr std::size_t kMostSuspects = 3;
/// A suspect explains what is seen where chance brings the rest so often. No source: the usual 1 of 1,000.
constexpr double kExplains = 1e-3;

/// Weights >= 0 with sum 1 whose mean of A's columns lies nearest to y. Steps from the worst column in use to the best one
/// (pairwise Frank-Wolfe: S. Lacoste-Julien, M. Jaggi 2015, from memory).
Vector nearest_mean(const Matrix& A, const Vector& y) {
  constexpr int kMostSteps = 2000;
  Vector weight = Vector::Zero(A.cols());
  Eigen::Index first = 0;
  (A.colwise() - y).colwise().squaredNorm().minCoeff(&first);
  weight(first) = 1;
  for (int step = 0; step < kMostSteps; ++step) {
    const Vector gradient = A.transpose() * (A * weight - y);
    Eigen::Index best = 0, worst = -1;
    gradient.minCoeff(&best);
    for (Eigen::Index k = 0; k < A.cols(); ++k)
      if (weight(k) > 0 && (worst < 0 || gradient(k) > gradient(worst))) worst = k;
    const Vector along = A.col(best) - A.col(worst);
    const double fall = gradient(worst) - gradient(best), length = along.squaredNorm();
    if (!(fall > 1e-10) || !(length > 0)) break;
    const double by = std::min(weight(worst), fall / length);
    weight(best) += by;
    weight(worst) = by < weight(worst) ? weight(worst) - by : 0;
  }
  return weight;
}

/// One look, in the metric of what is known.
class Look {
 public:
  Look(const std::vector<WatchedChannel>& watched, const std::vector<Corner>& corners,
       std::span<const ReadsNow> now)
      : corners_(corners),
        n_(Eigen::Index(watched.size())),
        seen_(n_),
        noise_(n_),
        change_(n_, Eigen::Index(corners.size())) {
    for (Eigen::Index i = 0; i < n_; ++i) {
      const auto at = std::size_t(i);
      seen_(i) = now[at].value - watched[at].place.value;
      noise_(i) = std::hypot(now[at].sigma, watched[at].place.sigma);
      for (std::size_t k = 0; k < corners.size(); ++k) change_(i, Eigen::Index(k)) = corners[k].change[at];
    }
  }

  [[nodiscard]] Vector all() const { return change_.col(change_.cols() - 1); }
  [[nodiscard]] const Vector& seen() const { return seen_; }

  /// Covariance of what is seen about a mean of the corners.
  [[nodiscard]] Matrix covariance(const Vector& weight) const {
    Matrix rows = Matrix::Zero(n_, Eigen::Index(corners_[0].row.empty() ? 0 : corners_[0].row[0].size()));
    for (std::size_t k = 0; k < corners_.size(); ++k)
      for (Eigen::Index i = 0; i < n_; ++i) {
        const std::vector<double>& row = corners_[k].row[std::size_t(i)];
        rows.row(i) += weight(Eigen::Index(k)) *
                       Eigen::Map<const Eigen::RowVectorXd>(row.data(), Eigen::Index(row.size()));
      }
    Matrix both = rows * rows.transpose();
    both.diagonal() += noise_.cwiseAbs2();
    return both;
  }

  void find_path() {
    weight_ = Vector::Zero(change_.cols());
    weight_(0) = 1;
    for (int turn = 0; turn < 3; ++turn) {
      take_metric(covariance(weight_));
      weight_ = nearest_mean(white(change_), white(seen_));
    }
    off_ = seen_ - change_ * weight_;
    take_metric(covariance(weight_));
    const Vector full = white(all());
    share_ = full.dot(white(seen_)) / full.squaredNorm();
    share_sigma_ = 1 / full.norm();
  }
  /// Of seen less what is on the path.
  [[nodiscard]] double misfit() const { return white(off_).squaredNorm(); }
  /// Of a straight path that goes on beyond both ends.
  [[nodiscard]] double misfit_of_line() const { return white(Vector(seen_ - share_ * all())).squaredNorm(); }
  void look_along_the_line() {
    Vector weight = Vector::Zero(change_.cols());
    weight(weight.size() - 1) = std::abs(share_);
    take_metric(covariance(weight));
  }
  [[nodiscard]] Vector white(const Vector& of) const { return factor_.matrixL().solve(of); }
  [[nodiscard]] Matrix white(const Matrix& of) const { return factor_.matrixL().solve(of); }
  [[nodiscard]] double share() const { return share_; }
  [[nodiscard]] double share_sigma() const { return share_sigma_; }
  [[nodiscard]] double off(std::size_t channel) const { return off_(Eigen::Index(channel)); }
  [[nodiscard]] double off_sigma(std::size_t channel) const {
    return std::sqrt(covariance(weight_)(Eigen::Index(channel), Eigen::Index(channel)));
  }

 private:
  void take_metric(const Matrix& covariance) { factor_.compute(covariance); }

  const std::vector<Corner>& corners_;
  Eigen::Index n_;
  Vector seen_, noise_;
  Matrix change_;
  Vector weight_, off_;
  Eigen::LLT<Matrix> factor_;
  double share_ = 0, share_sigma_ = 0;
};

std::vector<LooksLike> looks_like(const Look& look, const std::vector<Suspect>& suspects) {
  struct Scored {
    double score;
    LooksLike found;
  };
  std::vector<Scored> scored;
  for (const Suspect& suspect : suspects) {
    Matrix both(look.seen().size(), 2);
    both.col(0) = look.all();
    both.col(1) = Eigen::Map<const Vector>(suspect.effect.data(), look.seen().size());
    const Matrix white = look.white(both);
    const Eigen::Matrix2d normal = white.transpose() * white;
    const Eigen::FullPivLU<Eigen::Matrix2d> solved(normal);
    if (!solved.isInvertible()) continue;
    const Vector seen = look.white(look.seen());
    const Eigen::Vector2d found = solved.solve(white.transpose() * seen);
    const double rest = (seen - white * found).squaredNorm();
    if (fit::chi_squared_tail(rest, std::max(0, int(seen.size()) - 2)) < kExplains) continue;
    const double sigma = std::sqrt(solved.inverse()(1, 1)), by = found(1) / suspect.likely;
    scored.push_back({rest + by * by, {suspect.what, {kind_of(suspect.what), found(1), sigma}}});
  }
  std::sort(scored.begin(), scored.end(), [](const Scored& a, const Scored& b) { return a.score < b.score; });
  std::vector<LooksLike> likeliest;
  for (const Scored& each : scored)
    if (likeliest.size() < kMostSuspects && each.score < scored.front().score + kAsLikelySuspect)
      likeliest.push_back(each.found);
  return likeliest;
}

}  // namespace

LiveTarget::LiveTarget(std::vector<WatchedChannel> watched, std::vector<Corner> corners,
                       std::vector<Suspect> suspects)
    : watched_(std::move(watched)), corners_(std::move(corners)), suspects_(std::move(suspects)) {}

TargetNow LiveTarget::look(std::span<const ReadsNow> now) const {
  Look look(watched_, corners_, now);
  look.find_path();
  TargetNow found;
  found.share = look.share();
  found.share_sigma = look.share_sigma();
  Vector last = Vector::Zero(Eigen::Index(corners_.size()));
  last(last.size() - 1) = 1;
  const Matrix at_end = look.covariance(last);
  bool all_within = true;
  for (std::size_t i = 0; i < watched_.size(); ++i) {
    ChannelNow channel;
    channel.now = now[i].value;
    channel.must_read = watched_[i].place.value + corners_.back().change[i];
    channel.band = kBandSigmas * std::sqrt(at_end(Eigen::Index(i), Eigen::Index(i)));
    channel.off = look.off(i);
    channel.off_sigma = look.off_sigma(i);
    all_within = all_within && std::abs(channel.now - channel.must_read) <= channel.band;
    found.channels.push_back(channel);
  }
  const int n = int(watched_.size());
  found.chance = fit::chi_squared_tail(look.misfit(), n);
  const bool beyond = found.share > 1 + kTooFarSigmas * found.share_sigma;
  const bool back = found.share < 0 && found.chance < kStopChance;
  if (beyond || back) {
    look.look_along_the_line();
    found.chance = fit::chi_squared_tail(look.misfit_of_line(), n - 1);
  } else if (corners_.size() == 2 && found.share > 0 && found.share < 1) {
    found.chance = fit::chi_squared_tail(look.misfit(), n - 1);  // the share is free
  }
  if (found.chance < kStopChance)
    found.verdict = TargetVerdict::stop;
  else if (back)
    found.verdict = TargetVerdict::wrong_way;
  else if (beyond)
    found.verdict = TargetVerdict::too_far;
  else if (all_within && found.share_sigma <= kShareTold)
    found.verdict = TargetVerdict::done;
  if (found.verdict == TargetVerdict::stop) found.looks_like = looks_like(look, suspects_);
  return found;
}

// ---- from the fit -------------------------------------------------------------------------------------------------

namespace {

/// What channels read on the run in some state, and how that depends on the fit's unknowns.
struct Predicted {
  std::vector<double> value;
  std::vector<std::vector<double>> by_shape;  // one entry a shape unknown
};

class Predictor {
 public:
  Predictor(SurveyFit& survey, const std::vector<WatchedChannel>& watched)
      : survey_(survey), watched_(watched) {
    for (int u = 0; u < survey.unknowns().count; ++u)
      if (survey.unknowns().unknown[u].kind == fit::UnknownKind::shape)
        shape_.push_back(survey.unknowns().unknown[u].shape);
    std::vector<double> row(std::size_t(survey.unknowns().count));
    for (std::size_t u = 0; u < shape_.size(); ++u) {
      survey.fitted().factor_row(int(u), row);
      factor_.push_back(row);
    }
  }

  Result<Predicted, Fault> at(beam::Solver<double>& solver, int stage,
                              const beam::State<double>& state) const {
    return at(solver, stage, state, shape_);
  }
  /// By other parameters than the unknowns.
  Result<Predicted, Fault> at(beam::Solver<double>& solver, int stage, const beam::State<double>& state,
                              std::span<const beam::Parameter> parameters) const {
    if (const auto solved = solver.solve(state, parameters); !solved) return Fault(solved.fault());
    const survey::Scene<double> scene{&solver, stage, survey_.run().length_m, survey_.run().width_m};
    Predicted predicted;
    std::vector<double> by(parameters.size()), scratch(parameters.size());
    for (const WatchedChannel& each : watched_) {
      predicted.value.push_back(survey::predicted<double>(scene, each.place, {}));
      survey::predicted_by_shape<double>(scene, each.place, by, scratch);
      predicted.by_shape.push_back(by);
    }
    return predicted;
  }

  [[nodiscard]] Corner change(const Predicted& from, const Predicted& to) const {
    Corner corner;
    for (std::size_t i = 0; i < watched_.size(); ++i) {
      corner.change.push_back(to.value[i] - from.value[i]);
      std::vector<double>& row = corner.row.emplace_back(std::size_t(survey_.unknowns().count));
      for (std::size_t u = 0; u < shape_.size(); ++u) {
        const double by = to.by_shape[i][u] - from.by_shape[i][u];
        for (std::size_t k = 0; k < row.size(); ++k) row[k] += by * factor_[u][k];
      }
    }
    return corner;
  }

  /// Motions of every support that the stage lists, but for those in `left_out`.
  Result<std::vector<Suspect>, Fault> suspects(beam::Solver<double>& solver, int stage,
                                               const beam::State<double>& state, const sheet::RunSheet& run,
                                               int left_out_support,
                                               const beam::Motions<double>& left_out) const {
    std::vector<Suspect> found;
    for (int s = 0; s < int(run.supports.size()); ++s) {
      if (!run.beam_stages[std::size_t(stage)].lists_support(s)) continue;
      for (const beam::Motion motion : beam::kMotions) {
        if (!run.beam_supports[std::size_t(s)].restraint(motion).held) continue;
        if (s == left_out_support && left_out[motion] != 0) continue;
        const beam::Parameter parameter{beam::kMoves[motion], std::int16_t(s)};
        const auto by = at(solver, stage, state, {&parameter, 1});
        if (!by) return by.fault();
        Suspect suspect;
        suspect.what = id_of(run, parameter);
        suspect.likely = motion == beam::Motion::rise ? kLikelyRise.size : kLikelyTurn.size;
        for (const std::vector<double>& each : by.value().by_shape) suspect.effect.push_back(each[0]);
        found.push_back(std::move(suspect));
      }
    }
    return found;
  }

 private:
  SurveyFit& survey_;
  const std::vector<WatchedChannel>& watched_;
  std::vector<beam::Parameter> shape_;
  std::vector<std::vector<double>> factor_;
};

beam::State<double> state_with(SurveyFit& survey, std::span<const beam::Motions<double>> made) {
  beam::State<double> state = survey.fitted().state();
  state.move_stage = survey.stage();
  for (std::size_t i = 0; i < made.size(); ++i)
    for (const beam::Motion motion : beam::kMotions) state.move[i][motion] += made[i][motion];
  return state;
}

beam::State<double> moved(beam::State<double> state, int stage, int support,
                          const beam::Motions<double>& move, double share) {
  for (const beam::Motion motion : beam::kMotions) state.move[support][motion] += share * move[motion];
  state.bearing_given = std::min(state.bearing_given, stage);  // what bears then is found anew
  return state;
}

bool is_bent(const Corner& between, double share, const Corner& all,
             const std::vector<WatchedChannel>& watched) {
  for (std::size_t i = 0; i < watched.size(); ++i)
    if (std::abs(between.change[i] - share * all.change[i]) > kBent * watched[i].place.sigma) return true;
  return false;
}

/// Leaves the solver as the fit had it.
class SolverOfFit {
 public:
  explicit SolverOfFit(SurveyFit& survey) : survey_(survey) {}
  ~SolverOfFit() { (void)survey_.solver().solve(survey_.fitted().state()).ok(); }
  SolverOfFit(const SolverOfFit&) = delete;
  SolverOfFit& operator=(const SolverOfFit&) = delete;

 private:
  SurveyFit& survey_;
};

}  // namespace

Result<LiveTarget, Fault> target_of_move(SurveyFit& survey, const MoveToMake& move,
                                         std::vector<WatchedChannel> watched) {
  const SolverOfFit as_it_was(survey);
  const Predictor predictor(survey, watched);
  const int stage = survey.stage();
  const beam::State<double> before = state_with(survey, move.made);
  const auto from = predictor.at(survey.solver(), stage, moved(before, stage, move.support, move.move, 0));
  if (!from) return from.fault();
  std::vector<Corner> corners;
  for (const double share : {0.0, 0.25, 0.5, 0.75, 1.0}) {
    const auto to =
        predictor.at(survey.solver(), stage, moved(before, stage, move.support, move.move, share));
    if (!to) return to.fault();
    corners.push_back(predictor.change(from.value(), to.value()));
  }
  bool bent = false;
  for (std::size_t k = 1; k + 1 < corners.size(); ++k)
    bent = bent || is_bent(corners[k], double(k) / double(corners.size() - 1), corners.back(), watched);
  if (!bent) corners.erase(corners.begin() + 1, corners.end() - 1);
  auto suspects = predictor.suspects(survey.solver(), stage, before, survey.run(), move.support, move.move);
  if (!suspects) return suspects.fault();
  return LiveTarget(std::move(watched), std::move(corners), std::move(suspects).value());
}

namespace {

/// What comes on or off between two stages, in parts that are done one by one.
struct Part {
  beam::Stage released, added, taken_off;
};

std::vector<Part> parts_of(const beam::Stage& from, const beam::Stage& to) {
  std::vector<Part> releases, loads;
  for (int s = 0; s < kMaxSupports; ++s)
    if (from.lists_support(s) && !to.lists_support(s)) releases.push_back({{1u << s, 0}, {}, {}});
  for (int l = 0; l < kMaxLoads; ++l) {
    const std::uint64_t bit = std::uint64_t(1) << l;
    if (!from.lists_load(l) && to.lists_load(l)) loads.push_back({{}, {0, bit}, {}});
    if (from.lists_load(l) && !to.lists_load(l)) loads.push_back({{}, {}, {0, bit}});
  }
  const auto together = [](std::vector<Part>& parts) {
    Part all;
    for (const Part& each : parts) {
      all.released.supports |= each.released.supports;
      all.added.loads |= each.added.loads;
      all.taken_off.loads |= each.taken_off.loads;
    }
    if (!parts.empty()) parts = {all};
  };
  if (int(releases.size() + loads.size()) > kMostParts) together(loads);
  if (int(releases.size() + loads.size()) > kMostParts) together(releases);
  releases.insert(releases.end(), loads.begin(), loads.end());
  return releases;
}

}  // namespace

Result<LiveTarget, Fault> target_of_next_stage(SurveyFit& survey, std::vector<WatchedChannel> watched) {
  const SolverOfFit as_it_was(survey);
  const Predictor predictor(survey, watched);
  const int stage = survey.stage(), next = stage + 1;
  const beam::State<double> state = state_with(survey, {});
  const auto from = predictor.at(survey.solver(), stage, state);
  if (!from) return from.fault();
  const beam::Stage now = survey.run().beam_stages[std::size_t(stage)];
  const beam::Stage then = survey.run().beam_stages[std::size_t(next)];
  const std::vector<Part> parts = parts_of(now, then);
  std::vector<Corner> corners{predictor.change(from.value(), from.value())};
  sheet::RunSheet half_done = survey.run();
  half_done.stages.resize(std::size_t(next) + 1);
  half_done.beam_stages.resize(std::size_t(next) + 1);
  // Supports that are new to the stage engage first, without force.
  for (unsigned choice = 0; choice < (1u << parts.size()); ++choice) {
    beam::Stage reached{now.supports | then.supports, now.loads};
    for (std::size_t p = 0; p < parts.size(); ++p) {
      if (((choice >> p) & 1u) == 0) continue;
      reached.supports &= ~parts[p].released.supports;
      reached.loads = (reached.loads | parts[p].added.loads) & ~parts[p].taken_off.loads;
    }
    half_done.beam_stages[std::size_t(next)] = reached;
    SolvedRun mechanics(half_done, kMaxUnknowns);
    const bool is_all = choice + 1 == (1u << parts.size());
    if (mechanics.trouble()) {
      if (is_all) return *mechanics.trouble();
      continue;  // nobody would do it in that order
    }
    const auto to = predictor.at(mechanics.solver(), next, state);
    if (!to && is_all) return to.fault();
    if (to) corners.push_back(predictor.change(from.value(), to.value()));
  }
  auto suspects = predictor.suspects(survey.solver(), next, state, survey.run(), -1, {});
  if (!suspects) return suspects.fault();
  return LiveTarget(std::move(watched), std::move(corners), std::move(suspects).value());
}

Result<std::optional<PlaceToWatch>, Fault> place_to_watch(SurveyFit& survey, const MoveToMake& move,
                                                          const sheet::KitSheet& kit) {
  std::vector<WatchedChannel> candidates;
  for (const sheet::KitInstrument& instrument : kit.instruments)
    for (const sheet::KitChannel& channel : instrument.channels) {
      if (!is_measured_of_run(channel.gives) || channel.station_m || !(channel.sigma > 0)) continue;
      for (const double at_m : survey.run().stations_m) {
        WatchedChannel each{{instrument.name, channel.gives}, {}};
        each.place.channel = channel.gives;
        each.place.edge = channel.edge;
        each.place.base_m = channel.base_m;
        each.place.at_m = at_m;
        each.place.sigma = channel.sigma;
        candidates.push_back(std::move(each));
      }
    }
  std::optional<PlaceToWatch> best;
  if (candidates.empty()) return best;
  const auto target = target_of_move(survey, move, candidates);
  if (!target) return target.fault();
  for (std::size_t i = 0; i < candidates.size(); ++i) {
    const WatchedChannel& each = candidates[i];
    const double change = target.value().corners().back().change[i],
                 sigmas = std::abs(change) / each.place.sigma;
    if (!best || sigmas > best->sigmas)
      best = PlaceToWatch{
          each.channel.instrument, each.channel.channel, each.place.at_m, each.place.edge, change, sigmas};
  }
  return best;
}

}  // namespace hangtrue::job
