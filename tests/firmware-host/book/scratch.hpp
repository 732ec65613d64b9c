// scratch.hpp: books in a directory of their own, and entries to fill them with.
#pragma once

#include <gtest/gtest.h>
#include <sqlite3.h>
#include <stdlib.h>

#include <filesystem>
#include <string>
#include <string_view>

#include "firmware-host/book/book.hpp"

namespace hangtrue::book {

class Scratch {
 public:
  Scratch() {
    std::string pattern = (std::filesystem::temp_directory_path() / "hangtrue-book-XXXXXX").string();
    if (::mkdtemp(pattern.data()) == nullptr) ADD_FAILURE() << "cannot make " << pattern;
    directory_ = pattern;
  }
  ~Scratch() {
    std::error_code ignored;  // a leftover in the temporary directory fails no test
    std::filesystem::remove_all(directory_, ignored);
  }
  Scratch(const Scratch&) = delete;
  Scratch& operator=(const Scratch&) = delete;
  [[nodiscard]] std::string operator/(std::string_view name) const { return (directory_ / name).string(); }
  [[nodiscard]] std::string directory() const { return directory_.string(); }
  [[nodiscard]] std::string book() const { return *this / "B.levelbook"; }

 private:
  std::filesystem::path directory_;
};

/// Any time will do, but always the same one.
inline const Time kMorning{std::chrono::microseconds(1'789'374'600'250'000)};

inline Taken reading(double value) {
  return {.reading = {.time = "2026-09-14T08:30:00.250000Z",
                      .set_up = "1",
                      .instrument = "walking inclinometer",
                      .channel = survey::Channel::slope,
                      .at_m = 1.2,
                      .face = -1,
                      .edge = survey::Edge::left,
                      .value = value,
                      .sigma = 2e-5,
                      .base_m = 0.25},
          .samples = 20,
          .spread = 1.5e-5,
          .temperature_C = 19.25};
}

/// A book with two sheets (entries 1, 2), one survey begun (3) and `readings` readings (4 ...).
inline Number fill(Book& book, int readings) {
  EXPECT_TRUE(book.append(Entry{RunText{"shelf.toml", "title = \"shelf\"\n"}, std::nullopt, kMorning}).ok());
  EXPECT_TRUE(book.append(Entry{KitText{"kit.toml", "[[instrument]]\n"}, std::nullopt, kMorning}).ok());
  const auto survey = book.append(Entry{SurveyBegun{"1", "hung", 1, 2}, std::nullopt, kMorning});
  EXPECT_TRUE(survey.ok());
  for (int i = 0; i < readings; ++i)
    EXPECT_TRUE(book.append(Entry{reading(0.001 * i), survey.value(), kMorning}).ok());
  return survey.value();
}

/// The file as its owner could tamper with it.
inline void sql(const std::string& path, const std::string& text) {
  sqlite3* connection = nullptr;
  ASSERT_EQ(sqlite3_open(path.c_str(), &connection), SQLITE_OK);
  char* message = nullptr;
  EXPECT_EQ(sqlite3_exec(connection, text.c_str(), nullptr, nullptr, &message), SQLITE_OK)
      << text << ": " << message;
  sqlite3_free(message);
  sqlite3_close(connection);
}

}  // namespace hangtrue::book
