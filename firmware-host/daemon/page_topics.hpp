// page_topics.hpp: what the page is told (firmware-host/page/messages.hpp), from what the daemon knows. Pure.
//
// Units   SI in, SI for drawing and words in site units out. Heights of `run` are less their mean over the stations.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include <nlohmann/json_fwd.hpp>

#include "firmware-host/book/book.hpp"
#include "firmware-host/daemon/instrument_line.hpp"
#include "firmware-host/job/recheck.hpp"
#include "firmware-host/job/survey_session.hpp"
#include "firmware-host/page/messages.hpp"

namespace hangtrue::daemon {

[[nodiscard]] page::Job job_topic(const sheet::RunSheet& run, std::string_view build);

/// Number of the station there, from 1; none where there is none.
[[nodiscard]] std::optional<int> station_number(const sheet::RunSheet& run, double at_m);

[[nodiscard]] std::optional<page::Advice> advice(const sheet::RunSheet& run, const job::FitReport& report);

[[nodiscard]] page::LiveInstrument live_instrument(const InstrumentLine& instrument,
                                                   const InstrumentState& state, std::int64_t now_us,
                                                   sheet::Show show);

/// `fitted`: what those that are kept were fitted to, in order, or nullptr. A take: entries without a gap.
[[nodiscard]] page::Readings readings_topic(const sheet::RunSheet& run,
                                            std::span<const book::BookedReading> booked,
                                            const job::FitReport* fitted);

/// `predicted`: the fit to nothing but the sheet. `kept`: the readings behind `report`, in order, with their entries.
struct KeptReading {
  book::Number entry = 0;
  const sheet::ReadingEntry* reading = nullptr;
};
[[nodiscard]] page::Run run_topic(const sheet::RunSheet& run, const job::FitReport& predicted,
                                  const job::FitReport& report, const job::Card& card,
                                  std::span<const KeptReading> kept,
                                  const std::vector<std::string>& warnings);

/// `shims`: as shims_json() makes them, of now or of a card in the book. `made`: orders of moves that were made. A card that
/// is not whole (stored_card.hpp) has no moves and no answer, and says so as its reason.
[[nodiscard]] page::Card card_topic(const sheet::RunSheet& run, const nlohmann::ordered_json& shims,
                                    std::int64_t entry, std::span<const int> made);

/// What a card promised, all its moves made, against what is found now; none where either is no number, or where the card is
/// not whole.
[[nodiscard]] std::optional<page::Compared> compared(const sheet::RunSheet& run, const std::string& survey,
                                                     const nlohmann::ordered_json& promised,
                                                     const job::Card& found);

/// This survey against an earlier one.
[[nodiscard]] page::Recheck recheck_topic(const sheet::RunSheet& run, const job::Recheck& recheck);

/// Of one instrument, with the last check of each of its channels.
[[nodiscard]] page::KitInstrument kit_instrument(const sheet::KitInstrument& kit,
                                                 std::span<const book::NumberedEntry> checks,
                                                 const sheet::RunSheet& run);

}  // namespace hangtrue::daemon
