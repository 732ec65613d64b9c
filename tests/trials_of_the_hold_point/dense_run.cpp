#include "tests/trials_of_the_hold_point/dense_run.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <stdexcept>

namespace hangtrue::hold_trials {

using beam::kMotions;
using beam::Motion;

namespace {

constexpr double kSamePlace_m = 1e-9;
constexpr double kUnitAcross_m = 0.1;  // a distance across that counts as far apart
// A bearing support may pull by this share of the whole weight, and a lifted one be run into by this: rounding.
constexpr double kForceRounding = 1e-9, kGapRounding_m = 1e-11;
// Equilibria whose heights differ by less are one: a support that just touches.
constexpr double kSameShape_m = 1e-8;

// Cubic with the shear's share: height at `xi` (0 ... 1) of an element by its ends' height and rotation.
std::array<double, 4> bend_shape(double xi, double length, double phi) {
  const double squared = xi * xi, cubed = squared * xi, whole = 1 / (1 + phi);
  return {whole * (1 - 3 * squared + 2 * cubed + phi * (1 - xi)),
          whole * length * (xi - 2 * squared + cubed + phi / 2 * (xi - squared)),
          whole * (3 * squared - 2 * cubed + phi * xi),
          whole * length * (cubed - squared - phi / 2 * (xi - squared))};
}

double shear_number(const std::array<double, 4>& flex, double length) {
  return std::isfinite(flex[1]) ? 12 * flex[0] / (flex[1] * length * length) : 0;
}

double bow_height(double x, double length, int k) {
  return std::sin((k + 1) * std::numbers::pi * x / length);
}
double bow_slope(double x, double length, int k) {
  const double wave = (k + 1) * std::numbers::pi / length;
  return wave * std::cos(wave * x);
}

}  // namespace

DenseRun::DenseRun(const beam::Run<double>& run, std::span<const double> places_m, int elements) : run_(run) {
  make_mesh(places_m, elements);
  bending_ = condense_bending();
  torsion_ = condense_torsion();
}

void DenseRun::make_mesh(std::span<const double> places_m, int elements) {
  std::vector<double> at{0, run_.length_m};
  for (const auto& piece : run_.pieces) at.push_back(piece.to_m);
  for (const auto& part : run_.load_parts) {
    at.push_back(part.from_m);
    if (part.kind == beam::LoadKind::spread || part.kind == beam::LoadKind::warmth) at.push_back(part.to_m);
    warm_[std::size_t(part.load)] = part.kind == beam::LoadKind::warmth;
    if (part.kind == beam::LoadKind::spread)
      weight_N_ += std::abs(part.begin + part.end) / 2 * (part.to_m - part.from_m);
    if (part.kind == beam::LoadKind::point) weight_N_ += std::abs(part.begin);
  }
  for (const auto& support : run_.supports) at.push_back(support.at_m);
  at.insert(at.end(), places_m.begin(), places_m.end());
  std::sort(at.begin(), at.end());
  at.erase(std::unique(at.begin(), at.end(), [](double a, double b) { return b - a < kSamePlace_m; }),
           at.end());

  for (std::size_t i = 0; i + 1 < at.size(); ++i) {
    const double gap = at[i + 1] - at[i];
    const int parts = std::max(1, int(std::ceil(gap * elements / run_.length_m - 1e-9)));
    for (int p = 0; p < parts; ++p) nodes_m_.push_back(at[i] + gap * p / parts);
  }
  nodes_m_.push_back(at.back());
  for (std::size_t e = 0; e + 1 < nodes_m_.size(); ++e)
    flex_.push_back(stiffness_over(nodes_m_[e], nodes_m_[e + 1]));

  for (std::size_t i = 0; i < run_.supports.size(); ++i) {
    const int node = node_at(run_.supports[i].at_m);
    const auto known = std::find(kept_nodes_.begin(), kept_nodes_.end(), node);
    kept_[i] = int(known - kept_nodes_.begin());
    if (known == kept_nodes_.end()) kept_nodes_.push_back(node);
  }
}

int DenseRun::node_at(double x_m) const {
  const auto after = std::lower_bound(nodes_m_.begin(), nodes_m_.end(), x_m - kSamePlace_m);
  return int(std::min(after - nodes_m_.begin(), std::ptrdiff_t(nodes_m_.size()) - 1));
}

std::array<double, 4> DenseRun::stiffness_over(double from_m, double to_m) const {
  const double middle = (from_m + to_m) / 2;
  for (const auto& piece : run_.pieces)
    if (middle < piece.to_m)
      return {piece.bending_N_m2, piece.shear_N, piece.torsion_N_m2, piece.warping_N_m4};
  throw std::logic_error("a place beyond the last piece");
}

DenseRun::Condensed DenseRun::condense(const Eigen::MatrixXd& stiffness, const Eigen::MatrixXd& load,
                                       const std::vector<int>& kept) {
  std::vector<int> inner;
  for (int i = 0; i < stiffness.rows(); ++i)
    if (std::find(kept.begin(), kept.end(), i) == kept.end()) inner.push_back(i);
  const Eigen::MatrixXd between = stiffness(inner, kept);
  const Eigen::LDLT<Eigen::MatrixXd> held(stiffness(inner, inner));
  const Eigen::MatrixXd follow = -held.solve(between);
  const Eigen::MatrixXd inner_load = load(inner, Eigen::all);

  Condensed made;
  made.stiffness = stiffness(kept, kept) + between.transpose() * follow;
  made.load = load(kept, Eigen::all) + follow.transpose() * inner_load;
  made.spread = Eigen::MatrixXd::Zero(stiffness.rows(), Eigen::Index(kept.size()));
  made.spread(inner, Eigen::all) = follow;
  for (std::size_t k = 0; k < kept.size(); ++k) made.spread(kept[k], Eigen::Index(k)) = 1;
  made.own = Eigen::MatrixXd::Zero(stiffness.rows(), load.cols());
  const Eigen::MatrixXd inner_own = held.solve(inner_load);
  made.own(inner, Eigen::all) = inner_own;
  return made;
}

DenseRun::Condensed DenseRun::condense_bending() const {
  const int nodes = int(nodes_m_.size());
  Eigen::MatrixXd stiffness = Eigen::MatrixXd::Zero(2 * nodes, 2 * nodes);
  Eigen::MatrixXd load = Eigen::MatrixXd::Zero(2 * nodes, run_.loads);
  for (int e = 0; e + 1 < nodes; ++e) {
    const auto& flex = flex_[std::size_t(e)];
    const double from = nodes_m_[std::size_t(e)], h = nodes_m_[std::size_t(e) + 1] - from;
    const double phi = shear_number(flex, h);
    Eigen::Matrix4d element;
    element << 12, 6 * h, -12, 6 * h,                         //
        6 * h, (4 + phi) * h * h, -6 * h, (2 - phi) * h * h,  //
        -12, -6 * h, 12, -6 * h,                              //
        6 * h, (2 - phi) * h * h, -6 * h, (4 + phi) * h * h;
    stiffness.block<4, 4>(2 * e, 2 * e) += element * flex[0] / ((1 + phi) * h * h * h);

    for (const auto& part : run_.load_parts) {
      if (part.kind != beam::LoadKind::spread && part.kind != beam::LoadKind::warmth) continue;
      if (from + h / 2 < part.from_m || from + h / 2 > part.to_m) continue;
      if (part.kind == beam::LoadKind::warmth) {  // the couples that would bend it as the warmth does
        load(2 * e + 1, part.load) -= flex[0] * part.begin;
        load(2 * e + 3, part.load) += flex[0] * part.begin;
        continue;
      }
      // Three points of Gauss: exact for a cubic times a straight line.
      constexpr std::array kPoint{0.1127016653792583, 0.5, 0.8872983346207417};
      constexpr std::array kShare{5.0 / 18, 8.0 / 18, 5.0 / 18};
      for (int g = 0; g < 3; ++g) {
        const double x = from + kPoint[std::size_t(g)] * h;
        const double weight =
            part.begin + (part.end - part.begin) * (x - part.from_m) / (part.to_m - part.from_m);
        const auto by = bend_shape(kPoint[std::size_t(g)], h, phi);
        for (int k = 0; k < 4; ++k)
          load(2 * e + k, part.load) -= by[std::size_t(k)] * weight * kShare[std::size_t(g)] * h;
      }
    }
  }
  for (const auto& part : run_.load_parts) {
    if (part.kind == beam::LoadKind::point) load(2 * node_at(part.from_m), part.load) -= part.begin;
    if (part.kind == beam::LoadKind::couple) load(2 * node_at(part.from_m) + 1, part.load) += part.begin;
  }
  std::vector<int> kept;
  for (const int node : kept_nodes_) kept.insert(kept.end(), {2 * node, 2 * node + 1});
  return condense(stiffness, load, kept);
}

DenseRun::Condensed DenseRun::condense_torsion() const {
  const int nodes = int(nodes_m_.size());
  Eigen::MatrixXd stiffness = Eigen::MatrixXd::Zero(2 * nodes, 2 * nodes);
  Eigen::MatrixXd load = Eigen::MatrixXd::Zero(2 * nodes, run_.loads);
  for (int e = 0; e + 1 < nodes; ++e) {
    const auto& flex = flex_[std::size_t(e)];
    const double from = nodes_m_[std::size_t(e)], h = nodes_m_[std::size_t(e) + 1] - from;
    const bool warps = flex[3] > 0;
    Eigen::Matrix4d element;
    if (warps) {
      Eigen::Matrix4d bends, pulls;
      bends << 12, 6 * h, -12, 6 * h,           //
          6 * h, 4 * h * h, -6 * h, 2 * h * h,  //
          -12, -6 * h, 12, -6 * h,              //
          6 * h, 2 * h * h, -6 * h, 4 * h * h;
      pulls << 36, 3 * h, -36, 3 * h,        //
          3 * h, 4 * h * h, -3 * h, -h * h,  //
          -36, -3 * h, 36, -3 * h,           //
          3 * h, -h * h, -3 * h, 4 * h * h;
      element = bends * flex[3] / (h * h * h) + pulls * flex[2] / (30 * h);
    } else {
      const double k = flex[2] / h;
      element << k, 0, -k, 0, 0, 0, 0, 0, -k, 0, k, 0, 0, 0, 0, 0;
    }
    stiffness.block<4, 4>(2 * e, 2 * e) += element;
    for (const auto& part : run_.load_parts) {
      if (part.kind != beam::LoadKind::spread) continue;
      if (from + h / 2 < part.from_m || from + h / 2 > part.to_m) continue;
      constexpr std::array kPoint{0.1127016653792583, 0.5, 0.8872983346207417};
      constexpr std::array kShare{5.0 / 18, 8.0 / 18, 5.0 / 18};
      for (int g = 0; g < 3; ++g) {
        const double xi = kPoint[std::size_t(g)], x = from + xi * h;
        const double weight =
            part.begin + (part.end - part.begin) * (x - part.from_m) / (part.to_m - part.from_m);
        const auto by = warps ? bend_shape(xi, h, 0) : std::array<double, 4>{1 - xi, 0, xi, 0};
        for (int k = 0; k < 4; ++k)
          load(2 * e + k, part.load) -= by[std::size_t(k)] * weight * (part.across_m - run_.shear_centre_m) *
                                        kShare[std::size_t(g)] * h;
      }
    }
  }
  for (const auto& part : run_.load_parts)
    if (part.kind == beam::LoadKind::point)
      load(2 * node_at(part.from_m), part.load) -= part.begin * (part.across_m - run_.shear_centre_m);
  for (int node = 0; node < nodes; ++node)  // nothing warps there
    if (stiffness(2 * node + 1, 2 * node + 1) == 0) stiffness(2 * node + 1, 2 * node + 1) = 1;
  std::vector<int> kept;
  for (const int node : kept_nodes_) kept.insert(kept.end(), {2 * node, 2 * node + 1});
  return condense(stiffness, load, kept);
}

double DenseRun::load_factor(const TrueRun& truth, int stage, int load) const {
  return run_.stages[std::size_t(stage)].lists_load(load) ? truth.state.load_factor[load] : 0;
}

double DenseRun::compliance(const TrueRun& truth, int support, Motion motion) const {
  return run_.supports[std::size_t(support)].restraint(motion).compliance *
             std::exp(-truth.state.log_spring[support][motion]) +
         truth.added_compliance[support][motion];
}

// Zero positions with which a stage begins.
void DenseRun::lock(const TrueRun& truth, int stage, const std::vector<StageShape>& before,
                    Zeros& zeros) const {
  const auto listed = [&](int s, int i) { return run_.stages[std::size_t(s)].lists_support(i); };
  const int move_stage = truth.state.move_stage;
  for (int i = 0; i < int(run_.supports.size()); ++i) {
    if (!listed(stage, i)) continue;
    const bool engages = stage == 0 || !listed(stage - 1, i);
    bool seen = false, since_moves = false;
    for (int s = 0; s < stage; ++s) {
      seen = seen || listed(s, i);
      since_moves = since_moves || (s >= move_stage && listed(s, i));
    }
    const bool moves =
        move_stage >= 0 && (stage == move_stage || (stage > move_stage && engages && !since_moves));
    for (const Motion motion : kMotions) {
      const auto& restraint = run_.supports[std::size_t(i)].restraint(motion);
      if (!restraint.held) continue;
      double& zero = zeros.motion[std::size_t(i)][motion];
      if (engages) {
        zero = restraint.pulled_home || !seen ? truth.state.offset[i][motion] : 0;
        if (stage > 0 && !restraint.pulled_home) {
          const StageShape& now = before.back();
          const int node = kept_nodes_[std::size_t(kept_[std::size_t(i)])];
          const double x = nodes_m_[std::size_t(node)];
          if (motion == Motion::rise) zero += height(now, x, run_.supports[std::size_t(i)].across_m);
          if (motion == Motion::roll) zero += now.twist(2 * node);
          if (motion == Motion::pitch) {
            zero += now.bend(2 * node + 1);
            for (int k = 0; k < run_.bows; ++k)
              zero += now.bow_m[std::size_t(k)] * bow_slope(x, run_.length_m, k);
          }
        }
      }
      if (moves) zero += truth.state.move[i][motion];
    }
    if (engages && run_.supports[std::size_t(i)].holds_warping)
      zeros.warp[std::size_t(i)] =
          stage == 0 ? 0 : before.back().twist(2 * kept_nodes_[std::size_t(kept_[std::size_t(i)])] + 1);
  }
}

// Whether these supports leave the run no rigid motion: height, slope and roll.
bool DenseRun::holds(std::uint32_t engaged) const {
  Eigen::Matrix3d rigid = Eigen::Matrix3d::Zero();
  for (int i = 0; i < int(run_.supports.size()); ++i) {
    if (((engaged >> i) & 1u) == 0) continue;
    const auto& support = run_.supports[std::size_t(i)];
    const Eigen::Vector3d rise(1, support.at_m / run_.length_m,
                               (support.across_m - run_.shear_centre_m) / kUnitAcross_m),
        pitch(0, 1, 0), roll(0, 0, 1);
    if (support.rise.held) rigid += rise * rise.transpose();
    if (support.pitch.held) rigid += pitch * pitch.transpose();
    if (support.roll.held) rigid += roll * roll.transpose();
  }
  return rigid.determinant() > 1e-9;
}

// Under these zero positions, held by these supports, whichever way their reactions then point.
StageShape DenseRun::shape(const TrueRun& truth, int stage, const Zeros& zeros, std::uint32_t engaged) const {
  const double length = run_.length_m, bending = truth.state.bending_factor,
               torsion = truth.state.torsion_factor;
  StageShape made;
  made.bearing = engaged;
  for (int k = 0; k < run_.bows; ++k) made.bow_m[std::size_t(k)] = truth.state.bow_m[k];

  // Kept displacements (height and rotation of each kept node, then rolls), then reactions. Heights in run lengths and forces in
  // EI / length^2, torques in GJ / length, so that all is of order one.
  struct Row {
    int support;
    std::optional<Motion> motion;  // none: the warp
    int bend, twist;               // which kept displacement it holds; -1: none
    double lever;                  // of the roll
    double zero, force;            // zero position; unit of its reaction
    double unit;                   // of the motion: length or 1, of the warp 1 / length
  };
  const double bend_unit = flex_.front()[0] / length, twist_unit = flex_.front()[2] / length;
  const int bends = int(bending_.stiffness.rows()), twists = int(torsion_.stiffness.rows());
  std::vector<Row> rows;
  for (int i = 0; i < int(run_.supports.size()); ++i) {
    if (((engaged >> i) & 1u) == 0) continue;
    const auto& support = run_.supports[std::size_t(i)];
    const auto& zero = zeros.motion[std::size_t(i)];
    double high = zero.rise, turned = zero.pitch;
    for (int k = 0; k < run_.bows; ++k) {
      high -= made.bow_m[std::size_t(k)] * bow_height(support.at_m, length, k);
      turned -= made.bow_m[std::size_t(k)] * bow_slope(support.at_m, length, k);
    }
    const int kept = kept_[std::size_t(i)];
    const double arm = support.across_m - run_.shear_centre_m;
    if (support.rise.held)
      rows.push_back(
          {i, Motion::rise, 2 * kept, arm != 0 ? 2 * kept : -1, arm, high, bend_unit / length, length});
    if (support.pitch.held) rows.push_back({i, Motion::pitch, 2 * kept + 1, -1, 0, turned, bend_unit, 1});
    if (support.roll.held) rows.push_back({i, Motion::roll, -1, 2 * kept, 1, zero.roll, twist_unit, 1});
    const auto holds_it = [&](const Row& row) { return row.twist == 2 * kept + 1; };
    if (support.holds_warping && std::none_of(rows.begin(), rows.end(), holds_it))
      rows.push_back({i, std::nullopt, -1, 2 * kept + 1, 1, zeros.warp[std::size_t(i)], twist_unit * length,
                      1 / length});
  }

  // Warmth is a curvature: the softer the run, the smaller its couples.
  Eigen::VectorXd weights = Eigen::VectorXd::Zero(run_.loads), own = weights, turns = weights;
  for (int l = 0; l < run_.loads; ++l) {
    turns(l) = load_factor(truth, stage, l);
    own(l) = warm_[std::size_t(l)] ? turns(l) : turns(l) / bending;
    weights(l) = warm_[std::size_t(l)] ? turns(l) * bending : turns(l);
  }
  Eigen::VectorXd unit = Eigen::VectorXd::Ones(bends);
  for (Eigen::Index k = 0; k < unit.size(); k += 2) unit(k) = length;

  const int kept = bends + twists, all = kept + int(rows.size());
  Eigen::MatrixXd matrix = Eigen::MatrixXd::Zero(all, all);
  Eigen::VectorXd right = Eigen::VectorXd::Zero(all);
  matrix.topLeftCorner(bends, bends) =
      unit.asDiagonal() * (bending_.stiffness * (bending / bend_unit)) * unit.asDiagonal();
  matrix.block(bends, bends, twists, twists) = torsion_.stiffness * (torsion / twist_unit);
  right.head(bends) = unit.cwiseProduct(bending_.load * weights) / bend_unit;
  right.segment(bends, twists) = torsion_.load * turns / twist_unit;
  for (int r = 0; r < int(rows.size()); ++r) {
    const Row& row = rows[std::size_t(r)];
    if (row.bend >= 0) {
      matrix(row.bend, kept + r) = -1;
      matrix(kept + r, row.bend) = 1;
    }
    if (row.twist >= 0) {
      matrix(bends + row.twist, kept + r) = -row.lever * row.force / twist_unit;
      matrix(kept + r, bends + row.twist) = row.lever / row.unit;
    }
    if (row.motion)
      matrix(kept + r, kept + r) = compliance(truth, row.support, *row.motion) * row.force / row.unit;
    right(kept + r) = row.zero / row.unit;
  }
  const Eigen::VectorXd solved = matrix.partialPivLu().solve(right);
  for (int r = 0; r < int(rows.size()); ++r) {
    const Row& row = rows[std::size_t(r)];
    if (row.motion) made.reaction[std::size_t(row.support)][*row.motion] = solved(kept + r) * row.force;
  }
  made.bend = bending_.spread * unit.cwiseProduct(solved.head(bends)) + bending_.own * own;
  made.twist = torsion_.spread * solved.segment(bends, twists) + torsion_.own * (turns / torsion);
  return made;
}

bool DenseRun::is_equilibrium(const StageShape& shape, std::uint32_t listed, const Zeros& zeros) const {
  for (int i = 0; i < int(run_.supports.size()); ++i) {
    const auto& support = run_.supports[std::size_t(i)];
    if (((listed >> i) & 1u) == 0 || !support.one_way() || !support.rise.held) continue;
    if (((shape.bearing >> i) & 1u) != 0) {
      if (shape.reaction[std::size_t(i)].rise < -kForceRounding * weight_N_) return false;
    } else if (height(shape, support.at_m, support.across_m) - zeros.motion[std::size_t(i)].rise <
               -kGapRounding_m) {
      return false;
    }
  }
  return true;
}

std::optional<std::vector<StageShape>> DenseRun::solve(const TrueRun& before, int last, const TrueRun* then,
                                                       int from) const {
  std::vector<StageShape> shapes;
  Zeros zeros{};
  for (int stage = 0; stage <= last; ++stage) {
    const TrueRun& truth = then != nullptr && stage >= from ? *then : before;
    lock(truth, stage, shapes, zeros);
    const std::uint32_t listed = run_.stages[std::size_t(stage)].supports;
    std::uint32_t one_way = 0;
    for (int i = 0; i < int(run_.supports.size()); ++i)
      if (((listed >> i) & 1u) != 0 && run_.supports[std::size_t(i)].one_way()) one_way |= 1u << i;

    // Every subset of the one-way supports, all first.
    std::vector<StageShape> found;
    for (std::uint32_t bearing = one_way;; bearing = (bearing - 1) & one_way) {
      if (const std::uint32_t engaged = (listed & ~one_way) | bearing; holds(engaged)) {
        StageShape tried = shape(truth, stage, zeros, engaged);
        bool fresh = is_equilibrium(tried, listed, zeros);
        for (const StageShape& known : found)
          fresh = fresh && ((known.bend - tried.bend).cwiseAbs().maxCoeff() > kSameShape_m ||
                            (known.twist - tried.twist).cwiseAbs().maxCoeff() > kSameShape_m);
        if (fresh) found.push_back(std::move(tried));
      }
      if (bearing == 0) break;
    }
    if (found.empty()) return std::nullopt;
    const int equilibria = int(found.size());
    shapes.push_back(std::move(found[truth.which % std::uint32_t(equilibria)]));
    shapes.back().equilibria = equilibria;
  }
  return shapes;
}

double DenseRun::height(const StageShape& shape, double x_m, double across_m) const {
  const double x = std::clamp(x_m, 0.0, run_.length_m);
  const int e = std::clamp(node_at(x) - 1, 0, int(nodes_m_.size()) - 2);
  const double from = nodes_m_[std::size_t(e)], h = nodes_m_[std::size_t(e) + 1] - from;
  const auto by = bend_shape((x - from) / h, h, shear_number(flex_[std::size_t(e)], h));
  const double arm = across_m - run_.shear_centre_m;
  double z = arm == 0 ? 0 : roll(shape, x) * arm;
  for (int k = 0; k < 4; ++k) z += by[std::size_t(k)] * shape.bend(2 * e + k);
  for (int k = 0; k < run_.bows; ++k) z += shape.bow_m[std::size_t(k)] * bow_height(x, run_.length_m, k);
  return z;
}

double DenseRun::roll(const StageShape& shape, double x_m) const {
  const double x = std::clamp(x_m, 0.0, run_.length_m);
  const int e = std::clamp(node_at(x) - 1, 0, int(nodes_m_.size()) - 2);
  const double h = nodes_m_[std::size_t(e) + 1] - nodes_m_[std::size_t(e)];
  const double xi = (x - nodes_m_[std::size_t(e)]) / h;
  if (!(flex_[std::size_t(e)][3] > 0)) return (1 - xi) * shape.twist(2 * e) + xi * shape.twist(2 * e + 2);
  const auto by = bend_shape(xi, h, 0);
  double roll = 0;
  for (int k = 0; k < 4; ++k) roll += by[std::size_t(k)] * shape.twist(2 * e + k);
  return roll;
}

std::optional<double> DenseRun::flexibility(std::uint32_t engaged, int support, Motion motion) const {
  // The run without loads, that support moved by an offset on a spring of compliance c: reaction = offset / (c + flexibility).
  const auto reaction = [&](double added) {
    TrueRun truth;
    for (int l = 0; l < run_.loads; ++l) truth.state.load_factor[l] = 0;
    truth.added_compliance[support][motion] = added;
    Zeros zeros{};
    zeros.motion[std::size_t(support)][motion] = 1;
    return shape(truth, 0, zeros, engaged).reaction[std::size_t(support)][motion];
  };
  if (!holds(engaged)) return std::nullopt;
  const TrueRun plain;
  const double stiff = reaction(0);
  const double scale = (motion == Motion::rise ? std::pow(run_.length_m, 3) : run_.length_m) /
                       (motion == Motion::roll ? flex_.front()[2] : flex_.front()[0]);
  if (!(stiff * scale > 1e-6)) return std::nullopt;  // a mechanism without it
  return 1 / stiff - compliance(plain, support, motion);
}

double level_error(const DenseRun& run, const StageShape& shape, std::span<const double> stations_m,
                   double width_m, std::optional<double> target_m) {
  double low = std::numeric_limits<double>::infinity(), high = -low;
  for (const double x : stations_m)
    for (const double across : {width_m / 2, -width_m / 2}) {
      const double z = run.height(shape, x, across);
      low = std::min(low, z);
      high = std::max(high, z);
    }
  return target_m ? 2 * std::max(std::abs(high - *target_m), std::abs(low - *target_m)) : high - low;
}

}  // namespace hangtrue::hold_trials
