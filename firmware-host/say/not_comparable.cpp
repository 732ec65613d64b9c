#include "firmware-host/say/not_comparable.hpp"

#include <vector>

#include <fmt/format.h>

#include "firmware-host/job/thresholds.hpp"
#include "firmware-host/say/cases.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/sheet_changes.hpp"
#include "firmware-host/say/unknown.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::say {

namespace {

std::string in_a_row(const std::vector<std::string>& parts, std::string_view between = ", ") {
  return fmt::format("{}", fmt::join(parts, between));
}

sheet::Complaint complaint(const job::NoSuchSurvey& fault) {
  constexpr std::size_t kMostNamed = 20;
  std::vector<std::string> known = fault.known;
  if (known.size() > kMostNamed) known.resize(kMostNamed);
  std::string all = in_a_row(known);
  if (fault.known.size() > kMostNamed) all += fmt::format(" and {} more", fault.known.size() - kMostNamed);
  return {"level book", 0, fault.which == job::Which::from ? "--from" : "--to", in_quotes(fault.id),
          all.empty() ? "a survey, but the book holds none" : "a survey of the book: " + all};
}

sheet::Complaint complaint(const job::SheetsDiffer& fault, sheet::Show show) {
  std::vector<std::string> changes;
  for (const job::SheetChange& each : fault.changes) changes.push_back(words(each, show));
  return {"run sheet " + later_sheet(fault.later, fault.given, show), 0, "", in_a_row(changes, "; "),
          "the same run as in the sheet " + earlier_sheet(fault.earlier, fault.later, fault.given, show)};
}

sheet::Complaint complaint(const job::TooFewPlaces& fault, sheet::Show show) {
  std::vector<std::string> places;
  for (const double at : fault.at_m) places.push_back(sheet::show_place(at, show));
  return {"survey " + fault.survey, 0, "readings",
          fmt::format("readings kept at {} places: {}", places.size(),
                      places.empty() ? "none" : in_a_row(places)),
          fmt::format("at least {} places along the run", job::kLeastPlaces)};
}

}  // namespace

std::string later_sheet(const std::string& later, const std::string& given, sheet::Show show) {
  return given.empty() ? text(show, "of survey {}", later) : text(show, "given ({})", given);
}
std::string earlier_sheet(const std::string& earlier, const std::string& later, const std::string& given,
                          sheet::Show show) {
  return text(show, "of survey {}", given.empty() ? earlier : later);
}

sheet::Complaint not_comparable(const job::NotComparable& fault, sheet::Show show) {
  using sheet::Complaint;
  return std::visit(
      Cases{[](const job::NoSuchSurvey& is) { return complaint(is); },
            [](const job::SameSurvey& is) {
              return Complaint{"level book", 0, "--to", in_quotes(is.id) + ", the survey of --from itself",
                               "a later survey of the same run"};
            },
            [](const job::WrongOrder& is) {
              return Complaint{"level book", 0, "--from",
                               in_quotes(is.from) + ", which is later than " + in_quotes(is.to),
                               "--from " + is.to + " --to " + is.from};
            },
            [](const job::TimeNotReadable& is) {
              return Complaint{"survey " + is.survey, 0, "time", in_quotes(is.time),
                               "a date and a time, such as \"2026-09-14T08:30:00Z\""};
            },
            [](const job::TimesReversed& is) {
              return Complaint{
                  "survey " + is.to, 0, "time",
                  date_of(is.to_time) + ", before survey " + is.from + " of " + date_of(is.from_time) +
                      ", which it follows in the book: a clock was set back, or was wrong before",
                  "hangtrue recheck with --days N, the days that truly passed between the two"};
            },
            [](const job::RunSheetNotInBook& is) {
              return Complaint{"level book", 0, fmt::format("entry {}", is.entry), "no run sheet",
                               "the run sheet of survey " + is.survey};
            },
            [&](const job::SheetsDiffer& is) { return complaint(is, show); },
            [](const job::StageNotOnLaterSheet& is) {
              return Complaint{"survey " + is.survey, 0, "stage", in_quotes(is.stage),
                               "a stage of the run sheet: \"" + in_a_row(is.stages, "\", \"") + '"'};
            },
            [](const job::OtherSupports& is) {
              return Complaint{
                  "survey " + is.survey, 0, "stage",
                  in_quotes(is.stage) + ", whose supports are not those of " + in_quotes(is.earlier_stage),
                  "two surveys at stages with the same supports all the way between them"};
            },
            [](const job::MovedAfterReadings& is) {
              return Complaint{"survey " + is.survey, 0, "moves",
                               "moves made after its readings, by its card: " + in_a_row(is.supports),
                               "the survey that was made after these moves"};
            },
            [](const job::MovedInBetween& is) {
              return Complaint{"survey " + is.survey, 0, "moves",
                               "moves made by its card, between the two surveys", "a survey later than that"};
            },
            [&](const job::TooFewPlaces& is) { return complaint(is, show); },
            [](const job::KitNotInBook& is) {
              return Complaint{"survey " + is.survey, 0, "kit", "no kit sheet that can be read",
                               "a kit sheet in the book"};
            },
            [](const job::KitCannot& is) {
              if (is.was_unit.empty() && is.is_unit.empty())
                return Complaint{is.file, 0, "--kit", "no " + name_of(is.channel),
                                 "every channel that the two surveys were read with"};
              return Complaint{is.file, 0, "--kit", name_of(is.channel) + " in " + in_quotes(is.is_unit),
                               "the unit of the kit sheet in the book, " + in_quotes(is.was_unit)};
            }},
      fault);
}

