// The beam solver beside LAPACK's banded Cholesky solver on the equivalent stiffness system.
#include <dlfcn.h>
#include <lapack.h>

#include <benchmark/benchmark.h>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <vector>

#include "core/beam/solver.hpp"
#include "tests/benchmark/side_by_side.hpp"

namespace hangtrue::bench {

namespace {

// An invented simple beam: two rigid supports at the ends, one uniform load.
template <class Scalar>
struct SimpleBeam {
  static constexpr Scalar kLength_m = 4, kBending_N_m2 = 50'000, kTorsion_N_m2 = 20'000,
                          kWeight_N_per_m = 600;

  /// Mid-span: 5 w L^4 / (384 EI), down. S. P. Timoshenko, Strength of Materials, Part I (from memory).
  static double exact_m() {
    return -5.0 * kWeight_N_per_m * std::pow(double(kLength_m), 4) / (384.0 * kBending_N_m2);
  }
  static double error(Scalar middle_m) { return std::abs(double(middle_m) / exact_m() - 1); }
};

template <class Scalar>
class Ours {
  using Beam = SimpleBeam<Scalar>;

 public:
  explicit Ours(int pieces) : pieces_(std::size_t(pieces)), heights_(std::size_t(pieces) + 1) {
    for (int i = 0; i < pieces; ++i)
      pieces_[std::size_t(i)] = {
          .to_m = i + 1 == pieces ? Beam::kLength_m : Beam::kLength_m * Scalar(i + 1) / Scalar(pieces),
          .bending_N_m2 = Beam::kBending_N_m2,
          .torsion_N_m2 = Beam::kTorsion_N_m2};
    supports_[0].rise.held = supports_[0].roll.held = true;
    supports_[1].at_m = Beam::kLength_m;
    supports_[1].rise.held = true;
    load_ = {.load = 0,
             .kind = beam::LoadKind::spread,
             .from_m = 0,
             .to_m = Beam::kLength_m,
             .begin = Beam::kWeight_N_per_m,
             .end = Beam::kWeight_N_per_m};
    run_ = {.length_m = Beam::kLength_m,
            .pieces = pieces_,
            .load_parts = {&load_, 1},
            .loads = 1,
            .supports = supports_,
            .stages = {&stage_, 1}};
    storage_.resize(beam::Solver<Scalar>::storage_needed(run_, 0));
  }

  /// Good: the run above has no fault.
  Result<beam::Solver<Scalar>, beam::RunFault> create() {
    return beam::Solver<Scalar>::create(run_, 0, storage_);
  }
  void solve(beam::Solver<Scalar>& solver) {
    if (!solver.solve(state_)) std::abort();
    benchmark::ClobberMemory();
  }
  void heights(const beam::Solver<Scalar>& solver) {
    solver.node_heights(0, heights_);
    benchmark::ClobberMemory();
  }
  void all() {
    auto solver = create();
    solve(solver.value());
    heights(solver.value());
  }
  [[nodiscard]] Scalar middle_m() const { return heights_[heights_.size() / 2]; }

 private:
  std::vector<beam::Piece<Scalar>> pieces_;
  beam::LoadPart<Scalar> load_;
  beam::Support<Scalar> supports_[2];
  beam::Stage stage_{.supports = 0b11, .loads = 0b1};
  beam::Run<Scalar> run_;
  beam::State<Scalar> state_;
  std::vector<Scalar> storage_, heights_;
};

/// Lower band of four rows, one right side; false where the factorisation breaks down. Band and right side are overwritten.
bool solve_banded(lapack_int size, double* band, double* right) {
  const lapack_int below = 3, sides = 1, rows = 4;
  lapack_int info = 0;
  LAPACK_dpbsv("L", &size, &below, &sides, band, &rows, right, &size, &info);
  return info == 0;
}
bool solve_banded(lapack_int size, float* band, float* right) {
  const lapack_int below = 3, sides = 1, rows = 4;
  lapack_int info = 0;
  LAPACK_spbsv("L", &size, &below, &sides, band, &rows, right, &size, &info);
  return info == 0;
}

// Height and slope a node, exact (cubic) elements with consistent loads, the two held heights left out.
// J. S. Przemieniecki, Theory of Matrix Structural Analysis (element stiffness; from memory).
template <class Scalar>
class Stiffness {
  using Beam = SimpleBeam<Scalar>;

 public:
  explicit Stiffness(int elements)
      : elements_(elements), size_(2 * elements), band_(4 * std::size_t(size_)), right_(std::size_t(size_)) {
    for (int i = 0; i < elements; ++i) {
      length_m_.push_back(Beam::kLength_m / Scalar(elements));
      bending_N_m2_.push_back(Beam::kBending_N_m2);
    }
  }

