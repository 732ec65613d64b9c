#include "tests/trials_of_the_hold_point/trial.hpp"

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <map>
#include <thread>

#include "firmware-host/job/card.hpp"
#include "firmware-host/job/survey_fit.hpp"

namespace hangtrue::hold_trials {

using adjust::HoldPoint;

namespace {

constexpr double kBand95 = 1.959964;  // sigmas, of a normal distribution
/// A run that falls after the moves: so many tolerances.
constexpr double kFallen = 99;
constexpr double kFar = 1.2;
constexpr std::size_t kShown = 12;

void compare_heights(const Ground& ground, const State& state, const job::FitReport& report,
                     Outcome& outcome) {
  std::vector<double> truth;
  double mean = 0, mean_told = 0;
  for (const auto& station : report.stations) {
    truth.push_back(ground.dense.height(state.shapes[std::size_t(state.stage)], station.at_m));
    mean += truth.back() / double(report.stations.size());
    mean_told += station.height_m / double(report.stations.size());
  }
  for (std::size_t i = 0; i < truth.size(); ++i) {
    const auto& told = report.stations[i];
    const double off = (told.height_m - mean_told) - (truth[i] - mean);
    ++outcome.heights;
    outcome.covered += std::abs(off) <= kBand95 * told.height_less_mean_sigma_m ? 1 : 0;
  }
}

double true_error(const Ground& ground, const TrueRun& truth) {
  const auto shapes = ground.dense.solve(truth, ground.finished);
  if (!shapes) return kFallen * ground.run.tolerance.level_m;
  return level_error(ground.dense, shapes->back(), ground.run.stations_m, ground.run.width_m,
                     ground.run.tolerance.target_height_m);
}

// What a person finds who tries the supports that the card asks about; nothing where it asks about none.
std::vector<sheet::BearingRemark> tried_by_hand(const Ground& ground, const State& state,
                                                const job::Card& card) {
  std::vector<sheet::BearingRemark> found;
  for (const job::Doubt& doubt : card.doubts)
    if (const auto* const open = std::get_if<job::BearingIsOpen>(&doubt))
      for (const std::string& name : open->supports) {
        const auto bit = std::uint32_t(1) << ground.run.support(name);
        found.push_back({name, (state.shapes[std::size_t(state.stage)].bearing & bit) != 0});
      }
  return found;
}

std::string line(const char* format, auto... values) {
  char text[320];
  std::snprintf(text, sizeof text, format, values...);
  return text;
}

}  // namespace

Outcome try_state(const Ground& ground, const State& state) {
  Outcome outcome;
  outcome.kind = state.kind;
  outcome.seed = state.seed;
  outcome.stage = state.stage;
  outcome.early = ground.run.stages[std::size_t(state.stage)] != ground.sheet.engaged;
  outcome.one_way = ground.lists_one_way(state.stage, ground.finished);
  outcome.tolerance_m = ground.run.tolerance.level_m;
  for (const StageShape& shape : state.shapes)
    outcome.equilibria = std::max(outcome.equilibria, shape.equilibria);

  using Clock = std::chrono::steady_clock;
  const auto begun = Clock::now();
  job::SurveyFit survey(ground.run, state.scale_checked ? &ground.checked : &ground.unchecked, state.stage);
  for (const sheet::ReadingEntry& reading : state.readings) survey.add(reading);
  const auto fitted = survey.fit();
  const auto between = Clock::now();
  std::optional<job::Card> card;
  if (fitted)
    if (auto made = job::make_card(survey)) card = std::move(made).value();
  outcome.fit_s = std::chrono::duration<double>(between - begun).count();
  outcome.card_s = std::chrono::duration<double>(Clock::now() - between).count();
  outcome.true_m = true_error(ground, state.truth);
  if (!card) return outcome;
  // Asked whether a support bears, the person tries it and says.
  if (std::vector<sheet::BearingRemark> found = tried_by_hand(ground, state, *card); !found.empty()) {
    outcome.asked = true;
    survey.take_answers(std::move(found));
    if (!survey.fit()) return outcome;
    auto made = job::make_card(survey);
    if (!made) return outcome;
    card = std::move(made).value();
  }

  outcome.fitted = true;
  outcome.settled = survey.report().status == fit::Status::settled;
  outcome.answer = card->hold_point.answer;
  outcome.reason = card->hold_point.reason;
  compare_heights(ground, state, survey.report(), outcome);
  const bool moves = outcome.answer == HoldPoint::shim_first;
  const auto& prospect = moves ? card->after : card->before;
  outcome.promised_m = prospect.level_error_m;
  outcome.sigma_m = prospect.drawn_sigma_m;
  outcome.chance = prospect.chance;
  if (moves) {
    TrueRun moved = state.truth;
    for (const job::CardMove& each : card->moves) {
      beam::Motions<double>& move = moved.state.move[each.move.support];
      move.rise += each.move.rise_m;
      move.pitch += each.move.pitch_rad;
      move.roll += each.move.roll_rad;
    }
    outcome.true_m = true_error(ground, moved);
  }
  return outcome;
}

std::vector<Outcome> try_kinds(std::span<const Ground> grounds, std::span<const Kind> kinds, int each,
                               std::uint64_t first_seed, int workers) {
  std::vector<Outcome> outcomes(kinds.size() * std::size_t(each));
  std::vector<char> drawn(outcomes.size(), 0);
  std::atomic<std::size_t> next{0};
  const auto work = [&] {
    for (std::size_t i = next++; i < outcomes.size(); i = next++) {
      const std::uint64_t seed = first_seed + i % std::size_t(each);
      for (std::size_t turn = 0; turn < grounds.size() && !drawn[i]; ++turn) {
        const std::size_t kind = i / std::size_t(each);
        const std::size_t sheet = (std::size_t(seed) + 5 * kind + turn) % grounds.size();
        const auto state = draw(grounds[sheet], kinds[kind], seed);
        if (!state) continue;
        outcomes[i] = try_state(grounds[sheet], *state);
        outcomes[i].sheet = sheet;
        drawn[i] = 1;
      }
    }
  };
  std::vector<std::thread> threads;
  for (int w = 1; w < workers; ++w) threads.emplace_back(work);
  work();
  for (std::thread& each_thread : threads) each_thread.join();

  std::vector<Outcome> result;
  for (std::size_t i = 0; i < outcomes.size(); ++i)
    if (drawn[i]) result.push_back(outcomes[i]);
  return result;
}

void Tally::add(const Outcome& outcome) {
  ++states;
  if (!outcome.fitted) ++no_fit;
  const double ratio = outcome.ratio();
  switch (outcome.answer) {
    case HoldPoint::ready_to_bolt:
      ++ready;
      stated_ready += 1 - outcome.chance;
      unsafe_ready += ratio > 1 ? 1 : 0;
      unsafe_ready_far += ratio > kFar ? 1 : 0;
      worst_ready = std::max(worst_ready, ratio);
      break;
    case HoldPoint::shim_first:
      ++shim_first;
      unsafe_shim += ratio > 1 ? 1 : 0;
      unsafe_shim_far += ratio > kFar ? 1 : 0;
      worst_shim = std::max(worst_shim, ratio);
      break;
    case HoldPoint::shims_cannot:
      ++shims_cannot;
      break;
    case HoldPoint::read_again:
      ++read_again;
      break;
  }
  if (outcome.fitted) {
    sum += outcome.z();
    squares += outcome.z() * outcome.z();
    heights += outcome.heights;
    covered += outcome.covered;
  }
  if (outcome.one_way) {
    ++one_way;
    one_way_settled += outcome.settled ? 1 : 0;
  }
}

double Tally::rms() const { return states == no_fit ? 0 : std::sqrt(squares / (states - no_fit)); }

namespace {

void print_row(std::ostream& out, std::string_view name, const Tally& t) {
  out << line(
      "%-28s %6d %6d %6d %6d %6d %5d | %5d %5d %6.1f %6.2f | %5d %5d %6.2f | %7.2f %7.2f %6.1f %6.1f\n",
      std::string(name).c_str(), t.states, t.ready, t.shim_first, t.shims_cannot, t.read_again, t.no_fit,
      t.unsafe_ready, t.unsafe_ready_far, t.stated_ready, t.worst_ready, t.unsafe_shim, t.unsafe_shim_far,
      t.worst_shim, t.mean(), t.rms(), 100 * t.settled(), 100 * t.coverage());
}

std::string name_of(std::span<const Ground> grounds, const Outcome& of) {
  return line("\"%s\" \"%s\" %llu", std::string(name(of.kind)).c_str(), grounds[of.sheet].sheet.name.c_str(),
              static_cast<unsigned long long>(of.seed));
}

std::string told(std::span<const Ground> grounds, const Outcome& of) {
  return line("  %s  at %s: told %.2f +- %.2f mm, truth %.2f mm, tolerance %.2f mm%s\n",
              name_of(grounds, of).c_str(), grounds[of.sheet].run.stages[std::size_t(of.stage)].c_str(),
              1e3 * of.promised_m, 1e3 * of.sigma_m, 1e3 * of.true_m, 1e3 * of.tolerance_m,
              of.equilibria > 1 ? ", several equilibria" : "");
}

// Right states whose promise is farthest from what then is true, in sigmas.
void print_farthest(std::ostream& out, std::span<const Ground> grounds, std::span<const Outcome> outcomes) {
  std::vector<const Outcome*> of;
  for (const Outcome& each : outcomes)
    if (is_right(each.kind) && each.fitted && std::abs(each.z()) > 4) of.push_back(&each);
  std::stable_sort(of.begin(), of.end(),
                   [](const Outcome* a, const Outcome* b) { return std::abs(a->z()) > std::abs(b->z()); });
  out << "\nRight states beyond 4 sigmas of what they were promised: " << of.size() << '\n';
  for (std::size_t i = 0; i < std::min(of.size(), kShown); ++i)
    out << "  \"" << adjust::short_name(of[i]->answer) << "\"" << told(grounds, *of[i]);
}

void print_worst(std::ostream& out, std::span<const Ground> grounds, std::vector<Outcome> of,
                 HoldPoint answer) {
  std::erase_if(of, [&](const Outcome& each) { return each.answer != answer || !(each.ratio() > 1); });
  std::stable_sort(of.begin(), of.end(),
                   [](const Outcome& a, const Outcome& b) { return a.ratio() > b.ratio(); });
  out << "\nPast the tolerance though told \"" << adjust::short_name(answer) << "\": " << of.size()
      << (of.size() > kShown ? "; the worst of each kind first\n" : "\n");
  // One a kind, then the rest.
  std::map<Kind, int> shown;
  std::vector<const Outcome*> order;
  for (const Outcome& each : of)
    if (shown[each.kind]++ == 0) order.push_back(&each);
  for (const Outcome& each : of)
    if (std::find(order.begin(), order.end(), &each) == order.end()) order.push_back(&each);
  for (std::size_t i = 0; i < std::min(order.size(), std::max(kShown, shown.size())); ++i) {
    out << told(grounds, *order[i]);
  }
}

}  // namespace

void print_table(std::ostream& out, std::span<const Ground> grounds, std::span<const Outcome> outcomes) {
  std::map<Kind, Tally> kinds;
  Tally right, wrong, misled, early, engaged;
  for (const Outcome& each : outcomes) {
    kinds[each.kind].add(each);
    if (is_right(each.kind)) (each.early ? early : engaged).add(each);
    (is_right(each.kind) ? right : each.kind == Kind::wrong_though_checked ? misled : wrong).add(each);
  }
  out << line("%-28s %6s %6s %6s %6s %6s %5s | %5s %5s %6s %6s | %5s %5s %6s | %7s %7s %6s %6s\n", "",
              "states", "ready", "shim", "cannot", "again", "nofit", "past", ">1.2", "told", "worst", "past",
              ">1.2", "worst", "mean z", "rms z", "settl%", "cover%");
  for (const auto& [kind, tally] : kinds) print_row(out, name(kind), tally);
  out << '\n';
  print_row(out, "all right", right);
  print_row(out, "  of them early", early);
  print_row(out, "  of them engaged", engaged);
  print_row(out, "all wrong, not though checked", wrong);
  if (wrong.states > 0)
    out << line(
        "of 1,000 wrong states: %.1f told ready past the tolerance, %.1f past 1.2 times; %.1f and %.1f by "
        "shim first\n",
        1e3 * wrong.unsafe_ready / wrong.states, 1e3 * wrong.unsafe_ready_far / wrong.states,
        1e3 * wrong.unsafe_shim / wrong.states, 1e3 * wrong.unsafe_shim_far / wrong.states);
  print_farthest(out, grounds, outcomes);
  const std::vector<Outcome> all(outcomes.begin(), outcomes.end());
  print_worst(out, grounds, all, HoldPoint::ready_to_bolt);
  print_worst(out, grounds, all, HoldPoint::shim_first);
  out << R"(
past, >1.2, worst   how many were past the tolerance, past 1.2 times of it, and the worst, told ready; then told shim first
told                how many of "ready" would be past by the chance that was told
mean z, rms z       of (promised - true) / sigma of the finished level error
settl%, cover%      fits that settled, of runs with one-way supports; heights within their band of 95 %
)";
}

}  // namespace hangtrue::hold_trials
