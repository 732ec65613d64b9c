// hangtrue spring RUN.toml --support S --weight W --at X --stage NAME --off OFF.csv --on ON.csv: how stiff a support is, found by
// a known weight that is put on the run.
//
// Model   The run is read at that stage without the weight, then with it, with the same instruments. The second fit begins from what
//         the first one taught (zero errors, offsets, bow), so that what remains is what the weight alone did. The springs of that
//         support are held by hardly anything beforehand (kOpen); all else by the sheet's priors.
// Rounds  What the first fit taught is linear about the stiffness that it was made with: both are made again with the one found, until
//         it stays.
// Sigma   relative, of the stiffness: the fit's sigma of its logarithm.
#include <algorithm>
#include <array>
#include <cmath>
#include <iostream>
#include <memory>
#include <string>
#include <vector>

#include <fmt/format.h>
#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "core/quantity/units.hpp"
#include "firmware-host/job/survey_fit.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/sheet/readings.hpp"
#include "firmware-host/sheet/units.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

namespace {

/// Sigma of the logarithm beforehand: a guess may be wrong by a factor of ten. No source.
constexpr double kOpen = 2.3;
/// Less well known than this afterwards, the weight told nothing worth writing down. No source.
constexpr double kTold = 0.3;
/// Rounds at most, and the step that counts as none, in sigmas. No source: three rounds are usual.
constexpr int kMostRounds = 10;
constexpr double kStays_sigmas = 0.05;

constexpr std::array kWords = {"rise", "pitch", "roll"};

struct SpringArguments {
  std::string run, kit, stage, support, weight, at, off, on;
  bool json = false;
};

struct Spring {
  int motion;
  double guess, found;  // N/m or N m/rad; the guess is what the fit began from
  double sigma;         // relative
  double sheet = 0;
  [[nodiscard]] bool told() const { return sigma <= kTold; }
};

struct Found {
  bool holds = false;
  std::vector<Spring> springs;
};

beam::Restraint<double>& restraint_of(beam::Support<double>& support, int motion) {
  return motion == 0 ? support.rise : motion == 1 ? support.pitch : support.roll;
}

double quantity(const std::string& text, sheet::Kind kind, const char* option) {
  const auto value = sheet::parse_quantity(text, kind);
  if (!value.ok() || !(value.value() >= 0))
    stop_for({{"hangtrue spring", 0, option, '"' + text + '"',
               std::string(sheet::name(kind)) + ", " + std::string(sheet::example(kind))}});
  return value.value();
}

/// The sheet with a stage behind that one in which the weight is on, and with the support's springs open. What comes later in the
/// work is left out.
sheet::RunSheet with_weight(sheet::RunSheet run, const SpringArguments& arguments, int stage, int support) {
  const double weight_N = quantity(arguments.weight, sheet::Kind::mass, "--weight") * kGravity_m_per_s2;
  const double at_m = quantity(arguments.at, sheet::Kind::length, "--at");
  if (at_m > run.length_m)
    stop_for({{"hangtrue spring", 0, "--at", '"' + arguments.at + '"', "a place on the run"}});
  const auto last = std::size_t(stage) + 1;
  if (run.loads.size() == kMaxLoads || last == kMaxStages)
    stop_for({{run.file, 0, "load", "as many loads or stages as there may be", "room for one more"}});
  const int load = int(run.loads.size());
  run.loads.push_back({.name = "the known weight", .permanent_share = 0, .weight_N = weight_N});
  run.load_parts.push_back(
      {.load = load, .kind = beam::LoadKind::point, .from_m = at_m, .to_m = at_m, .begin = weight_N});
  run.stages.resize(last);
  run.beam_stages.resize(last);
  run.stages.push_back("with the known weight");
  run.beam_stages.push_back(run.beam_stages.back());
  run.beam_stages.back().loads |= std::uint64_t(1) << load;
  run.tolerance.stage = int(last);
  for (const beam::Motion motion : beam::kMotions) {
    double& sigma = run.supports[std::size_t(support)].log_spring_sigma[motion];
    sigma = std::max(sigma, kOpen);
  }
  return run;
}

void fit_readings(job::SurveyFit& survey, const std::string& path, const sheet::KitSheet* kit) {
  sheet::ReadingsOrComplaints read = sheet::read_readings(path, survey.run(), kit);
  if (!read.entries) stop_for(read.complaints);
  for (sheet::ReadingEntry& entry : *read.entries) survey.add(std::move(entry));
  survey.take_answers(std::move(read.remarks));
  if (const auto done = survey.fit(); !done) stop_for({say::complaint(survey.run(), done.fault())});
}

std::string stiffness_words(double stiffness, int motion, sheet::Show show) {
  const bool metric = show.is_metric();
  if (motion == 0)
    return metric ? fmt::format("{:.3g} kN/mm", stiffness / 1e6)
                  : fmt::format("{:.0f} lbf/in", stiffness / kPoundForce_N * kInch_m);
  return metric ? fmt::format("{:.3g} kN m/rad", stiffness / 1e3)
                : fmt::format("{:.3g} lbf in/rad", stiffness / (kPoundForce_N * kInch_m));
}

std::vector<Spring> springs_of(const job::SurveyFit& survey, int support) {
  constexpr std::array kSpringOf = {job::UnknownOf::spring_rise, job::UnknownOf::spring_pitch,
                                    job::UnknownOf::spring_roll};
  std::vector<Spring> springs;
  const auto index = std::size_t(support);
  for (const job::UnknownEstimate& each : survey.report().parameters)
    for (int motion = 0; motion < beam::kMotionCount; ++motion)
      if (each.id.of == kSpringOf[std::size_t(motion)] && each.id.name == survey.run().supports[index].name) {
        const double guess =
            1 / survey.run().beam_supports[index].restraint(beam::kMotions[std::size_t(motion)]).compliance;
        springs.push_back({motion, guess, guess * std::exp(each.estimate.value), each.estimate.sigma});
      }
  return springs;
}

/// Both fits, by a sheet of with_weight().
Found find(const sheet::RunSheet& run, const sheet::KitSheet* kit, const SpringArguments& arguments,
           int stage, int support) {
  job::SurveyFit off(run, kit, stage);
  fit_readings(off, arguments.off, kit);
  const std::unique_ptr<job::CarriedState> taught = off.carry(0);
  job::SurveyFit on(run, kit, stage + 1, taught.get());
  fit_readings(on, arguments.on, kit);
  const auto holds = [](const job::SurveyFit& survey) {
    return survey.report().self_test.outcome == fit::TestOutcome::holds;
  };
  return {holds(off) && holds(on), springs_of(on, support)};
}

nlohmann::ordered_json json_of(const SpringArguments& arguments, const Found& found) {
  nlohmann::ordered_json all = {
      {"support", arguments.support}, {"stage", arguments.stage}, {"holds", found.holds}};
  all["springs"] = nlohmann::ordered_json::array();
  for (const Spring& spring : found.springs) {
    const std::string unit = spring.motion == 0 ? "_N_per_m" : "_Nm_per_rad";
    nlohmann::ordered_json each = {{"motion", kWords[std::size_t(spring.motion)]}};
    each["stiffness" + unit] = spring.found;
    each["sheet" + unit] = spring.sheet;
    each["relative_sigma"] = spring.sigma;
    each["told"] = spring.told();
    all["springs"].push_back(std::move(each));
  }
  return all;
}

void tell(const SpringArguments& arguments, const sheet::RunSheet& run, const Found& found) {
  std::cout << arguments.support << ", by " << arguments.weight << " at " << arguments.at << ":\n";
  std::string rises;
  double widest = 0.01;
  for (const Spring& spring : found.springs) {
    const std::string words = stiffness_words(spring.found, spring.motion, run.show);
    const char* const word = kWords[std::size_t(spring.motion)];
    std::cout << fmt::format("  {:<6}", word);
    if (!spring.told()) {
      std::cout << "not told by these readings\n";
      continue;
    }
    std::cout << fmt::format("{} +- {:.1f} %   (the sheet has {})\n", words, 100 * spring.sigma,
                             stiffness_words(spring.sheet, spring.motion, run.show));
    rises += fmt::format("  {} = \"{}\"\n", word, words);
    widest = std::max(widest, spring.sigma);
  }
  if (!found.holds)
    std::cout << "The fit does not hold: the readings contradict the sheet or one another. Nothing of this "
                 "counts; see\n"
                 "  hangtrue fit "
              << arguments.run << " --readings " << arguments.off << " --stage \"" << arguments.stage
              << "\"\n";
  else if (rises.empty())
    std::cout
        << "A heavier weight, one that stands where it works on this support, or more readings would tell.\n";
  else
    std::cout << "For the run sheet, below that support, where nothing else of it is a guess:\n"
              << rises << fmt::format("  prior = {{ spring = {:.2f} }}\n", widest);
}

int run(const SpringArguments& arguments) {
  const sheet::RunSheet as_written = load_run(arguments.run);
  const int stage = stage_named(as_written, arguments.stage, arguments.run);
  const int support = as_written.support(arguments.support);
  const auto complain = [&](const std::string& right) {
    stop_for({{"hangtrue spring", 0, "--support", '"' + arguments.support + '"', right}});
  };
  if (support < 0) {
    std::string names;
    for (const sheet::SupportEntry& each : as_written.supports)
      names += (names.empty() ? "" : ", ") + each.name;
    complain("a support of the run sheet: " + names);
  }
  if (!as_written.beam_stages[std::size_t(stage)].lists_support(support))
    complain("a support that stage \"" + arguments.stage + "\" lists");
  const auto& beam_support = as_written.beam_supports[std::size_t(support)];
  if (std::ranges::none_of(beam::kMotions, [&](beam::Motion motion) {
        const auto& restraint = beam_support.restraint(motion);
        return restraint.held && restraint.compliance > 0;
      }))
    complain("a support with a stiffness in the sheet; a guess such as \"10 kN/mm\" suffices");

  std::optional<sheet::KitSheet> kit_sheet;
  if (!arguments.kit.empty()) kit_sheet = load_kit(arguments.kit, as_written);
  const sheet::KitSheet* const kit = kit_sheet ? &*kit_sheet : nullptr;
  sheet::RunSheet guess = as_written;
  Found found;
  for (int round = 0; round < kMostRounds; ++round) {
    found = find(with_weight(guess, arguments, stage, support), kit, arguments, stage, support);
    bool stays = true;
    for (const Spring& spring : found.springs) {
      const double step = std::log(spring.found / spring.guess);
      if (!spring.told() || std::abs(step) <= kStays_sigmas * spring.sigma) continue;
      stays = false;
      restraint_of(guess.beam_supports[std::size_t(support)], spring.motion).compliance = 1 / spring.found;
    }
    if (stays) break;
    found.holds = false;  // unless a later round finds that it stays
  }
  for (Spring& spring : found.springs)
    spring.sheet = 1 / as_written.beam_supports[std::size_t(support)]
                           .restraint(beam::kMotions[std::size_t(spring.motion)])
                           .compliance;
  if (arguments.json)
    std::cout << json_of(arguments, found).dump() << '\n';
  else
    tell(arguments, as_written, found);
  return found.holds && std::ranges::any_of(found.springs, &Spring::told) ? kDone : kAnswerIsNo;
}

}  // namespace

