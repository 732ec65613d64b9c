// readings.hpp: the readings CSV (RFC 4180): time,set_up,instrument,channel,at,face,edge,value,unit,sigma.
//
// `at` carries its own unit; `unit` is for value and for a plain sigma (mm, m, in, mm/m, in/ft, deg, rad); face and
// edge may be empty (1, middle); an empty sigma takes the kit's, and without a kit is an error. Rows count from 1 at
// the first line after the header. One more column may follow, `temperature`, with its own unit ("18.5 C", "65 F"): of the air beside
// the run at that reading; it may be empty. A distance to a stable mark of the run sheet has the mark's name in `at`, and neither face
// nor edge; a mark's name is no length, so that the two cannot be confused.
// A line "# east rod bears" or "# east rod hangs free" is a remark: what somebody found who tried that support by hand. So is
// "# start at wall bracket": the support nearest to the end where the places of this walk begin. A remark is no row.
#pragma once

#include <iosfwd>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/survey/reading.hpp"
#include "firmware-host/sheet/complaint.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"

namespace hangtrue::sheet {

struct ReadingEntry {
  std::string time, set_up, instrument;  // time as RFC 3339; may be empty
  Channel channel = Channel::slope;
  double at_m = 0;
  std::string mark;  // a distance to that stable mark, which stands at at_m; empty: on the run
  int face = 1;
  survey::Edge edge = survey::Edge::middle;
  double value = 0, sigma = 0;  // SI
  double base_m = 0;            // from the kit
  std::optional<double> temperature_C;
};

/// The readings of one survey with the names that the core's indices stand for.
struct Survey {
  std::vector<ReadingEntry> entries;  // row i is entries[i - 1]
  std::vector<std::string> set_ups;   // names of set-ups that distances use, in order of appearance
  std::vector<std::string> zeros;     // "walking inclinometer slope", one a channel with a zero error
  std::vector<double> zero_sigmas;    // priors, SI
  std::vector<survey::Reading<double>> readings;  // same order as entries, indices into the above
};

/// What was found by hand at the survey's stage.
struct BearingRemark {
  std::string support;
  bool bears = false;  // else it hangs free
};

struct ReadingsOrComplaints {
  std::optional<std::vector<ReadingEntry>> entries;
  std::vector<Complaint> complaints;
  std::vector<BearingRemark> remarks;
  std::string starts_at;  // a support; empty: nobody said
};
/// kit may be nullptr.
[[nodiscard]] ReadingsOrComplaints read_readings(const std::string& path, const RunSheet& run,
                                                 const KitSheet* kit);
[[nodiscard]] ReadingsOrComplaints parse_readings(std::string_view text, const std::string& shown_name,
                                                  const RunSheet& run, const KitSheet* kit);

/// Zero error prior of a slope or roll channel that no kit describes: common practice, no source (a site inclinometer,
/// not checked). A distance carries none then.
inline constexpr double kUnknownZeroSigma_rad = kDefaultZeroSigma_rad;

/// Gives set-ups, zero errors and marks (those of the run sheet, in its order) their indices.
[[nodiscard]] Survey make_survey(std::vector<ReadingEntry> entries, const KitSheet* kit,
                                 std::span<const Mark> marks = {});

/// Writes the same CSV, SI units, full precision; with the column of temperatures where any reading has one.
void write_readings(std::ostream& out, const std::vector<ReadingEntry>& entries);

}  // namespace hangtrue::sheet
