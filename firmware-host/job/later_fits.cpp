#include "firmware-host/job/later_fits.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>

#include "core/fit/thresholds.hpp"
#include "firmware-host/job/recheck_thresholds.hpp"

namespace hangtrue::job {

namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;
using Set = std::vector<int>;

constexpr double kNever = -std::numeric_limits<double>::infinity();

double ln_determinant(const Eigen::LLT<MatrixXd>& root) {
  return 2 * root.matrixLLT().diagonal().array().log().sum();
}

}  // namespace

struct LaterFits::Work {
  SurveyFit& session;
  const std::vector<ChangeCandidate>& candidates;
  fit::Problem<double> problem;
  std::vector<std::uint8_t> aside;
  std::vector<fit::Judgement<double>> judgements;
  fit::UnknownList<double> list;
  std::vector<double> storage;
  std::unique_ptr<fit::Fit<double>> fit = std::make_unique<fit::Fit<double>>();

  // Where nothing changed. Unknowns of the run are whitened: sigma 1, mean 0.
  std::vector<fit::Unknown> unknowns;       // of the run and the kit, those of the shape first
  std::vector<double> scale;                // of each, as the fit has it
  std::vector<beam::Parameter> parameters;  // of those of the shape
  std::vector<const survey::Reading<double>*> kept;
  beam::State<double> state;
  survey::KitState<double> kit;
  VectorXd off;                  // readings less what was to be expected, in their sigmas
  VectorXd expected;             // what was, in the readings' units
  MatrixXd rows;                 // by the unknowns as the fit scales them
  MatrixXd root;                 // of what is known of those beforehand: upper triangle
  MatrixXd by_run;               // rows, whitened: A
  MatrixXd by_change;            // a column a candidate, in its own units: D
  std::map<int, MatrixXd> both;  // B
  bool sound = false;

  struct Fitted {
    bool sound = false;
    VectorXd run, size;  // u; of the set, in its order
    double misfit = 0;   // chi-squared, what is known of the run included and of the changes not
    double evidence = kNever;
  };
  std::map<Set, Fitted> fits;  // by what is believed of the changes

  Work(SurveyFit& of, const std::vector<ChangeCandidate>& changes)
      : session(of), candidates(changes), problem(of.walk().problem) {
    const beam::State<double> stands = session.fitted().state();
    std::copy(std::begin(stands.lifted), std::end(stands.lifted), std::begin(problem.base.lifted));
    problem.base.bearing_given = stands.bearing_given;
    problem.options.gate = std::numeric_limits<double>::infinity();
    for (const fit::Judgement<double>& each : session.report().judgements)
      aside.push_back(each.verdict != fit::Verdict::kept);
    judgements.resize(aside.size());
    for (std::size_t i = 0; i < aside.size(); ++i)
      if (aside[i] == 0) kept.push_back(&session.survey().readings[i]);
    sound = linearise();
  }

  [[nodiscard]] const change::Belief& belief(int j) const { return candidates[std::size_t(j)].belief; }

  // ---- by the fit

  // All unknowns but changes; changes with the prior that `known` gives them (sigma 0: left out).
  template <class Known>
  bool run(const Known& known, int most_iterations) {
    const fit::UnknownList<double>& all = session.unknowns();
    const auto is_change = [](const fit::Unknown& each) {
      return each.kind == fit::UnknownKind::change || each.kind == fit::UnknownKind::mark_change;
    };
    list = {};
    bool room = true;
    for (const bool of_shape : {true, false}) {
      for (int u = 0; u < all.count; ++u)
        if (!is_change(all.unknown[u]) && fit::is_of_shape(all.unknown[u].kind) == of_shape)
          room = list.push(all.unknown[u], all.prior[u]) && room;
      for (int j = 0; j < int(candidates.size()); ++j)
        if (const fit::Unknown& each = candidates[std::size_t(j)].unknown;
            fit::is_of_shape(each.kind) == of_shape)
          room = list.push(each, known(j)) && room;
    }
    problem.unknowns = &list;
    storage.resize(
        fit::Fit<double>::storage_needed(list.count, int(aside.size()), int(problem.stations_m.size())));
    problem.options.most_iterations = most_iterations;
    if (!room || !fit->begin(problem, storage).ok()) return false;
    const auto ran = fit->run(session.survey().readings, aside, judgements);
    return ran.ok() && ran.value() != fit::Status::prior_only;
  }
  [[nodiscard]] int column(const fit::Unknown& unknown) const {
    const fit::Unknown* const end = list.unknown + list.count;
    const fit::Unknown* const found = std::find(list.unknown, end, unknown);
    return found == end ? -1 : int(found - list.unknown);
  }

