// hangtrue recheck [RUN.toml] --book B --from ID --to ID [--kit KIT.toml] [--tolerance "3 mm"]: what moved between two surveys of a run.
#include <iostream>
#include <memory>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/job/recheck.hpp"
#include "firmware-host/json/recheck.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/recheck.hpp"
#include "firmware-host/say/table.hpp"
#include "tools/hangtrue/colour.hpp"
#include "tools/hangtrue/progress.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

namespace {

struct RecheckArguments {
  std::string run, book, from, to, kit, tolerance;
  std::optional<double> days;
  bool json = false;
};

/// A run that did not move is not yet within its tolerance, and one that moved may be.
Tone tone_of(const job::Recheck& recheck) {
  if (recheck.level.verdict == job::ToleranceVerdict::past) return Tone::bad;
  const bool is_sure = recheck.answer == job::RecheckAnswer::nothing_moved &&
                       recheck.level.verdict != job::ToleranceVerdict::cannot_tell;
  return is_sure ? Tone::good : Tone::caution;
}

}  // namespace

void add_recheck(CLI::App& app, int& exit_code) {
  CLI::App* const command = app.add_subcommand("recheck", "what moved between two surveys of a run");
  const auto arguments = std::make_shared<RecheckArguments>();
  command->add_option("RUN", arguments->run,
                      "the run sheet (TOML), whose tolerance counts; that of the later survey unless given");
  command->add_option("--book", arguments->book, "the level book")->required();
  command->add_option("--from", arguments->from, "the earlier survey's number in the book")->required();
  command->add_option("--to", arguments->to, "the later survey's")->required();
  add_days(*command, arguments->days);
  add_tolerance(*command, arguments->tolerance);
  command->add_option("--kit", arguments->kit,
                      "a kit sheet (TOML) in the place of those in the book: sigmas, signs, scales, feet");
  command->add_flag("--json", arguments->json, "for programs, SI units");
  command->callback([arguments, &exit_code] {
    sheet::RunSheet given;
    if (!arguments->run.empty()) given = load_run(arguments->run);
    const book::Book book = from_book(book::Book::open_to_read(arguments->book));
    stop_if_broken(book, arguments->book, "and what it says was not compared");
    if (arguments->run.empty())
      given = run_of_book(book, survey_named(book, arguments->to, arguments->book, "--to"), arguments->book);
    take_tolerance(arguments->tolerance, given);
    std::optional<sheet::KitSheet> kit;
    if (!arguments->kit.empty()) kit = load_kit(arguments->kit, given);
    const auto made = [&] {
      const Progress progress("comparing the surveys");
      return job::recheck(book, given, arguments->from, arguments->to, arguments->days,
                          kit ? &*kit : nullptr);
    }();
    if (!made.ok()) stop_for({say::complaint(given, made.fault())});
    const job::Recheck& recheck = made.value();
    const sheet::RunSheet run =
        booked_run(book, survey_named(book, arguments->to, arguments->book, "--to"), given, arguments->run)
            .sheet;
    if (arguments->json)
      std::cout << json::recheck_json(run, recheck).dump() << '\n';
    else
      show(say::recheck_view(run, recheck), {{say::in_capitals(say::verdict(recheck)), tone_of(recheck)},
                                             {say::folded(say::keep_away()), Tone::caution}});
    if (recheck.answer == job::RecheckAnswer::cannot_tell ||
        recheck.level.verdict == job::ToleranceVerdict::past ||
        recheck.level.verdict == job::ToleranceVerdict::cannot_tell)
      exit_code = kAnswerIsNo;
  });
}

}  // namespace hangtrue::tools
