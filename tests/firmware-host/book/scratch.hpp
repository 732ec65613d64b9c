// scratch.hpp: books in a directory of their own, and entries to fill them with.
#pragma once

#include <gtest/gtest.h>
#include <sqlite3.h>
#include <stdlib.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

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
                      .channel = Channel::slope,
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

/// fill(), then one of every other kind of entry: 18 kinds in 22 entries, the seal the last. Returns the survey.
inline Number fill_with_every_kind(Book& book) {
  const Number survey = fill(book, 2);  // entries 1 ... 5
  sheet::ReadingEntry by = reading(0.002).reading;
  by.at_m = 2.4;
  const auto append = [&book](Content content, std::optional<Number> of) {
    const auto number = book.append(Entry{std::move(content), of, kMorning});
    EXPECT_TRUE(number.ok()) << number.fault().says;
  };
  append(SetUp{"A", std::nullopt}, survey);
  append(SetUp{"B", -0.75}, survey);
  append(Samples{"walking inclinometer", "slope", kMorning, {0, 100'000}, {1e-3, 1.0 / 3.0}}, survey);
  append(SetAside{4, "knocked"}, survey);
  append(PutBack{4, "it was not"}, survey);
  append(Corrected{5, by, "wrong station"}, survey);
  append(ZeroCheck{"walking inclinometer", "slope", {3e-4, 3.1e-4}, {2.9e-4, 2.8e-4}, 2.95e-4, 6e-6, 21.5},
         survey);
  append(ZeroCheck{"walking inclinometer", "roll", {1e-4}, {-1e-4}, 0, 2e-5, std::nullopt}, std::nullopt);
  append(
      DatumCheck{
          "laser", 0.2, 4.0, {-1.2}, {-1.201}, {-1.3, -1.3001}, {-1.3012, -1.3011}, -2.5e-4, 4e-5, 19.0},
      std::nullopt);
  append(ClockJump{-3600.5}, survey);
  append(Card{R"({"hold_point":"shim first","moves":[{"order":1,"support":"post"},)"
              R"({"order":2,"support":"near \"lift\""}]})"},
         survey);
  append(MoveMade{16, 2, "near \"lift\"", true}, survey);
  append(MoveMade{16, 1, "post", false}, survey);
  append(ScaleCheck{"walking inclinometer",
                    "slope",
                    {1e-3, 1.1e-3},
                    {0.021, 0.0212},
                    0.005,
                    0.25,
                    1.0025,
                    0.005,
                    true,
                    std::string(64, 'a'),
                    21.25},
         survey);
  append(Note{"lift moved \xE2\x80\x94 by hand"}, survey);
  append(SurveyClosed{}, survey);
  EXPECT_TRUE(book.seal().ok());
  return survey;
}
inline constexpr Number kEveryKind = 22;  // entries of such a book

/// All rows as they lie in the file, whatever the book's own rules say; nothing when it cannot be read through.
inline std::optional<std::string> rows_of(const std::string& path) {
  sqlite3* connection = nullptr;
  sqlite3_stmt* statement = nullptr;
  std::optional<std::string> rows;
  if (sqlite3_open_v2(path.c_str(), &connection, SQLITE_OPEN_READONLY, nullptr) == SQLITE_OK &&
      sqlite3_prepare_v2(
          connection, "SELECT number, survey, refers_to, kind, time, body, hash FROM entry ORDER BY number",
          -1, &statement, nullptr) == SQLITE_OK) {
    rows.emplace();
    int code = SQLITE_OK;
    while ((code = sqlite3_step(statement)) == SQLITE_ROW)
      for (int column = 0; column < 7; ++column) {
        const auto* const text = reinterpret_cast<const char*>(sqlite3_column_text(statement, column));
        *rows += text == nullptr
                     ? "-"
                     : std::string(text, static_cast<std::size_t>(sqlite3_column_bytes(statement, column)));
        *rows += column < 6 ? '|' : '\n';
      }
    if (code != SQLITE_DONE) rows.reset();
  }
  sqlite3_finalize(statement);
  sqlite3_close(connection);
  return rows;
}

inline std::string bytes_of(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}
inline void write_bytes(const std::string& path, std::string_view bytes) {
  std::ofstream(path, std::ios::binary).write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
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