  bool linearise() {
    const auto wide = [&](int j) { return fit::Prior<double>{0, candidates[std::size_t(j)].wide}; };
    if (kept.empty() || !run(wide, /*most_iterations=*/0)) return false;
    state = fit->state();
    kit = fit->kit();
    std::vector<int> columns;
    for (int u = 0; u < list.count; ++u) {
      const fit::Unknown& each = list.unknown[u];
      if (each.kind == fit::UnknownKind::change || each.kind == fit::UnknownKind::mark_change) continue;
      columns.push_back(u);
      unknowns.push_back(each);
      scale.push_back(list.prior[u].sigma);
      if (fit::is_of_shape(each.kind)) parameters.push_back(each.shape);
    }
    const auto p = Eigen::Index(columns.size()), n = Eigen::Index(kept.size());
    root.setZero(p, p);
    for (Eigen::Index i = 0; i < p; ++i)
      for (Eigen::Index k = i; k < p; ++k)
        root(i, k) = fit->prior_information().triangle_row(
            columns[std::size_t(i)])[std::size_t(columns[std::size_t(k)])];
    rows.resize(n, p);
    by_change.setZero(n, Eigen::Index(candidates.size()));
    off.resize(n);
    std::vector<double> stands(std::size_t(list.count));
    fit->estimate_scaled(stands);
    Eigen::Index row = 0;
    for (std::size_t i = 0; i < aside.size(); ++i) {
      if (aside[i] != 0) continue;
      const std::span<const double> by = fit->reading_row(int(i));
      off(row) = fit->reading_target(int(i));
      for (std::size_t u = 0; u < by.size(); ++u) off(row) -= by[u] * stands[u];
      for (Eigen::Index k = 0; k < p; ++k) rows(row, k) = by[std::size_t(columns[std::size_t(k)])];
      for (int j = 0; j < int(candidates.size()); ++j)
        by_change(row, j) =
            by[std::size_t(column(candidates[std::size_t(j)].unknown))] / candidates[std::size_t(j)].wide;
      ++row;
    }
    by_run = whitened(rows);
    expected = predicted(state);
    return true;
  }

  // ---- by the solver

  [[nodiscard]] survey::Scene<double> scene() const {
    return {problem.solver, problem.stage, problem.run->length_m, problem.width_m};
  }
  [[nodiscard]] MatrixXd whitened(MatrixXd by_scaled) const {
    root.triangularView<Eigen::Upper>().solveInPlace<Eigen::OnTheRight>(by_scaled);
    return by_scaled;
  }
  // Of the run as solved; what the solver does not know stays.
  [[nodiscard]] VectorXd predicted(const beam::State<double>& at) const {
    VectorXd all(Eigen::Index(kept.size()));
    if (!problem.solver->solve(at).ok())
      all.fill(std::numeric_limits<double>::quiet_NaN());
    else
      for (std::size_t i = 0; i < kept.size(); ++i)
        all(Eigen::Index(i)) = survey::predicted(scene(), *kept[i], kit);
    return all;
  }
  [[nodiscard]] beam::State<double> with(beam::State<double> at, const Set& set, const VectorXd& size) const {
    survey::KitState<double> unused;
    for (std::size_t k = 0; k < set.size(); ++k)
      fit::assign(candidates[std::size_t(set[k])].unknown, size(Eigen::Index(k)), at, unused);
    return at;
  }
  // A where the run is in that state, and one column more where `more` is asked for.
  [[nodiscard]] bool by_run_at(const beam::State<double>& at, MatrixXd& out,
                               const std::optional<beam::Parameter>& more = {},
                               VectorXd* by_more = nullptr) const {
    std::vector<beam::Parameter> by = parameters;
    if (more) by.push_back(*more);
    if (!problem.solver->solve(at, by).ok()) return false;
    out = rows;
    if (by_more != nullptr) by_more->resize(rows.rows());
    std::vector<double> row(by.size()), scratch(by.size());
    for (std::size_t i = 0; i < kept.size(); ++i) {
      survey::predicted_by_shape<double>(scene(), *kept[i], row, scratch);
      for (std::size_t k = 0; k < parameters.size(); ++k)
        out(Eigen::Index(i), Eigen::Index(k)) = row[k] * scale[k] / kept[i]->sigma;
      if (by_more != nullptr) (*by_more)(Eigen::Index(i)) = row.back() / kept[i]->sigma;
    }
    out = whitened(std::move(out));
    return true;
  }

