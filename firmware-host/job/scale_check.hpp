// scale_check.hpp: of which channels somebody has seen that scale, unit and sign are right.
//
// Counts    the kit sheet's own word (`scale_checked`), and the last guided check in the book that was made while the
//           channel's lines in the kit sheet were what they are now.
// Until     the channel's lines change (a check in the book), the instrument is calibrated anew, or its calibration falls due:
//           it must not be past due on the day of the last reading. Where no reading has a time the date alone counts; where
//           the kit sheet names no calibration nothing falls due.
// Failed    a guided check that failed stands against the kit sheet's word of the same day or before.
// Without   a kit sheet nobody knows of any check: every channel lacks one.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "firmware-host/job/checks.hpp"
#include "firmware-host/job/unknown_id.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/readings.hpp"

namespace hangtrue::job {

/// Hash of what the kit sheet says of a channel, `scale_checked` left out: 64 hexadecimal digits. Equal where every value is
/// equal, however it is written ("250 mm", "0.25 m").
[[nodiscard]] std::string lines_hash(const sheet::KitChannel& channel);

/// Why nothing vouches for a channel's scale, unit and sign.
enum class ScaleGap : std::uint8_t {
  no_kit_sheet,         // none is given, or it does not have this channel
  never_checked,        // neither in the kit sheet nor in the book
  failed,               // the last check found something wrong
  lines_changed,        // the channel's lines in the kit sheet are no longer those that were checked
  calibrated_since,     // the instrument was calibrated after the check
  calibration_past_due  // on the day of the last reading
};
struct UncheckedScale {
  ChannelId channel;
  ScaleGap why{};
  friend bool operator==(const UncheckedScale&, const UncheckedScale&) = default;
};

/// Of the channels that these readings use, in the order in which they appear, those whose scale, unit and sign nobody
/// checked. `kit` may be nullptr.
[[nodiscard]] std::vector<UncheckedScale> unchecked_scales(const sheet::KitSheet* kit, const Checks& checks,
                                                           std::span<const sheet::ReadingEntry> readings);
/// The same without the reasons.
[[nodiscard]] std::vector<ChannelId> channels_without_scale_check(
    const sheet::KitSheet* kit, const Checks& checks, std::span<const sheet::ReadingEntry> readings);

}  // namespace hangtrue::job
