// sheet_changes.hpp: what differs between two run sheets of one run, in words, and whether it stands in the way of comparing
// readings taken by the earlier sheet with readings taken by the later one.
//
// Matters      what a reading should be at a stage of the earlier sheet: length, width, stiffness of members, places, springs and
//              holding of supports, loads, stages, places of marks, a mark that is gone. A load or support that no stage of the
//              earlier sheet lists, then or now, does not; nor does a stage added after all others: what was read before it is
//              read by the later sheet alike.
// Does not     stations, tolerance, priors, bow shapes, stock, ways to adjust, ratings, creep and lasting shares (they change
//              what is expected later, not what is read), material names, title, units shown, the order of entries.
// Numbers      are equal within 1e-9 of their size, places within 1e-9 m: "1 m" is "1000 mm". Entries go by name.
// Order        those that matter first, else as a sheet is written.
// Limits       A caller that finds nothing that matters reads both surveys by one sheet, the later: indices of the two may differ.
#pragma once

#include <string>
#include <vector>

#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::job {

struct SheetChange {
  std::string
      words;  // one sentence without a full stop: "support \"east rod\": place was 3900 mm, is 3950 mm"
  bool matters = false;
};

/// In the units that the later sheet shows.
[[nodiscard]] std::vector<SheetChange> sheet_changes(const sheet::RunSheet& earlier,
                                                     const sheet::RunSheet& later);

}  // namespace hangtrue::job
