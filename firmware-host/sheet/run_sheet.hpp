// run_sheet.hpp: the run sheet (TOML) and what the core makes of it.
//
// Every quantity in a sheet is a string with its unit ("4200 mm", "11 ft 4 in", "12 kN/mm"); inside, SI and radians.
// Keys as in the example of the README; all lengths along the run count from its start mark.
//
// read_run_sheet() checks everything and reports all errors at once, each with file, line, key, what was found and
// what would be right. A RunSheet that it returns is complete: indices are valid and the mechanics can be solved,
// but for what only solving shows (a stage in which nothing holds the run).
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/beam/run.hpp"
#include "firmware-host/sheet/complaint.hpp"
#include "firmware-host/sheet/format.hpp"

namespace hangtrue::sheet {

/// A straight-edge of that length, laid along one edge of the run over any stations, departs by so much at most at those between.
struct StraightEdge {
  double gap_m = 0, length_m = 0;
  friend bool operator==(const StraightEdge&, const StraightEdge&) = default;
};

struct Tolerance {
  double level_m = 0;  // level error allowed, finished; 0: the sheet names none
  int stage = 0;       // the stage that counts as finished (the last unless the sheet says otherwise)
  double confidence = 0.95;
  std::optional<double> span_ratio;  // span / sag, shown beside the sag
  std::string span_ratio_source;
  std::optional<double> target_height_m;  // level error becomes twice the largest departure from it
  std::optional<StraightEdge> per;        // beside the level
  std::optional<double>
      after_days;  // predict looks so far ahead, creep included, unless it is asked otherwise
};

struct PieceOfStock {
  double thickness_m = 0;
  int count = 0;
  std::string label;  // as the sheet wrote it: "1/16 in"
};
struct Stock {
  std::string name;
  std::vector<PieceOfStock> pieces;
  int most = 4;                     // pieces in a stack
  std::optional<double> highest_m;  // height of a stack
};

enum class AdjustBy { nothing, shims, rod, lift };
struct Adjust {
  AdjustBy by = AdjustBy::nothing;
  int stock = -1;                         // index into RunSheet::stocks (shims)
  double thread_m = 0, step_turns = 0;    // rod: rise a turn, smallest step in turns
  double step_m = 0;                      // lift: smallest step
  double rise_from_m = 0, rise_to_m = 0;  // travel, from the run as surveyed
  bool pitch = false, roll = false;       // by tapered stacks; need bolt rows
};

/// How far the bolts of a support that is bolted on later draw the run, one sigma, where the sheet does not say. Common
/// practice, no source: a plate that was set out with care, tightened over packing.
inline constexpr double kDefaultFitUp_m = 0.0005, kDefaultFitUp_rad = 0.0005;

struct SupportEntry {
  std::string name;
  Adjust adjust;
  std::optional<double> bolt_rows_along_m, bolt_rows_across_m;
  std::optional<double> rating_N;  // greatest force it may carry
  /// Sigma of its misfit when it is drawn tight: rise in m, pitch and roll in rad.
  double fit_up_sigma[3] = {kDefaultFitUp_m, kDefaultFitUp_rad, kDefaultFitUp_rad};
  // Priors: of the zero's offset, and of the natural logarithm of the factor on each spring.
  beam::Motions<double> offset_mean, offset_sigma, log_spring_sigma;
  /// How far a kelvin of warmth lifts it. What hangs from above grows downward: < 0; a post that stands on the floor grows up: > 0.
  /// 0: the sheet does not say.
  double growth_m_per_K = 0;
};

struct LoadEntry {
  std::string name;
  double sigma = 0;            // relative, prior of its factor
  double permanent_share = 1;  // the part that lasts, for creep; 0 for warmth
  double weight_N = 0;         // total, 0 for a couple or warmth
  bool is_member = false;      // a member's own weight
};

struct MemberEntry {
  std::string name;
  std::string material;  // empty for a given section that names none
  double from_m = 0, to_m = 0;
  double section_modulus_m3 = 0;  // its own, elastic, of the weaker face; 0 where unknown (given section)
  double bending_N_m2 = 0;        // its own EI
  double depth_m = 0;             // upright; 0 where unknown
  bool as_one = false;            // with the others that act as one over the same stretch
  double up_m = 0;                // of its centroid, where it acts as one
  double axis_m = 0;              // of its own shear centre, across, to the left positive
};

/// Bending stress at the outermost fibre of one member for 1 N m of the whole run's moment and for 1 N m2 of its bimoment, over
/// one stretch: rails side by side bend against one another where the run twists. Where members act as one, the farther face
/// counts. Members with a given section have none; the stress of a channel's own warping is not in it.
struct BendingStress {
  int member = 0;  // index into RunSheet::members
  double from_m = 0, to_m = 0;
  double stress_Pa_per_Nm = 0, stress_Pa_per_Nm2 = 0;
};

/// A stable mark off the run (on a wall, a column): a distance to it ties the datum of one survey to that of another.
struct Mark {
  std::string name;  // reads neither as a length nor as a station's number; no other differs in case alone
  double at_m = 0;   // along the run, beyond its ends too
};

/// Priors that the sheet may set in [prior]; the defaults stand where it does not.
struct Priors {
  double bending_sigma = 0.05, torsion_sigma = 0.10;  // relative, factors on stiffness
  double bow_sigma_m = 0.001;  // amplitude of the first bow shape; the k-th has 1/k^2 of it
  int bows = 3;
  double datum_height_sigma_m = 10.0;
  double datum_tilt_sigma = 0.0003;  // rad
};

struct RunSheet {
  std::string file, title;
  Show show = Show::metric;               // in English: what files, books and other programs get
  Language language = Language::english;  // of card, page and prints; see for_people()
  double length_m = 0, width_m = 0;
  std::vector<double> stations_m;  // in order
  Tolerance tolerance;
  Priors priors;

  std::vector<MemberEntry> members;
  std::vector<BendingStress> bending_stresses;
  std::vector<LoadEntry> loads;        // index = beam load index
  std::vector<SupportEntry> supports;  // index = beam support index
  std::vector<std::string> stages;     // names, in order
  std::vector<Stock> stocks;
  std::vector<Mark> marks;

  // The mechanics, ready for the core.
  double shear_centre_m = 0;  // of all members together, across
  std::vector<beam::Piece<double>> pieces;
  std::vector<beam::LoadPart<double>> load_parts;
  std::vector<beam::Support<double>> beam_supports;
  std::vector<beam::Stage> beam_stages;

  /// A view for the core; valid while this sheet is neither changed nor destroyed.
  [[nodiscard]] beam::Run<double> run() const;
  /// Index by name, or -1.
  [[nodiscard]] int stage(std::string_view name) const;
  [[nodiscard]] int support(std::string_view name) const;
  [[nodiscard]] int load(std::string_view name) const;
  [[nodiscard]] int mark(std::string_view name) const;
};

/// The same sheet, shown in its own language: for words that people alone read.
[[nodiscard]] RunSheet for_people(RunSheet sheet);

/// Either a sheet, or everything that is wrong with it (never both).
struct RunSheetOrComplaints {
  std::optional<RunSheet> sheet;
  std::vector<Complaint> complaints;
};
[[nodiscard]] RunSheetOrComplaints read_run_sheet(const std::string& path);
[[nodiscard]] RunSheetOrComplaints parse_run_sheet(std::string_view text, const std::string& shown_name);

}  // namespace hangtrue::sheet