  // What a unit of change j adds to A. None of a mark.
  const MatrixXd& by_both(int j) {
    const auto known = both.find(j);
    if (known != both.end()) return known->second;
    MatrixXd& made = both[j];
    const ChangeCandidate& change = candidates[std::size_t(j)];
    MatrixXd there;
    if (change.unknown.kind == fit::UnknownKind::change &&
        by_run_at(with(state, {j}, VectorXd::Constant(1, change.wide)), there))
      made = (there - by_run) / change.wide;
    else
      made.setZero(by_run.rows(), by_run.cols());
    return made;
  }

  // ---- sets

  // The readings with these changes, each with that sigma beforehand.
  Fitted fit_set(const Set& set, const VectorXd& sigma) {
    Fitted result;
    if (!sound) return result;
    const auto s = Eigen::Index(set.size()), p = by_run.cols();
    const VectorXd precision = sigma.cwiseInverse().cwiseAbs2();
    const auto objective = [&](const VectorXd& u, const VectorXd& c, const MatrixXd& by_u) {
      VectorXd left = off - by_u * u;
      for (Eigen::Index k = 0; k < s; ++k) left -= c(k) * by_change.col(set[std::size_t(k)]);
      return left.squaredNorm() + u.squaredNorm();
    };
    const auto by_run_with = [&](const VectorXd& c) {
      MatrixXd by_u = by_run;
      for (Eigen::Index k = 0; k < s; ++k) by_u += c(k) * by_both(set[std::size_t(k)]);
      return by_u;
    };
    VectorXd u = VectorXd::Zero(p), c = VectorXd::Zero(s);
    MatrixXd by_u = by_run;
    double least = objective(u, c, by_u);
    Eigen::LLT<MatrixXd> root_of;
    for (int turn = 0; turn < kMostFitSteps; ++turn) {
      MatrixXd by(by_u.rows(), p + s);
      by.leftCols(p) = by_u;
      VectorXd left = off - by_u * u;
      for (Eigen::Index k = 0; k < s; ++k) {
        const int j = set[std::size_t(k)];
        by.col(p + k) = by_change.col(j);
        if (turn > 0) by.col(p + k) += by_both(j) * u;
        left -= c(k) * by_change.col(j);
      }
      MatrixXd known = MatrixXd::Zero(p + s, p + s);
      known.selfadjointView<Eigen::Lower>().rankUpdate(by.transpose());
      known.diagonal().head(p).array() += 1;
      known.diagonal().tail(s) += precision;
      VectorXd right = by.transpose() * left;
      right.head(p) -= u;
      right.tail(s) -= precision.cwiseProduct(c);
      root_of.compute(known.selfadjointView<Eigen::Lower>());
      if (root_of.info() != Eigen::Success) return result;
      const VectorXd step = root_of.solve(right);
      if (turn > 0 && step.dot(right) < kLastGain) break;
      bool taken = false;
      double share = 1;
      for (int halving = 0; halving < kMostStepHalvings && !taken; ++halving, share /= 2) {
        const VectorXd next_u = u + share * step.head(p), next_c = c + share * step.tail(s);
        const MatrixXd next_by = by_run_with(next_c);
        const double is = objective(next_u, next_c, next_by) + next_c.cwiseAbs2().dot(precision);
        if (!(is <= least)) continue;
        taken = true;
        least = is;
        u = next_u;
        c = next_c;
        by_u = next_by;
      }
      if (!taken || s == 0) break;
    }
    result.sound = true;
    result.misfit = objective(u, c, by_u);
    result.evidence = -least / 2 - ln_determinant(root_of) / 2 - sigma.array().log().sum();
    result.run = std::move(u);
    result.size = std::move(c);
    return result;
  }

  const Fitted& fitted(const Set& set) {
    const auto known = fits.find(set);
    if (known != fits.end()) return known->second;
    VectorXd sigma(Eigen::Index(set.size()));
    for (std::size_t k = 0; k < set.size(); ++k) sigma(Eigen::Index(k)) = belief(set[k]).sigma;
    return fits[set] = fit_set(set, sigma);
  }