  void all() {
    std::fill(band_.begin(), band_.end(), Scalar(0));
    std::fill(right_.begin(), right_.end(), Scalar(0));
    // The first two and the last two elements meet the held heights; those between need no looking.
    add_element(0, {-1, 0, row_of_height(1), row_of_height(1) + 1});
    for (int e = 1; e + 1 < elements_; ++e) {
      const int row = row_of_height(e);
      add_element(e, {row, row + 1, row + 2, row + 3});
    }
    const int row = row_of_height(elements_ - 1);
    add_element(elements_ - 1, {row, row + 1, -1, row + 2});
    if (!solve_banded(size_, band_.data(), right_.data()))
      std::fill(right_.begin(), right_.end(), Scalar(NAN));
    benchmark::ClobberMemory();
  }
  [[nodiscard]] Scalar middle_m() const { return right_[std::size_t(row_of_height(elements_ / 2))]; }

 private:
  struct Rows {
    int of[4];
  };
  [[nodiscard]] int row_of_height(int node) const { return 2 * node - 1; }

  void add_element(int e, const Rows& rows) {
    const Scalar h = length_m_[std::size_t(e)], k = bending_N_m2_[std::size_t(e)] / (h * h * h);
    const Scalar entry[4][4] = {{12 * k, 0, 0, 0},
                                {6 * h * k, 4 * h * h * k, 0, 0},
                                {-12 * k, -6 * h * k, 12 * k, 0},
                                {6 * h * k, 2 * h * h * k, -6 * h * k, 4 * h * h * k}};
    const Scalar q = -Beam::kWeight_N_per_m;
    const Scalar load[4] = {q * h / 2, q * h * h / 12, q * h / 2, -q * h * h / 12};
    for (int j = 0; j < 4; ++j) {
      if (rows.of[j] < 0) continue;
      right_[std::size_t(rows.of[j])] += load[j];
      for (int i = j; i < 4; ++i)
        if (rows.of[i] >= 0) band_[std::size_t(4 * rows.of[j] + rows.of[i] - rows.of[j])] += entry[i][j];
    }
  }

  int elements_, size_;
  std::vector<Scalar> length_m_, bending_N_m2_;
  std::vector<Scalar> band_, right_;  // column by column: diagonal and three below
};

std::string count(int pieces) {
  std::string text = std::to_string(pieces);
  if (pieces >= 1000) text.insert(text.size() - 3, ",");
  return text + " pieces";
}

template <class Scalar>
void compare_all(int pieces, const std::string& precision, double allowed) {
  Ours<Scalar> ours(pieces);
  Stiffness<Scalar> stiffness(pieces);
  const Times times = side_by_side([&] { ours.all(); }, [&] { stiffness.all(); });
  const double error = SimpleBeam<Scalar>::error(ours.middle_m());
  char aim[64];
  std::snprintf(aim, sizeof aim, "ratio >= 1, error <= %.0e", allowed);
  print_row({count(pieces) + precision + ": all", show_time(times.ours_s), show_time(times.other_s),
             show_ratio(times.ratio), show_errors(error, SimpleBeam<Scalar>::error(stiffness.middle_m())),
             aim, aim_if(times.ratio >= 1 && error <= allowed)});
}

void compare_again(int pieces) {
  Ours<double> ours(pieces);
  Stiffness<double> stiffness(pieces);
  auto created = ours.create();
  beam::Solver<double>& solver = created.value();
  const Times alone = side_by_side([&] { ours.solve(solver); }, [&] { stiffness.all(); });
  print_row({count(pieces) + ": solve() again", show_time(alone.ours_s), show_time(alone.other_s),
             show_ratio(alone.ratio), "", "", Aim::none});
  const Times heights = side_by_side(
      [&] {
        ours.solve(solver);
        ours.heights(solver);
      },
      [&] { stiffness.all(); });
  print_row({count(pieces) + ": solve() again, heights", show_time(heights.ours_s),
             show_time(heights.other_s), show_ratio(heights.ratio), "", "", Aim::none});
}

}  // namespace

void beam() {
  Dl_info library{};
  void* const dpbsv = dlsym(RTLD_DEFAULT, "dpbsv_");
  const bool known = dpbsv != nullptr && dladdr(dpbsv, &library) != 0;
  print_heading(
      "Beam: ours, and LAPACK's dpbsv on the equivalent stiffness system",
      {"Simple beam under a uniform load. Error: mid-span against 5 w L^4 / (384 EI), ours / LAPACK's.",
       "All, ours: create (checks, integrates), solve, height at every node; torsion is solved as well.",
       "All, LAPACK's: assembling band and right side from the elements, dpbsv (spbsv); heights come with "
       "it.",
       "Again: a changed state, without create(); LAPACK's must assemble and factor anew.",
       std::string("LAPACK: ") + (known ? library.dli_fname : "unknown")});
  for (const int pieces : {10, 100, 1'000, 10'000}) compare_all<double>(pieces, "", 1e-9);
  compare_all<float>(50, ", single", 1e-5);
  compare_again(100);
  compare_again(1'000);
}

}  // namespace hangtrue::bench