std::string not_comparable_words(const job::NotComparable& fault, sheet::Show show) {
  return std::visit(
      Cases{[&](const job::NoSuchSurvey& is) {
              return text(show, "The level book has no survey \"{}\".", is.id);
            },
            [&](const job::SameSurvey& is) {
              return text(show, "Survey {} cannot be compared with itself.", is.id);
            },
            [&](const job::WrongOrder& is) {
              return text(show, "Survey {} is later than {}.", is.from, is.to);
            },
            [&](const job::TimeNotReadable& is) {
              return text(show, "Survey {} has no time that can be read.", is.survey);
            },
            [&](const job::TimesReversed& is) {
              return text(
                  show,
                  "Survey {} is dated {}, before survey {} of {}, which it follows in the book: a clock "
                  "was set back, or was wrong before.",
                  is.to, date_of(is.to_time), is.from, date_of(is.from_time));
            },
            [&](const job::RunSheetNotInBook& is) {
              return text(show, "The level book lacks the run sheet of survey {}.", is.survey);
            },
            [&](const job::SheetsDiffer& is) {
              std::vector<std::string> changes;
              for (const job::SheetChange& each : is.changes) changes.push_back(words(each, show));
              return text(show, "The run sheet {} is of another run than that {}: {}.",
                          later_sheet(is.later, is.given, show),
                          earlier_sheet(is.earlier, is.later, is.given, show), in_a_row(changes, "; "));
            },
            [&](const job::StageNotOnLaterSheet& is) {
              return text(show, "Stage \"{}\" of survey {} is not on the later run sheet.", is.stage,
                          is.survey);
            },
            [&](const job::OtherSupports& is) {
              return text(show, "Stage \"{}\" of survey {} has other supports than stage \"{}\".", is.stage,
                          is.survey, is.earlier_stage);
            },
            [&](const job::MovedAfterReadings& is) {
              return text(
                  show,
                  "After the readings of survey {} moves were made by its card ({}): compare with the "
                  "survey that was made after them.",
                  is.survey, in_a_row(is.supports));
            },
            [&](const job::MovedInBetween& is) {
              return text(
                  show,
                  "Between the two surveys moves were made by the card of survey {}: compare with a later "
                  "one.",
                  is.survey);
            },
            [&](const job::TooFewPlaces& is) {
              return text(show, "Survey {} has readings at {} places; at least {} are needed.", is.survey,
                          is.at_m.size(), job::kLeastPlaces);
            },
            [&](const job::KitNotInBook& is) {
              return text(show, "The level book has no kit sheet of survey {} that can be read.", is.survey);
            },
            [&](const job::KitCannot& is) {
              return text(show, "The kit sheet {} does not describe {} as it was read.", is.file,
                          name_words(is.channel, show));
            }},
      fault);
}

}  // namespace hangtrue::say
