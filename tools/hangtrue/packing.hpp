// packing.hpp: a run for an instrument node: what its own fit and its choice of shims need, as compact bytes.
//
// Same as   the fit of one survey that `fit` and `shims` make of these sheets, before any reading: its unknowns with their priors, the
//           run's mechanics, stations, what can be adjusted and with what. Of the kit only the node counts: the instrument whose
//           transducers are ALONG (slope) and ACROSS (roll).
// Not       carried: marks, distances, creep, and what rods and posts grow by. What surveys before taught is not either.
// Refusals  name what a node cannot hold, found and most (core/quantity/node_limits.hpp), all at once.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "firmware-host/node/packed_run.hpp"
#include "firmware-host/sheet/complaint.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::tools {

struct Packed {
  node::PackedRun run;
  std::vector<std::uint8_t> bytes;
  std::vector<std::string> remarks;  // what is otherwise than on the host
};
struct PackedOrComplaints {
  std::optional<Packed> packed;
  std::vector<sheet::Complaint> complaints;
};
[[nodiscard]] PackedOrComplaints pack_for_node(const sheet::RunSheet& run, const sheet::KitSheet& kit,
                                               int stage);

}  // namespace hangtrue::tools
