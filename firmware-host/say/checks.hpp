// checks.hpp: the checks of the instruments in words: what to do next, why not, what was found, what is warned of.
// Site units as the sheet asks.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "firmware-host/job/checks.hpp"
#include "firmware-host/job/commissioning.hpp"
#include "firmware-host/job/scale_check.hpp"
#include "firmware-host/job/scale_guide.hpp"
#include "firmware-host/sheet/format.hpp"

namespace hangtrue::say {

/// One sentence or two, with the instrument's name in front.
[[nodiscard]] std::string warning(const job::Warning& warning, sheet::Show show);
[[nodiscard]] std::vector<std::string> warnings(const std::vector<job::Warning>& warnings, sheet::Show show);

/// The next thing to do, or that all readings are taken.
[[nodiscard]] std::string instruction(const job::ZeroCheckGuide& guide, sheet::Show show);
[[nodiscard]] std::string instruction(const job::DatumCheckGuide& guide, sheet::Show show);
[[nodiscard]] std::string instruction(const job::ScaleCheckGuide& guide, sheet::Show show);

/// Why that instrument's check cannot begin, or took nothing.
[[nodiscard]] std::string refusal(const job::CheckRefusal& refusal, const std::string& instrument,
                                  sheet::Show show);

/// What a check of that instrument found, a sentence or two each.
[[nodiscard]] std::vector<std::string> findings(const std::vector<job::CheckFinding>& findings,
                                                const std::string& instrument, sheet::Show show);

/// "slope scale 1.002 +- 0.005", and what that means.
[[nodiscard]] std::string scale_found(const book::ScaleCheck& check, sheet::Show show = {});

}  // namespace hangtrue::say
