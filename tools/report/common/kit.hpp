// kit.hpp: the instruments of a survey, their calibration, the checks that count and what is amiss.
#pragma once

#include <string>

#include "tools/report/common/papers.hpp"
#include "tools/report/layout/document.hpp"

namespace hangtrue::report {

/// "K1", "K2", ...; the name itself where the kit does not have it.
[[nodiscard]] std::string instrument_mark(const sheet::KitSheet* kit, const std::string& name);

void add_kit(Document& document, const sheet::RunSheet& run, const Papers& papers, const Record& record,
             bool with_warnings = true);

}  // namespace hangtrue::report
