// site.hpp: a level book about an invented run, with a truth of its own: surveys, checks, cards, moves, corrections, seals.
#pragma once

#include <gtest/gtest.h>

#include <chrono>
#include <fstream>
#include <iterator>
#include <random>
#include <string>

#include <nlohmann/json.hpp>

#include "core/survey/observation.hpp"
#include "firmware-host/book/book.hpp"
#include "firmware-host/job/history.hpp"
#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/json/shims.hpp"

namespace hangtrue::report {

inline std::string text_of(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

inline constexpr const char* kMarks =
    "\n[[mark]]\nname = \"lintel\"\nat = \"-400 mm\"\n[[mark]]\nname = \"column\"\nat = \"4600 mm\"\n";

class Site {
 public:
  /// A demo sheet (data/runs, data/kits), or texts of one's own.
  Site(std::string book_path, std::string run_path, const std::string& run_text, const std::string& kit_text)
      : run(*sheet::parse_run_sheet(run_text, run_path).sheet),
        kit(*sheet::parse_kit_sheet(kit_text, "kit.toml", run).sheet),
        path(std::move(book_path)),
        solved_(run),
        book_(book::Book::open(path).value()) {
    run_entry_ = append(book::RunText{std::move(run_path), run_text}, {});
    kit_entry_ = append(book::KitText{"kit.toml", kit_text}, {});
    for (std::size_t i = 0; i < run.supports.size(); ++i)
      state.offset[i] = {3e-4 * normal(), 0, 2e-4 * normal()};
    state.bending_factor = 1.02;
    state.bow_m[0] = 1e-4;
    state.move_stage = int(run.stages.size()) - 1;
  }

  double normal() { return normal_(random_); }

  book::Number append(book::Content content, std::optional<book::Number> of) {
    const auto number = book_.append(book::Entry{std::move(content), of, now});
    EXPECT_TRUE(number.ok()) << number.fault().says;
    now += std::chrono::seconds(2);
    return number.ok() ? number.value() : 0;
  }
  book::SealRecord seal() { return book_.seal().value(); }

  book::Number begin(const std::string& id, const std::string& stage) {
    stage_ = run.stage(stage);
    kit_state_.zero[0] = 1e-4;
    kit_state_.zero[1] = -2e-4;
    kit_state_.datum_height_m[0] = -1.4 + 0.01 * normal();
    kit_state_.datum_tilt_rad[0] = 1e-4;
    for (int i = 0; i < kMaxMarks; ++i) kit_state_.mark_height_m[i] = 0.3 + 0.05 * i;
    EXPECT_TRUE(solved_.solver().solve(state).ok());
    return append(book::SurveyBegun{id, stage, run_entry_, kit_entry_}, {});
  }
  /// The reading's entry. The instruments are those of data/kits/reading-room.toml.
  book::Number take(book::Number survey, Channel channel, double at_m, int face = 1, int mark = -1,
                    double wrong = 0, survey::Edge edge = survey::Edge::middle) {
    const bool distance = channel == Channel::distance;
    survey::Reading<double> reading;
    reading.channel = channel;
    reading.face = std::int8_t(face);
    reading.edge = edge;
    reading.at_m = at_m;
    reading.base_m = channel == Channel::slope ? 0.25 : 0;
    reading.zero = distance ? std::int16_t(-1) : std::int16_t(channel);
    reading.set_up = distance ? std::int16_t(0) : std::int16_t(-1);
    reading.mark = std::int16_t(mark);
    book::Taken taken;
    sheet::ReadingEntry& entry = taken.reading;
    entry.time = book::rfc3339(now);
    entry.channel = channel;
    entry.instrument = distance ? kit.instruments[1].name : kit.instruments[0].name;
    entry.set_up = distance ? "A" : "";
    entry.at_m = at_m;
    if (mark >= 0) entry.mark = run.marks[std::size_t(mark)].name;
    entry.face = face;
    entry.edge = edge;
    entry.base_m = reading.base_m;
    entry.sigma = distance ? 3e-4 : 2e-5;
    const survey::Scene<double> scene{&solved_.solver(), stage_, run.length_m, run.width_m};
    entry.value = survey::predicted(scene, reading, kit_state_) + entry.sigma * normal() + wrong;
    taken.samples = 10;
    taken.temperature_C = 20;
    return append(taken, survey);
  }
  /// Reads, `rounds` times: first every mark, then at every station slope and roll on both faces and a distance.
  void walk(book::Number survey, int rounds = 1) {
    append(book::SetUp{"A", -0.6}, survey);
    for (int round = 0; round < rounds; ++round) {
      for (std::size_t i = 0; i < run.marks.size(); ++i)
        take(survey, Channel::distance, run.marks[i].at_m, 1, int(i));
      for (const double at : run.stations_m) {
        for (const int face : {1, -1})
          for (const Channel channel : {Channel::slope, Channel::roll}) take(survey, channel, at, face);
        take(survey, Channel::distance, at, 1, -1, 0,
             round % 2 == 0 ? survey::Edge::middle : survey::Edge::left);
      }
    }
  }
  /// Writes the card of that survey as it stands into the book, and its moves up to number `made` as made.
  nlohmann::ordered_json card(const std::string& id, int made) {
    const std::vector<book::SurveyRecord> surveys = book_.surveys().value();
    for (const book::SurveyRecord& record : surveys) {
      if (record.begun.id != id) continue;
      const job::History history = job::fit_history(book_, run, record).value();
      job::SurveyFit& last = *history.last().session;
      nlohmann::ordered_json json = json::shims_json(run, last.report(), job::make_card(last).value());
      const book::Number card = append(book::Card{json.dump()}, record.number);
      for (const auto& move : json["moves"])
        if (move["order"].get<int>() <= made)
          append(book::MoveMade{card, move["order"].get<int>(), move["support"].get<std::string>(), true},
                 record.number);
      return json;
    }
    ADD_FAILURE() << "no survey " << id;
    return {};
  }

  sheet::RunSheet run;
  sheet::KitSheet kit;
  std::string path;
  beam::State<double> state;
  book::Time now = std::chrono::sys_days(std::chrono::year(2026) / 9 / 21) + std::chrono::hours(8);

 private:
  job::SolvedRun solved_;
  book::Book book_;
  book::Number run_entry_ = 0, kit_entry_ = 0;
  int stage_ = 0;
  survey::KitState<double> kit_state_;
  std::mt19937_64 random_{7};
  std::normal_distribution<double> normal_;
};

/// Survey "1" of the bare run has a stray reading, one set aside and one corrected, a card and moves. Survey "as-built" at
/// `stage` ends with a seal. A year later comes survey "later", when `sunk` stands lower by 1 mm; another year later survey
/// "last", when it stands lower by 2 mm.
struct Story {
  nlohmann::ordered_json card;
  book::SealRecord seal;
  std::string hand_reason = "knocked by the ladder", corrected_reason = "stood at the next station";
};
inline Story tell(Site& site, const std::string& bare, const std::string& stage, const std::string& sunk) {
  Story story;
  site.append(book::ZeroCheck{site.kit.instruments[0].name,
                              "slope",
                              {3e-4, 3.1e-4, 2.9e-4},
                              {1e-4, 0.9e-4, 1.1e-4},
                              1e-4,
                              8e-6,
                              20.0},
              {});
  site.append(
      book::DatumCheck{
          site.kit.instruments[1].name, 0.3, 3.9, {1.4}, {1.4}, {1.4}, {1.4}, 1.2e-4, 4e-5, 20.0},
      {});
  site.state.offset[0].roll += 1.5e-3;
  site.state.offset[site.run.support(sunk)].rise += 3e-3;
  const book::Number first = site.begin("1", bare);
  site.append(book::Note{"Lights on, doors leaning at the wall."}, first);
  site.walk(first);
  site.take(first, Channel::slope, 1.2, 1, -1, 0.004);  // stray
  const book::Number knocked = site.take(first, Channel::roll, 1.5, 1, -1, 0.003);
  site.append(book::SetAside{knocked, story.hand_reason}, first);
  const book::Number wrong = site.take(first, Channel::distance, 2.1);
  sheet::ReadingEntry by;
  by.time = book::rfc3339(site.now);
  by.instrument = site.kit.instruments[1].name;
  by.set_up = "A";
  by.channel = Channel::distance;
  by.at_m = 2.4;
  by.sigma = 3e-4;
  {
    const auto book = book::Book::open_to_read(site.path).value();
    by.value = std::get<book::Taken>(book.entry(wrong).value().content).reading.value;
  }
  site.append(book::Corrected{wrong, by, story.corrected_reason}, first);
  story.card = site.card("1", 9);
  site.append(book::SurveyClosed{}, first);
  site.state.offset[0].roll -= 1.5e-3;
  site.state.offset[site.run.support(sunk)].rise -= 3e-3;
  site.now += std::chrono::hours(26);
  const book::Number built = site.begin("as-built", stage);
  site.walk(built, 2);
  site.card("as-built", 0);
  site.append(book::SurveyClosed{}, built);
  story.seal = site.seal();
  for (const char* id : {"later", "last"}) {
    site.now += std::chrono::days(365);
    site.state.move[site.run.support(sunk)].rise -= 1e-3;
    const book::Number again = site.begin(id, stage);
    site.walk(again, 2);
    site.append(book::SurveyClosed{}, again);
  }
  return story;
}

}  // namespace hangtrue::report
