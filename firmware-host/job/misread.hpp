// misread.hpp: mistakes that would make the readings of a survey agree, where its fit does not hold.
//
// Model   Each mistake is undone in the readings, and the survey is fitted anew: how much likelier that makes them (Gaussian evidence)
//         is its weight, beside the others and none of them, all as likely beforehand. A factor that was estimated from the same
//         readings costs what it had to choose from.
// Axes    as in survey_fit.hpp; factors and weights are plain numbers.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "firmware-host/job/survey_fit.hpp"

namespace hangtrue::job {

enum class MisreadKind {
  other_stage,      // it was surveyed at `stage`
  never_turned,     // `channel`: its instrument was not turned round, though the faces say so
  faces_exchanged,  // `channel`: turned the other way round, or its sign is the other one
  scale,     // `channel` reads `factor` times what is there: its scale, unit or feet; below 0: its sign
  rough,     // `channel` scatters `factor` times what its kit sheet says
  all_rough  // every channel does
};
struct Misread {
  MisreadKind kind{};
  std::string stage;
  ChannelId channel;
  double factor = 1;
  double weight = 0;  // beside the others and none of them, which weighs as much as one of them beforehand
};

/// Fits the survey anew with these readings, at that stage, all else as it was.
using FitAnew = std::function<std::unique_ptr<SurveyFit>(const std::vector<sheet::ReadingEntry>&, int stage)>;

/// The likeliest first; those that are not kAsLikely at least are left out. `session` is the fit that does not hold, of `entries`.
[[nodiscard]] std::vector<Misread> likely_misreadings(const sheet::RunSheet& run, SurveyFit& session,
                                                      const std::vector<sheet::ReadingEntry>& entries,
                                                      const FitAnew& anew);

}  // namespace hangtrue::job
