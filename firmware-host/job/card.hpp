// card.hpp: from a fit to the shim card: which moves to make now, in which order, what they do, and the hold point.
//
// Stages    what can be set (settings.hpp), choice (core/adjust/search.hpp), outcome (before and after, order of the moves,
//           hold point), advice.
// One-way   For the choice every one-way support is taken as holding both ways, so that all is linear; limits keep it
//           loaded. Outcome and troubles are solved anew with one-way supports as they are.
// Promise   Where nothing was measured, or the fit did not settle, no move is looked for.
// Units     SI, radians; signs as in core/beam/run.hpp; sigma is one standard deviation.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "core/adjust/hold_point.hpp"
#include "core/adjust/move_order.hpp"
#include "core/adjust/prospect.hpp"
#include "core/adjust/search.hpp"
#include "firmware-host/job/cures.hpp"
#include "firmware-host/job/doubts.hpp"
#include "firmware-host/job/settings.hpp"
#include "firmware-host/job/straightness.hpp"
#include "firmware-host/job/survey_fit.hpp"

namespace hangtrue::job {

struct CardMove {
  adjust::Move<double> move;
  adjust::Turn<double> turn;
  std::string support;
  std::optional<int> stage;  // set where the support engages only later: the move is made then
  std::vector<Effect> effects;
};

/// What a support does to the finished run, as things are and after the moves.
struct Reaction {
  std::string support;
  beam::SupportAction<double> before, after;
};

/// A support that stands against "ready to bolt".
struct SupportTrouble {
  std::string support;
  std::string stage;
  double force_N = 0;
  std::optional<double> rating_N;  // over it; none: unloaded
};

/// What later supports' misfit makes of the finished level error, after the moves.
struct FitUp {
  std::vector<std::string> supports;  // that engage after the survey's stage
  double sigma_m = 0;                 // its part of the level error's sigma
  double sigma_without_m = 0;         // what is left without it
  double chance_without = 0;          // to be within tolerance without it
};

/// Advice: an unknown of which no other leaves the level error more open; and what its sigma would be, were it known.
struct MostOpen {
  UnknownId unknown;
  double sigma_now_m = 0, sigma_after_m = 0;
};
/// Advice: the load that would help most if it were weighed.
struct WorthWeighing {
  std::string load;
  double sigma_now_m = 0, sigma_after_m = 0;
};
/// What would cure what no move cures, or cut the uncertainty.
using Advice = std::variant<Cures, NextReading, MostOpen, WorthWeighing>;

struct Card {
  adjust::HoldPointAnswer hold_point;  // with its reason and the numbers behind it
  std::vector<Advice> advice;          // may be empty
  std::vector<CardMove> moves;         // in order; those of later stages last
  adjust::MoveOrder<double> order;
  adjust::Choice<double> choice;
  adjust::Prospect<double> before, after;
  std::vector<double> left_before_m, right_before_m, left_m, right_m;  // finished, at the stations
  std::optional<Straightness> straight_before, straight_after;  // where the sheet names a straight-edge
  std::vector<SupportTrouble> troubles;
  std::vector<Reaction> reactions;
  std::vector<Doubt> doubts;    // the one to settle first comes first
  std::optional<FitUp> fit_up;  // where supports engage later
};

/// After a fit() without fault.
[[nodiscard]] Result<Card, Fault> make_card(SurveyFit& survey);

}  // namespace hangtrue::job
