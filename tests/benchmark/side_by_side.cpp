#include "tests/benchmark/side_by_side.hpp"

#include <time.h>

#include <algorithm>
#include <cstddef>
#include <cstdio>

namespace hangtrue::bench {

namespace {

double thread_seconds() {
  timespec now{};
  ::clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return double(now.tv_sec) + 1e-9 * double(now.tv_nsec);
}

}  // namespace

double seconds_for(const std::function<void()>& work, int calls) {
  const double begin = thread_seconds();
  for (int i = 0; i < calls; ++i) work();
  return thread_seconds() - begin;
}

namespace {

/// Calls that fill about 4 ms.
int calls_a_turn(const std::function<void()>& work) {
  constexpr double kTurn_s = 4e-3;
  int calls = 1;
  for (double taken = seconds_for(work, 1); taken < kTurn_s; taken = seconds_for(work, calls)) calls *= 2;
  return calls;
}

}  // namespace

double median(std::vector<double> values) {
  const auto middle = values.begin() + std::ptrdiff_t(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

Times side_by_side_self_timed(const std::function<double()>& ours, const std::function<double()>& other,
                              int turns) {
  std::vector<double> ours_s, other_s, ratios;
  for (int turn = 0; turn < turns; ++turn) {
    // Who goes first takes turns as well.
    if (turn % 2 == 0) ours_s.push_back(ours());
    other_s.push_back(other());
    if (turn % 2 == 1) ours_s.push_back(ours());
    ratios.push_back(other_s.back() / ours_s.back());
  }
  return {median(ours_s), median(other_s), median(ratios)};
}

Times side_by_side(const std::function<void()>& ours, const std::function<void()>& other, int turns) {
  const int ours_calls = calls_a_turn(ours), other_calls = calls_a_turn(other);
  return side_by_side_self_timed([&] { return seconds_for(ours, ours_calls) / ours_calls; },
                                 [&] { return seconds_for(other, other_calls) / other_calls; }, turns);
}

std::string show_time(double seconds) {
  const char* unit = "s";
  double value = seconds;
  for (const char* smaller : {"ms", "us", "ns"}) {
    if (value >= 1) break;
    value *= 1e3;
    unit = smaller;
  }
  char text[32];
  std::snprintf(text, sizeof text, "%.3g %s", value, unit);
  return text;
}

std::string show_ratio(double ratio) {
  char text[32];
  std::snprintf(text, sizeof text, ratio >= 1000 ? "%.0f" : "%.3g", ratio);
  return text;
}

std::string show_errors(double ours, double other) {
  char text[64];
  std::snprintf(text, sizeof text, "%.0e / %.0e", ours, other);
  return text;
}

void print_heading(const std::string& title, const std::vector<std::string>& includes) {
  std::printf("\n%s\n", title.c_str());
  for (const std::string& line : includes) std::printf("  %s\n", line.c_str());
  std::printf("  %-40s %9s %9s %7s  %-15s %s\n", "what", "ours", "other", "ratio", "error", "aim");
}

void print_row(const Row& row) {
  const char* const verdict = row.aim == Aim::met ? ": met" : row.aim == Aim::missed ? ": missed" : "";
  std::printf("  %-40s %9s %9s %7s  %-15s %s%s\n", row.what.c_str(), row.ours.c_str(), row.other.c_str(),
              row.ratio.c_str(), row.error.c_str(), row.aim_text.c_str(), verdict);
  std::fflush(stdout);
}

}  // namespace hangtrue::bench