void add_spring(CLI::App& app, int& exit_code) {
  CLI::App* const command = app.add_subcommand(
      "spring", "how stiff a bracket or rod is, by a known weight on the run: off, then on");
  const auto arguments = std::make_shared<SpringArguments>();
  command->add_option("RUN", arguments->run, "the run sheet (TOML)")->required();
  command->add_option("--support", arguments->support, "whose stiffness is wanted; the sheet has a guess")
      ->required();
  command->add_option("--weight", arguments->weight, "the known weight, such as \"25 kg\" or \"50 lb\"")
      ->required();
  command->add_option("--at", arguments->at, "where along the run it stands, such as \"2100 mm\"")
      ->required();
  command->add_option("--stage", arguments->stage, "the stage that the run is in")->required();
  command->add_option("--off", arguments->off, "readings without the weight (CSV)")->required();
  command->add_option("--on", arguments->on, "readings with it, by the same instruments (CSV)")->required();
  command->add_option("--kit", arguments->kit, "the kit sheet (TOML): feet, sigmas, zero errors");
  command->add_flag("--json", arguments->json, "for programs, SI units");
  command->footer(
      "Keep lifts or props under the run, a finger's breadth below it, while the weight is on; nobody under "
      "it.\n"
      "The weight must be one that every support may carry.");
  command->callback([arguments, &exit_code] { exit_code = run(*arguments); });
}

}  // namespace hangtrue::tools
