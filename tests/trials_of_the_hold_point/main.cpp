// Trials of the hold point at length: tools/trials.
//   N [KIND ...]                  N states of each kind (of all, or of those named), their table
//   show KIND SHEET SEED [TO]     one state: what is true, what is told; with TO its sheets and readings into that directory
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <stdexcept>
#include <thread>

#include "firmware-host/job/card.hpp"
#include "firmware-host/job/survey_fit.hpp"
#include "firmware-host/say/card.hpp"
#include "tests/trials_of_the_hold_point/trial.hpp"

namespace {

using namespace hangtrue;
using namespace hangtrue::hold_trials;

Kind kind_named(const std::string& text) {
  std::string all;
  for (int k = 0; k < kKinds; ++k) {
    if (name(Kind(k)) == text) return Kind(k);
    all += "\n  " + std::string(name(Kind(k)));
  }
  throw std::runtime_error("no kind \"" + text + "\"; there are:" + all);
}

std::vector<Ground> all_grounds() {
  std::vector<Ground> grounds;
  grounds.reserve(trial_sheets().size());
  for (const TrialSheet& each : trial_sheets()) grounds.emplace_back(each);
  return grounds;
}

int whole(const std::string& text) {
  char* end = nullptr;
  const long value = std::strtol(text.c_str(), &end, 10);
  if (end == text.c_str() || *end != '\0' || value < 0 || value > 1'000'000)
    throw std::runtime_error("\"" + text + "\" is no number from 0 to 1,000,000");
  return int(value);
}

void table(int each, const std::vector<Kind>& kinds) {
  const auto grounds = all_grounds();
  const auto begun = std::chrono::steady_clock::now();
  const int workers = int(std::clamp(std::thread::hardware_concurrency(), 1u, 8u));
  const auto outcomes = try_kinds(grounds, kinds, each, 1, workers);
  print_table(std::cout, grounds, outcomes);
  struct Times {
    double fit_s = 0, fit_slowest_s = 0, card_s = 0, card_slowest_s = 0;
    int states = 0;
  };
  std::vector<Times> by_sheet(grounds.size());
  for (const Outcome& one : outcomes) {
    Times& times = by_sheet[one.sheet];
    ++times.states;
    times.fit_s += one.fit_s;
    times.card_s += one.card_s;
    times.fit_slowest_s = std::max(times.fit_slowest_s, one.fit_s);
    times.card_slowest_s = std::max(times.card_slowest_s, one.card_s);
  }
  std::cout << "\nms by the clock: fit, mean and slowest; card, mean and slowest\n";
  for (std::size_t g = 0; g < grounds.size(); ++g) {
    const Times& times = by_sheet[g];
    char text[120];
    std::snprintf(text, sizeof text, "  %-16s %5d states  %8.0f %8.0f %8.0f %8.0f\n",
                  grounds[g].sheet.name.c_str(), times.states, 1e3 * times.fit_s / std::max(times.states, 1),
                  1e3 * times.fit_slowest_s, 1e3 * times.card_s / std::max(times.states, 1),
                  1e3 * times.card_slowest_s);
    std::cout << text;
  }
  const double took = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
  std::cout << outcomes.size() << " states in " << took << " s\n";
}

void write(const std::filesystem::path& to, const std::string& text) { std::ofstream(to) << text; }

void show(const std::string& kind, const std::string& sheet, int seed, const std::string& to) {
  for (const TrialSheet& each : trial_sheets()) {
    if (each.name != sheet) continue;
    const Ground ground(each);
    const auto state = draw(ground, kind_named(kind), std::uint64_t(seed));
    if (!state) throw std::runtime_error("that sheet has no such state");
    std::cout << "at " << ground.run.stages[std::size_t(state->stage)] << ", " << state->readings.size()
              << " readings\n";
    for (std::size_t i = 0; i < ground.run.supports.size(); ++i) {
      const auto& truth = state->truth;
      std::cout << "  " << ground.run.supports[i].name << ":";
      for (const beam::Motion m : beam::kMotions)
        std::cout << "  " << 1e3 * truth.state.offset[i][m] << " then " << 1e3 * truth.state.move[i][m]
                  << ", softer by " << truth.added_compliance[i][m];
      for (const StageShape& shape : state->shapes)
        std::cout << ((shape.bearing >> i & 1u) != 0
                          ? " " + std::to_string(int(shape.reaction[i].rise)) + " N"
                          : " -");
      std::cout << '\n';
    }
    for (std::size_t l = 0; l < ground.run.loads.size(); ++l)
      std::cout << "  " << ground.run.loads[l].name << " " << state->truth.state.load_factor[l] << " times\n";
    const Outcome told = try_state(ground, *state);
    std::cout << "told \"" << adjust::short_name(told.answer) << "\" (" << int(told.reason) << "), promised "
              << 1e3 * told.promised_m << " +- " << 1e3 * told.sigma_m << " mm, chance " << told.chance
              << ", truth " << 1e3 * told.true_m << " mm, tolerance " << 1e3 * told.tolerance_m
              << " mm, settled " << told.settled << "\n\n";
    job::SurveyFit survey(ground.run, state->scale_checked ? &ground.checked : &ground.unchecked,
                          state->stage);
    for (const auto& reading : state->readings) survey.add(reading);
    if (survey.fit())
      if (const auto card = job::make_card(survey))
        std::cout << say::card_view(ground.run, survey.report(), card.value());
    if (to.empty()) return;
    std::filesystem::create_directories(to);
    write(std::filesystem::path(to) / "run.toml", each.run);
    write(std::filesystem::path(to) / "kit.toml", kit_text(each, state->scale_checked));
    std::ofstream readings(std::filesystem::path(to) / "readings.csv");
    sheet::write_readings(readings, state->readings);
    return;
  }
  throw std::runtime_error("no sheet \"" + sheet + "\"");
}

}  // namespace

int main(int count, char** words) try {
  const std::vector<std::string> given(words + 1, words + count);
  if (given.size() >= 4 && given[0] == "show") {
    show(given[1], given[2], whole(given[3]), given.size() > 4 ? given[4] : "");
    return 0;
  }
  std::vector<Kind> kinds;
  for (std::size_t i = 1; i < given.size(); ++i) kinds.push_back(kind_named(given[i]));
  if (kinds.empty())
    for (int k = 0; k < kKinds; ++k) kinds.push_back(Kind(k));
  table(given.empty() ? 40 : whole(given[0]), kinds);
  return 0;
} catch (const std::exception& fault) {
  std::cerr << "tools/trials: " << fault.what() << '\n';
  return 2;
}
