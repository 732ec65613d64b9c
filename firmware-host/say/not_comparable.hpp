// not_comparable.hpp: why two surveys cannot be compared, in words.
#pragma once

#include <string>

#include "firmware-host/job/not_comparable.hpp"
#include "firmware-host/sheet/complaint.hpp"

namespace hangtrue::say {

/// What stands in the way of a comparison, and what would be right.
[[nodiscard]] sheet::Complaint not_comparable(const job::NotComparable& fault, sheet::Show show);
/// The same as one plain sentence.
[[nodiscard]] std::string not_comparable_words(const job::NotComparable& fault, sheet::Show show);

/// Whose run sheet the later of two is: "of survey 3", or "given (shelf.toml)" where it is no survey's own; and the earlier.
[[nodiscard]] std::string later_sheet(const std::string& later, const std::string& given, sheet::Show show);
[[nodiscard]] std::string earlier_sheet(const std::string& earlier, const std::string& later,
                                        const std::string& given, sheet::Show show);

}  // namespace hangtrue::say