  [[nodiscard]] double ln_odds(const Set& set, const Fitted& at) const {
    double sum = 0;
    for (std::size_t k = 0; k < set.size(); ++k) {
      const double size = at.size(Eigen::Index(k));
      sum += belief(set[k]).ln_odds(size);
      if (!is_move(candidates[std::size_t(set[k])].id.of) &&
          std::abs(size) > kFarSizes * belief(set[k]).sigma)
        return kNever;
    }
    return sum;
  }

  // The tests of all changes where the set is fitted; with the drift's share as one more where `drift` is its place among the
  // unknowns.
  std::unique_ptr<change::Changes> tests(const Set& set, Eigen::Index drift = -1) {
    if (!sound) return nullptr;
    VectorXd prior(Eigen::Index(set.size()));
    for (std::size_t k = 0; k < set.size(); ++k)
      prior(Eigen::Index(k)) = kPriorOfWide * candidates[std::size_t(set[k])].wide;
    VectorXd u = VectorXd::Zero(by_run.cols());
    MatrixXd by_u = by_run, by = by_change;
    VectorXd is = off;
    if (!set.empty()) {
      const Fitted at = fit_set(set, prior);
      if (!at.sound) return nullptr;
      for (std::size_t k = 0; k < set.size(); ++k) {
        const double c = at.size(Eigen::Index(k));
        const VectorXd more = by_both(set[k]) * at.run;
        by.col(set[k]) += more;
        is += c * more;
        by_u += c * by_both(set[k]);
      }
    }
    std::vector<double> wide;
    for (const ChangeCandidate& each : candidates) wide.push_back(each.wide);
    if (drift >= 0) {  // known by itself beforehand, so that whitening left its column alone
      by.conservativeResize(Eigen::NoChange, by.cols() + 1);
      by.rightCols(1) = by_u.col(drift) / scale[std::size_t(drift)];
      by_u.col(drift).setZero();
      wide.push_back(drift_share_candidate().wide);
    }
    for (Eigen::Index j = 0; j < by.cols(); ++j) by.col(j) *= wide[std::size_t(j)];
    // What of each change the run's unknowns cannot explain: D - A X, with X = (A'A + 1)^-1 A'D.
    MatrixXd known = MatrixXd::Identity(by_u.cols(), by_u.cols());
    known.selfadjointView<Eigen::Lower>().rankUpdate(by_u.transpose());
    const Eigen::LLT<MatrixXd> known_root(known.selfadjointView<Eigen::Lower>());
    if (known_root.info() != Eigen::Success) return nullptr;
    const MatrixXd taken = known_root.solve(by_u.transpose() * by), left = by - by_u * taken;
    const auto q = by.cols();
    MatrixXd told = MatrixXd::Identity(q, q);
    told.selfadjointView<Eigen::Lower>().rankUpdate(left.transpose());
    told.selfadjointView<Eigen::Lower>().rankUpdate(taken.transpose());
    const Eigen::LLT<MatrixXd> told_root(told.selfadjointView<Eigen::Lower>());
    if (told_root.info() != Eigen::Success) return nullptr;
    const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> triangle =
        told_root.matrixU();
    const VectorXd right = told_root.matrixL().solve(left.transpose() * is);
    auto changes = std::make_unique<change::Changes>();
    if (!changes->begin(int(q), wide, {triangle.data(), std::size_t(triangle.size())},
                        {right.data(), std::size_t(right.size())}))
      return nullptr;
    return changes;
  }

  // The fit stands where the set is fitted: one step from what the earlier survey left of the run and from these sizes.
  bool stand(const Set& set) {
    const Fitted& at = fitted(set);
    if (!at.sound) return false;
    return run(
        [&](int j) -> fit::Prior<double> {
          const auto k = std::find(set.begin(), set.end(), j);
          if (k == set.end()) return {0, 0};
          return {at.size(k - set.begin()), candidates[std::size_t(j)].wide};
        },
        /*most_iterations=*/1);
  }

  struct OfSpring {
    double log = 0, information = 0, misfit = 0, ln_weight = kNever;
  };
  std::optional<OfSpring> fit_spring(const Set& others, beam::Parameter spring);
};

