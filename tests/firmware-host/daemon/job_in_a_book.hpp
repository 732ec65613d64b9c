// job_in_a_book.hpp: a survey log over a book of its own, which may be started anew as a daemon does it.
#pragma once

#include <gtest/gtest.h>
#include <stdlib.h>

#include <filesystem>
#include <fstream>
#include <optional>
#include <string>
#include <system_error>
#include <vector>

#include "firmware-host/daemon/survey_log.hpp"
#include "tests/firmware-host/daemon/bench.hpp"

namespace hangtrue::daemon {

inline book::Taken reading(const char* stage_time) {
  return {.reading = {.time = stage_time,
                      .set_up = "",
                      .instrument = "level",
                      .channel = Channel::slope,
                      .at_m = 1.0,
                      .face = 1,
                      .edge = survey::Edge::left,
                      .value = 1e-3,
                      .sigma = 2e-5,
                      .base_m = 0.25},
          .samples = 20,
          .spread = 1e-5,
          .temperature_C = {}};
}

/// A book of its own, and a log that may be started anew over it.
class JobInABook : public ::testing::Test {
 protected:
  JobInABook() {
    std::string pattern = (std::filesystem::temp_directory_path() / "hangtrue-log-XXXXXX").string();
    if (::mkdtemp(pattern.data()) == nullptr) ADD_FAILURE() << "cannot make " << pattern;
    directory_ = pattern;
    sheets_ = sheets(kRunText);
    start("hung");
  }
  ~JobInABook() override {
    log_.reset();
    std::error_code ignored;  // a leftover in the temporary directory fails no test
    std::filesystem::remove_all(directory_, ignored);
  }

  [[nodiscard]] Sheets sheets(const std::string& run_text) const {
    std::ofstream(directory_ / "run.toml") << run_text;
    std::ofstream(directory_ / "kit.toml") << kit_text("/dev/null");
    auto loaded = load_sheets((directory_ / "run.toml").string(), (directory_ / "kit.toml").string());
    if (const auto* const wrong = std::get_if<std::vector<sheet::Complaint>>(&loaded))
      ADD_FAILURE() << wrong->at(0).text();
    return std::get<Sheets>(std::move(loaded));
  }
  /// As a daemon does that begins, or was ended and started anew.
  void start(const std::string& stage) {
    log_.reset();
    const std::string path = (directory_ / "B.levelbook").string();
    auto book = book::Book::open(path);
    ASSERT_TRUE(book.ok()) << book.fault().says;
    log_.emplace(std::move(book).value(), path, [](bool, const std::string& says) { ADD_FAILURE() << says; });
    ASSERT_TRUE(log_->begin(sheets_, stage, "").ok());
  }
  book::Number append(const book::Content& content) {
    const auto number = log_->append({content});
    EXPECT_TRUE(number.ok()) << number.fault().says;
    return number.ok() ? number.value() : 0;
  }
  void read() { append(reading("2026-09-14T08:30:00.250000Z")); }
  void next(const std::string& stage) { ASSERT_TRUE(log_->begin_next(stage).ok()); }
  /// By the cards of the first survey.
  std::vector<std::string> moved_before() {
    const auto kept = log_->survey("1", sheets_);
    EXPECT_TRUE(kept.ok() && kept.value() && kept.value()->history);
    return kept.value()->history->last().moved;
  }

  std::filesystem::path directory_;
  Sheets sheets_;
  std::optional<SurveyLog> log_;
};

}  // namespace hangtrue::daemon
