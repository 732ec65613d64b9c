// run_draft.hpp: a run sheet as far as it has been read. For the readers of its parts only, a file each.
//
// Each reader takes its keys out of the sheet and complains of what is wrong with them; what it can read goes into the draft.
// Order: materials, stocks, members, own weights, loads, supports, stages, the rest, and in the end the pieces of the run.
#pragma once

#include <limits>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "firmware-host/sheet/run_sheet.hpp"
#include "firmware-host/sheet/walk.hpp"

namespace hangtrue::sheet {

using enum Need;

struct Material {
  double E_Pa = 0, G_Pa = 0, density_kg_per_m3 = 0, creep = 0;
  std::optional<double> expansion_per_K;
};

/// A member as the sheet has it, with what it gives to stiffness.
struct Member {
  MemberEntry entry;
  const Material* material = nullptr;
  bool placed = false;  // from and to are known
  bool given = false;
  double bending_N_m2 = 0, torsion_N_m2 = 0, shear_N = std::numeric_limits<double>::infinity();
  double area_m2 = 0, second_moment_m4 = 0;
  double warping_N_m4 = 0;  // its own E Iw
  double weight_N_per_m = 0, weight_sigma = 0, across_m = 0;
  double shear_centre_m = 0;  // from its centre, to the left positive

  /// Where its own axis of bending lies across.
  [[nodiscard]] double axis_m() const { return across_m + shear_centre_m; }
  [[nodiscard]] double creep() const { return material != nullptr ? material->creep : 0.0; }
  [[nodiscard]] bool brings_load() const { return weight_N_per_m > 0 && placed; }
};

/// A difference in temperature through the depth; its curvature follows once all members are known.
struct Warmth {
  int load;
  double from_m, to_m, warmer_below_K;
  std::optional<double> depth_m;
};

struct RunDraft {
  Sink sink;
  RunSheet sheet;
  std::optional<double> length_m;
  std::string length_typed;  // as the sheet has it: "11 ft 4 in"
  std::map<std::string, Material> materials;
  std::vector<Member> members;
  std::vector<Warmth> warmths;
  std::map<std::string, int> load_names, support_names, stage_names;  // the line of each
};

/// A place on the run, snapped to its ends.
[[nodiscard]] std::optional<double> read_place(const RunDraft& draft, Walk& table, std::string_view key);
/// From and to.
[[nodiscard]] std::optional<std::pair<double, double>> read_stretch(const RunDraft& draft, Walk& table);
/// A name that no other of its sort has; empty where it is missing (already complained of).
[[nodiscard]] std::string read_name(Walk& table, std::map<std::string, int>& taken, const char* expected);
[[nodiscard]] double read_relative_sigma(Walk& table, std::string_view key, double otherwise);

void read_materials(RunDraft& draft, Walk& top);
/// The section and the material of a member.
void read_section(const RunDraft& draft, Walk& table, Member& member);
void read_member(RunDraft& draft, Walk& table);
void add_own_weights(RunDraft& draft);
void read_load(RunDraft& draft, Walk& table);
void read_stocks(RunDraft& draft, Walk& top);
void read_support(RunDraft& draft, Walk& table);
void read_stage(RunDraft& draft, Walk& table);
void read_tolerance(RunDraft& draft, Walk& top);
void read_stations(RunDraft& draft, Walk& top);
void read_mark(RunDraft& draft, Walk& table);
/// Stiffness and warmth over each stretch, once the whole sheet is read.
void build_pieces(RunDraft& draft, Walk& top);

}  // namespace hangtrue::sheet
