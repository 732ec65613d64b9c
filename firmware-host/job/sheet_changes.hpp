// sheet_changes.hpp: what differs between two run sheets of one run, and whether it stands in the way of comparing readings taken
// by the earlier sheet with readings taken by the later one. In words: say/sheet_changes.hpp.
//
// Matters      what a reading should be at a stage of the earlier sheet: length, width, stiffness of members, places, springs and
//              holding of supports, loads, stages, places of marks, a mark that is gone. A load or support that no stage of the
//              earlier sheet lists, then or now, does not matter; nor does a stage added after all others, since readings from
//              before it are read alike by both sheets.
// Does not     stations, tolerance, priors, bow shapes, stock, ways to adjust, ratings, creep and lasting shares (they change
//              what is expected later, not what is read), material names, title, units shown, the order of entries.
// Numbers      are equal within kSameNumber of their size, places within kSameSheetPlace_m: "1 m" is "1000 mm". Entries go by name.
// Order        those that matter first, else as a sheet is written.
// Limits       A caller that finds nothing that matters reads both surveys by one sheet, the later: indices of the two may differ.
#pragma once

#include <cstdint>
#include <string>
#include <variant>
#include <vector>

#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::job {

/// The entry of the sheet that differs.
enum class EntryOf : std::uint8_t {
  run,
  tolerance,
  prior,
  member,
  stretch,  // of members over `from_m` to `to_m`: what their entries do not explain
  load,
  support,
  stage,
  mark,
  stock
};
struct SheetEntry {
  EntryOf of{};
  std::string name;  // of a member, load, support, stage, mark or stock
  double from_m = 0, to_m = 0;
};

/// What of it differs. The unit follows from it: m, rad, N, N m, N/m or N m/rad, N m2 of a stiffness, else none.
enum class Property : std::uint8_t {
  entry,  // itself: it was removed, added or listed elsewhere; of a stage, what it lists
  // of the run
  title,
  units,
  length,
  width,
  station_count,
  station_places,
  // of the tolerance
  level,
  finished_stage,
  confidence,
  span_ratio,
  target_height,
  // of members
  bending_stiffness,
  torsion_stiffness,
  shear_stiffness,
  warping_stiffness,
  bending_creep,
  torsion_creep,
  shear_creep,
  as_one,
  centroid_height,
  material,
  depth,
  section_modulus,
  // of members, loads, supports, marks
  begin,
  end,
  place,
  place_across,
  // of loads
  sigma,
  lasting_share,
  kind,
  warmth,
  distribution,
  couple,
  weight,
  // of supports
  rise,
  pitch,
  roll,
  holds,
  warping,
  adjustment,
  rating,
  growth,
  assumed,
  // priors of the run
  bending,
  torsion,
  bow,
  bow_count,
  datum_height,
  datum_tilt,
  // of a stock
  pieces
};

struct Removed {};
struct Added {};
struct Reordered {};  // entries of one kind
struct Altered {};    // in what has no number that a reader would know it by
struct Numbers {      // SI
  double was = 0, is = 0;
};
struct Counts {
  std::size_t was = 0, is = 0;
};
struct Names {
  std::string was, is;
};
struct Units {
  sheet::Show was{}, is{};
};
struct ActsAsOne {  // with other members, rather than side by side with them
  bool now = false;
};
struct LoadKinds {
  beam::LoadKind was{}, is{};
};
struct Restraints {  // free, rigid or with a spring
  beam::Restraint<double> was, is;
};
struct PulledHome {
  bool now = false;
};
struct HoldsWays {
  beam::Holds was{}, is{};
};
struct Lists {  // a stage: a load or a support
  SheetEntry what;
  bool now = false;
};

struct SheetChange {
  SheetEntry entry;
  Property property{};
  std::variant<Removed, Added, Reordered, Altered, Numbers, Counts, Names, Units, ActsAsOne, LoadKinds,
               Restraints, PulledHome, HoldsWays, Lists>
      how;
  bool matters = false;
};

[[nodiscard]] std::vector<SheetChange> sheet_changes(const sheet::RunSheet& earlier,
                                                     const sheet::RunSheet& later);

}  // namespace hangtrue::job
