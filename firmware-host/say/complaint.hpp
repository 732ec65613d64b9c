// complaint.hpp: a fault of job in the words and names of the sheets.
#pragma once

#include "firmware-host/job/fault.hpp"
#include "firmware-host/sheet/complaint.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::say {

/// File, key, what was found and what would be right: "shelf.toml: stage \"hung\": found nothing that holds the run up ...".
/// `run`: the sheet that the work went by. Of a sheet that cannot be read: the first of its complaints.
[[nodiscard]] sheet::Complaint complaint(const sheet::RunSheet& run, const job::Fault& fault);
/// The same as one text in the language of `run`: in another than English a plain sentence, which leaves file and key to the terminal.
[[nodiscard]] std::string complaint_words(const sheet::RunSheet& run, const job::Fault& fault);

}  // namespace hangtrue::say