// With one spring changed beside these changes. Changes add up at any spring.
std::optional<LaterFits::Work::OfSpring> LaterFits::Work::fit_spring(const Set& others,
                                                                     beam::Parameter spring) {
  const auto s = Eigen::Index(others.size()), p = by_run.cols();
  VectorXd precision(s + 1), c = VectorXd::Zero(s + 1);
  double ln_sigmas = std::log(kLikelySpring.size);
  for (Eigen::Index k = 0; k < s; ++k) {
    const double sigma = belief(others[std::size_t(k)]).sigma;
    precision(k) = 1 / (sigma * sigma);
    ln_sigmas += std::log(sigma);
  }
  precision(s) = 1 / (kLikelySpring.size * kLikelySpring.size);
  const fit::Unknown softer{fit::UnknownKind::change, spring, 0};
  OfSpring found;
  for (int turn = 0; turn < kMostFitSteps; ++turn) {
    beam::State<double> at = with(state, others, c);
    survey::KitState<double> unused;
    fit::assign(softer, c(s), at, unused);
    MatrixXd by(by_run.rows(), p + s + 1), by_u;
    VectorXd by_spring;
    if (!by_run_at(at, by_u, spring, &by_spring)) return std::nullopt;
    VectorXd left = off;
    for (std::size_t i = 0; i < kept.size(); ++i)
      left(Eigen::Index(i)) -=
          (survey::predicted(scene(), *kept[i], kit) - expected(Eigen::Index(i))) / kept[i]->sigma;
    by.leftCols(p) = by_u;
    for (Eigen::Index k = 0; k < s; ++k) {
      const int j = others[std::size_t(k)];
      by.col(p + k) = by_change.col(j);
      if (candidates[std::size_t(j)].unknown.kind == fit::UnknownKind::mark_change)
        left -= c(k) * by_change.col(j);
    }
    by.col(p + s) = by_spring;
    MatrixXd known = MatrixXd::Zero(p + s + 1, p + s + 1);
    known.selfadjointView<Eigen::Lower>().rankUpdate(by.transpose());
    known.diagonal().head(p).array() += 1;
    known.diagonal().tail(s + 1) += precision;
    VectorXd right = by.transpose() * left;
    right.tail(s + 1) -= precision.cwiseProduct(c);
    const Eigen::LLT<MatrixXd> root_of(known.selfadjointView<Eigen::Lower>());
    if (root_of.info() != Eigen::Success) return std::nullopt;
    VectorXd step = root_of.solve(right);
    VectorXd unit = VectorXd::Unit(p + s + 1, p + s);
    root_of.matrixL().solveInPlace(unit);
    found.information = 1 / unit.squaredNorm() - precision(s);
    const VectorXd rest = left - by * step;
    const VectorXd sizes = c + step.tail(s + 1);
    found.misfit = rest.squaredNorm() + step.head(p).squaredNorm();
    found.ln_weight =
        -(found.misfit + sizes.cwiseAbs2().dot(precision)) / 2 - ln_determinant(root_of) / 2 - ln_sigmas;
    const double by_spring_step = step(p + s);
    if (std::abs(by_spring_step) > kSpringStep) step *= kSpringStep / std::abs(by_spring_step);
    c += step.tail(s + 1);
    found.log = c(s);
    if (std::abs(by_spring_step) < kNoSpringStep) return found;
    if (std::abs(found.log) > 2 * std::log(kLargestSpringFactor)) return std::nullopt;
  }
  return std::nullopt;
}

LaterFits::LaterFits(SurveyFit& session, const std::vector<ChangeCandidate>& candidates)
    : work_(std::make_unique<Work>(session, candidates)) {}
LaterFits::~LaterFits() = default;

std::unique_ptr<change::Changes> LaterFits::at_no_change() { return work_->tests({}); }

std::unique_ptr<change::Changes> LaterFits::around(const Set& set) { return work_->tests(set); }

double LaterFits::ln_weight(const Set& set) {
  const double none = work_->fitted({}).evidence;
  const Work::Fitted& at = work_->fitted(set);
  if (!at.sound || !(none > kNever)) return kNever;
  return at.evidence - none + work_->ln_odds(set, at);
}

double LaterFits::misfit(const Set& set) { return work_->fitted(set).misfit; }

double LaterFits::ln_likely(const Set& set) {
  Work& work = *work_;
  if (!work.stand(set)) return kNever;
  const Work::Fitted& at = work.fitted(set);
  double weight =
      at.evidence + work.ln_odds(set, at) - fit::kStrayCost * double(work.aside.size() - work.kept.size());
  const beam::Run<double>& run = *work.problem.run;
  for (int i = 0; i < int(run.supports.size()); ++i) {
    if (!run.supports[std::size_t(i)].one_way() ||
        !run.stages[std::size_t(work.problem.stage)].lists_support(i))
      continue;
    const auto contact = work.fit->contact(work.problem.stage, i);
    if (!contact.ok() || !(contact.value().sigma > 0)) continue;
    // Chance that it pushes, or that the gap is open: far below nothing by its leading term.
    const double by = contact.value().margin / contact.value().sigma;
    weight += by > kFarTail ? std::log(std::erfc(-by / std::numbers::sqrt2) / 2) : -by * by / 2;
  }
  return weight;
}

