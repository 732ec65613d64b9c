#include "firmware-host/job/other_kit.hpp"

#include <algorithm>

namespace hangtrue::job {

namespace {

double scale_of(const sheet::KitChannel& channel) { return channel.modbus ? channel.modbus->scale : 1; }

}  // namespace

KitComparison compare_kits(const std::vector<sheet::ReadingEntry>& entries, const sheet::KitSheet& booked,
                           const sheet::KitSheet& given) {
  std::vector<KitDiffers> differs;
  std::vector<ChannelId> seen;
  for (const sheet::ReadingEntry& each : entries) {
    const ChannelId id{each.instrument, each.channel};
    if (std::find(seen.begin(), seen.end(), id) != seen.end()) continue;
    seen.push_back(id);
    const sheet::KitChannel* const is = given.find(each.instrument, each.channel);
    if (is == nullptr) return KitCannot{given.file, id, "", ""};
    const sheet::KitChannel* const was = booked.find(each.instrument, each.channel);
    if (was == nullptr) continue;
    if (was->unit != is->unit) return KitCannot{given.file, id, was->unit, is->unit};
    const auto note = [&](KitDiffers::In in, double before, double now) {
      if (before != now) differs.push_back({id, in, before, now});
    };
    note(KitDiffers::In::sigma, was->sigma, is->sigma);
    note(KitDiffers::In::sign, was->sign, is->sign);
    note(KitDiffers::In::scale, scale_of(*was), scale_of(*is));
    note(KitDiffers::In::feet, was->base_m, is->base_m);
  }
  return differs;
}

void read_by(const sheet::KitSheet& booked, const sheet::KitSheet& given, sheet::ReadingEntry& entry) {
  const sheet::KitChannel* const was = booked.find(entry.instrument, entry.channel);
  const sheet::KitChannel* const is = given.find(entry.instrument, entry.channel);
  if (was == nullptr || is == nullptr) return;
  entry.value *= double(is->sign * was->sign) * (scale_of(*is) / scale_of(*was));
  if (was->sigma > 0) entry.sigma *= is->sigma / was->sigma;
  if (is->base_m != was->base_m) entry.base_m = is->base_m;
}

}  // namespace hangtrue::job
