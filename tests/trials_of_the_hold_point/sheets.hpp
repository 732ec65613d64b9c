// sheets.hpp: the runs and kits of the trials, invented; as TOML, read by the project's own readers.
#pragma once

#include <string>
#include <vector>

#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::hold_trials {

struct TrialSheet {
  std::string name;
  std::string run, kit;            // TOML
  std::vector<std::string> early;  // stages at which supports are still to come
  std::string engaged;             // the stage at which every final support is engaged
};

/// Twelve.
[[nodiscard]] const std::vector<TrialSheet>& trial_sheets();

/// The sheets as read. Throws std::runtime_error with the complaints where the readers find any.
/// `scale_checked`: with or without the day of that check in every channel that is read.
[[nodiscard]] sheet::RunSheet read_run(const TrialSheet& from);
[[nodiscard]] std::string kit_text(const TrialSheet& from, bool scale_checked);
[[nodiscard]] sheet::KitSheet read_kit(const TrialSheet& from, const sheet::RunSheet& run,
                                       bool scale_checked);

}  // namespace hangtrue::hold_trials
