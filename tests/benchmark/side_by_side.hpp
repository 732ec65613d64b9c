// side_by_side.hpp: times two ways to the same answer in one run, and prints them as one row of a table.
//
// Method  Both ways take turns, each as many times in a row as fill a few milliseconds; every turn gives a ratio of
//         times, and the median of the ratios counts. So a machine that is slow for a while is slow for both.
// Ratio   other's time over ours: above 1 ours is the faster.
// Time    of the calling thread on its processor, so that what else runs on the machine is not counted; where a way
//         measures itself, what it says.
// Thread  one; where a row needs another (to write what is read), it says so.
#pragma once

#include <functional>
#include <string>
#include <vector>

namespace hangtrue::bench {

struct Times {
  double ours_s, other_s;  // medians, of one call
  double ratio;            // median of other / ours
};

/// Seconds that one call takes, from `turns` turns of each. Both are called once before, untimed.
[[nodiscard]] Times side_by_side(const std::function<void()>& ours, const std::function<void()>& other,
                                 int turns = 21);

/// The same where each way measures itself: they return seconds.
[[nodiscard]] Times side_by_side_self_timed(const std::function<double()>& ours,
                                            const std::function<double()>& other, int turns);

/// Processor time of so many calls.
[[nodiscard]] double seconds_for(const std::function<void()>& work, int calls = 1);
[[nodiscard]] double median(std::vector<double> values);

enum class Aim { none, met, missed };
[[nodiscard]] inline Aim aim_if(bool met) { return met ? Aim::met : Aim::missed; }

struct Row {
  std::string what, ours, other, ratio, error, aim_text;
  Aim aim = Aim::none;
};

void print_heading(const std::string& title, const std::vector<std::string>& includes);
void print_row(const Row& row);

/// "1.23 us": three digits and the fitting unit.
[[nodiscard]] std::string show_time(double seconds);
/// "0.874", "12.3", "1290"
[[nodiscard]] std::string show_ratio(double ratio);
/// "3e-14 / 2e-06", ours first
[[nodiscard]] std::string show_errors(double ours, double other);

// The rooms' tables; each prints itself.
void beam();
void filter();
void shim_search();
void decoding();
void level_book();
void daemon();

}  // namespace hangtrue::bench
