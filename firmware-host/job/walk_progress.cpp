#include "firmware-host/job/walk_progress.hpp"

#include <algorithm>
#include <cmath>
#include <variant>
#include <vector>

namespace hangtrue::job {
namespace {

/// Takes the readings that a stop wants out of those that are left; false where some are missing.
bool take_out(const PlanStop& stop, std::vector<const sheet::ReadingEntry*>& left) {
  const auto wanted = [&](Channel channel, int face) {
    return std::find_if(left.begin(), left.end(), [&](const sheet::ReadingEntry* each) {
      return each->instrument == stop.instrument && each->channel == channel && each->mark == stop.mark &&
             (face == 0 || each->face == face) && std::abs(each->at_m - stop.at_m) <= kSamePlace_m &&
             (!stop.mark.empty() || each->edge == stop.edge);
    });
  };
  bool all = true;
  for (int time = 0; time < stop.times; ++time)
    for (const Channel channel : stop.channels)
      for (const int face : stop.both_faces ? std::vector<int>{1, -1} : std::vector<int>{0}) {
        const auto found = wanted(channel, face);
        if (found == left.end())
          all = false;
        else
          left.erase(found);
      }
  return all;
}

}  // namespace

WalkProgress walk_progress(const Plan& plan, std::span<const sheet::ReadingEntry> kept) {
  std::vector<const sheet::ReadingEntry*> left;
  for (const sheet::ReadingEntry& each : kept) left.push_back(&each);
  WalkProgress progress;
  for (const std::vector<PlanStop>* part : {&plan.walk, &plan.closing})
    for (const PlanStop& stop : *part) {
      if (stop.stays) continue;
      ++progress.stops;
      if (take_out(stop, left))
        ++progress.read;
      else if (!progress.next)
        progress.next = stop;
    }
  return progress;
}

bool enough_read(const FitReport& report, const Card& card) {
  return report.self_test.degrees_of_freedom > 0 &&
         std::none_of(card.doubts.begin(), card.doubts.end(),
                      [](const Doubt& doubt) { return std::holds_alternative<ReadingsUnchecked>(doubt); });
}

}  // namespace hangtrue::job
