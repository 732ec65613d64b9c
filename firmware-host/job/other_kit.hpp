// other_kit.hpp: readings of a level book, taken as another kit sheet says that they are.
//
// Booked   a reading is in the book in SI, made of what the instrument sent by the kit sheet of its survey.
// Other    where a kit sheet is given in its place, sigma, sign, register scale and feet of each channel are that one's: sigma and
//          value by the ratio of the two, the feet as they are. Nothing else of a reading follows from a kit sheet.
// Refused  a channel that the given sheet does not have, or has in another unit: its readings have no meaning by it.
#pragma once

#include <string>
#include <variant>
#include <vector>

#include "firmware-host/job/unknown_id.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/readings.hpp"

namespace hangtrue::job {

/// What the given kit sheet says of a channel that the book's says otherwise.
struct KitDiffers {
  enum class In { sigma, sign, scale, feet };
  ChannelId channel;
  In in{};
  double was = 0, is = 0;  // SI
  friend bool operator==(const KitDiffers&, const KitDiffers&) = default;
};
/// Why it cannot stand in the place of the book's.
struct KitCannot {
  std::string file;  // the given sheet
  ChannelId channel;
  std::string was_unit, is_unit;  // both empty: it has no such channel
};
using KitComparison = std::variant<std::vector<KitDiffers>, KitCannot>;

/// Of the channels that these readings are of.
[[nodiscard]] KitComparison compare_kits(const std::vector<sheet::ReadingEntry>& entries,
                                         const sheet::KitSheet& booked, const sheet::KitSheet& given);
/// The reading by the given sheet; as it is where either has no such channel.
void read_by(const sheet::KitSheet& booked, const sheet::KitSheet& given, sheet::ReadingEntry& entry);

}  // namespace hangtrue::job
