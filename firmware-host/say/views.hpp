// views.hpp: what people read: tables, a plain-text profile and the shim card, in site units, within 80 columns.
#pragma once

#include <string>
#include <vector>

#include "firmware-host/job/prediction.hpp"
#include "firmware-host/job/survey_session.hpp"

namespace hangtrue::say {

inline constexpr std::size_t kColumns = 80;

/// One line of a drawing: heights over places, drawn with its mark. Later curves lie over earlier ones.
struct Curve {
  char mark;
  std::string label;
  std::vector<double> at_m, height_m;
};

/// The curves seen from the side, heights exaggerated by the factor it states; supports below as letters.
[[nodiscard]] std::string profile(const sheet::RunSheet& run, const std::vector<Curve>& curves);

/// For tables: set to the right of a column; a name that may be long, cut where its column ends; a line underlined.
[[nodiscard]] std::string right_set(std::string text, std::size_t width);
[[nodiscard]] std::string column(const std::string& text, std::size_t width);
[[nodiscard]] std::string heading(const std::string& text);

/// Folds at spaces to kColumns; continued lines begin with `indent` spaces.
[[nodiscard]] std::string folded(const std::string& text, std::size_t indent = 0);

[[nodiscard]] std::string prediction_view(const sheet::RunSheet& run, const beam::Solver<double>& solver);
[[nodiscard]] std::string fit_view(const sheet::RunSheet& run, const job::FitReport& report);
[[nodiscard]] std::string card_view(const sheet::RunSheet& run, const job::FitReport& report,
                                    const job::Card& card);

/// The cautions that stand wherever a run is about to be moved or bolted, one sentence each; and as a paragraph.
[[nodiscard]] const std::vector<std::string>& caution_sentences();
[[nodiscard]] std::string cautions();

}  // namespace hangtrue::say