std::optional<beam::State<double>> LaterFits::stand_at(const Set& set) {
  if (!work_->stand(set)) return std::nullopt;
  beam::State<double> state = work_->fit->state();
  if (!work_->session.solver().solve(state).ok()) return std::nullopt;
  return state;
}

double LaterFits::curvature_sigma(const Set& set, const SheetWithMore& sheet) {
  Work& work = *work_;
  if (!work.stand(set)) return 0;
  const beam::State<double> state = work.fit->state();
  const beam::Stage& stage = work.problem.run->stages[std::size_t(work.problem.stage)];
  struct Part {
    int column;
    double share;
  };
  std::vector<Part> parts;
  double weight_N = 0;
  for (int l = 0; l < sheet.listed; ++l)
    if (stage.lists_load(l)) weight_N += state.load_factor[l] * sheet.run.loads[std::size_t(l)].weight_N;
  for (int u = 0; u < work.list.count; ++u) {
    const fit::Unknown& unknown = work.list.unknown[u];
    if (unknown.kind != fit::UnknownKind::shape) continue;
    if (unknown.shape.kind == beam::ParameterKind::bending) parts.push_back({u, -1 / state.bending_factor});
    if (unknown.shape.kind != beam::ParameterKind::load || unknown.shape.index >= sheet.listed) continue;
    if (stage.lists_load(unknown.shape.index))
      parts.push_back({u, sheet.run.loads[std::size_t(unknown.shape.index)].weight_N / weight_N});
  }
  double variance = 0;
  for (const Part& a : parts)
    for (const Part& b : parts) variance += a.share * b.share * work.fit->covariance(a.column, b.column);
  return std::sqrt(std::max(variance, 0.0));
}

std::optional<LaterFits::Spring> LaterFits::with_spring(const Set& set, int j) {
  Work& work = *work_;
  const Work::Fitted& named = work.fitted(set);
  if (!named.sound) return std::nullopt;
  beam::Parameter spring = work.candidates[std::size_t(j)].unknown.shape;
  for (const beam::Motion motion : beam::kMotions)
    if (spring.kind == beam::kMoves[motion]) {
      if (!(work.problem.run->supports[std::size_t(spring.index)].restraint(motion).compliance > 0))
        return std::nullopt;
      spring.kind = beam::kSprings[motion];
      break;
    }
  Set others = set;
  std::erase(others, j);
  const auto fitted = work.fit_spring(others, spring);
  if (!fitted || !(fitted->log < 0) || fitted->log < -std::log(kLargestSpringFactor)) return std::nullopt;
  if (!(fitted->information > 0)) return std::nullopt;
  Spring found;
  found.ln_weight = fitted->ln_weight - work.fitted({}).evidence + std::log(kLikelySpring.odds);
  for (const int k : others)  // their size hardly differs
    found.ln_weight += work.belief(k).ln_odds(named.size(std::find(set.begin(), set.end(), k) - set.begin()));
  found.misfit_more = fitted->misfit - named.misfit;
  // Without its prior, as every size is told.
  const double prior = 1 / (kLikelySpring.size * kLikelySpring.size);
  found.change = {QuantityKind::log_factor, fitted->log * (fitted->information + prior) / fitted->information,
                  1 / std::sqrt(fitted->information)};
  return found;
}

change::Single LaterFits::drift_share(const Set& named) {
  Work& work = *work_;
  const auto drift = std::find(work.unknowns.begin(), work.unknowns.end(), drift_share_candidate().unknown);
  if (drift == work.unknowns.end()) return {};
  Set moved;
  for (const int j : named) {
    const UnknownOf of = work.candidates[std::size_t(j)].id.of;
    if (is_move(of) || of == UnknownOf::mark_height) moved.push_back(j);
  }
  const auto changes = work.tests({}, drift - work.unknowns.begin());
  return changes ? changes->single(changes->count() - 1, moved) : change::Single{};
}

}  // namespace hangtrue::job
