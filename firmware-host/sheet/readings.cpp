#include "firmware-host/sheet/readings.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <ostream>

#include "core/quantity/limits.hpp"
#include "firmware-host/sheet/thresholds.hpp"
#include "firmware-host/sheet/walk.hpp"

namespace hangtrue::sheet {
namespace {

enum Column : std::size_t {
  time,
  set_up,
  instrument,
  channel,
  at,
  face,
  edge,
  value,
  unit,
  sigma,
  temperature,  // may be left out
  columns
};
constexpr std::array<std::string_view, columns> kColumns = {
    "time", "set_up", "instrument", "channel", "at", "face", "edge", "value", "unit", "sigma", "temperature"};
constexpr std::size_t kColumnsNeeded = temperature;
constexpr std::array<std::string_view, 3> kReadable = {word(Channel::slope), word(Channel::roll),
                                                       word(Channel::distance)};
constexpr std::array<std::string_view, 3> kEdges = {"right", "middle", "left"};
constexpr std::size_t kMostRows = 100000;

using Fields = std::vector<std::string>;
struct Record {
  Fields fields;
  int line = 0;
};

// RFC 4180, with LF as well as CRLF. Blank lines give a record of one empty field.
class CsvText {
 public:
  CsvText(std::string_view text, Sink& sink) : rest_(text), sink_(sink) {
    constexpr std::string_view kMark = "\xEF\xBB\xBF";
    if (rest_.substr(0, kMark.size()) == kMark) rest_.remove_prefix(kMark.size());
  }

  // The next record, or nothing at the end. A quote that is never closed is complained of and ends the text.
  std::optional<Record> next() {
    if (rest_.empty()) return std::nullopt;
    Record record;
    record.line = line_;
    for (;;) {
      record.fields.push_back(field());
      if (rest_.empty()) return record;
      const char c = rest_.front();
      rest_.remove_prefix(1);
      if (c == '\n') {
        ++line_;
        return record;
      }
    }
  }

 private:
  // One field; stops at the comma or line feed behind it.
  std::string field() {
    std::string text;
    if (!rest_.empty() && rest_.front() == '"') {
      const int opened = line_;
      rest_.remove_prefix(1);
      for (;;) {
        if (rest_.empty()) {
          sink_.add(opened, "", "a quote that is never closed", "a second \" at the end of the field");
          return text;
        }
        const char c = rest_.front();
        rest_.remove_prefix(1);
        if (c == '\n') ++line_;
        if (c != '"') {
          text += c;
        } else if (!rest_.empty() && rest_.front() == '"') {
          text += '"';
          rest_.remove_prefix(1);
        } else {
          break;
        }
      }
    }
    while (!rest_.empty() && rest_.front() != ',' && rest_.front() != '\n') {
      text += rest_.front();
      rest_.remove_prefix(1);
    }
    if ((rest_.empty() || rest_.front() == '\n') && !text.empty() && text.back() == '\r') text.pop_back();
    return text;
  }

  std::string_view rest_;
  Sink& sink_;
  int line_ = 1;
};

bool is_blank(const Record& record) {
  return record.fields.size() == 1 && record.fields[0].find_first_not_of(" \t") == std::string::npos;
}

std::string trimmed(const std::string& text) {
  const auto from = text.find_first_not_of(" \t");
  if (from == std::string::npos) return "";
  return text.substr(from, text.find_last_not_of(" \t") - from + 1);
}

std::string names(const auto& list) {
  std::vector<std::string> all;
  for (const std::string_view name : list) all.emplace_back(name);
  return any_of(all);
}

std::optional<int> index_of(const auto& list, const std::string& text) {
  const auto found = std::find(list.begin(), list.end(), text);
  if (found == list.end()) return std::nullopt;
  return static_cast<int>(found - list.begin());
}

// The channel of that word, if it is one that can have readings.
std::optional<Channel> readable(const std::string& text) {
  const auto channel = channel_named(text);
  return channel && is_measured_of_run(*channel) ? channel : std::nullopt;
}

// The least sigma and the greatest value that are believed. No source: no instrument for this work resolves as little or reads
// as far.
constexpr double kLeastSigma = 1e-9;  // m or rad
double greatest(Channel channel) { return channel == Channel::distance ? 1000.0 : 1.0; }
// Between which a temperature beside a run is believed. No source: nobody works beyond.
constexpr double kColdest_C = -50, kHottest_C = 80;

// RFC 3339, date-time.
bool is_time(const std::string& text) {
  int year = 0, month = 0, day = 0, hour = 0, minute = 0, second = 0, end = 0;
  if (std::sscanf(text.c_str(), "%4d-%2d-%2dT%2d:%2d:%2d%n", &year, &month, &day, &hour, &minute, &second,
                  &end) != 6 ||
      end != 19)
    return false;
  const std::chrono::year_month_day date{std::chrono::year(year),
                                         std::chrono::month(static_cast<unsigned>(month)),
                                         std::chrono::day(static_cast<unsigned>(day))};
  if (!date.ok() || hour < 0 || hour > 23 || minute < 0 || minute > 59 || second < 0 || second > 60)
    return false;
  std::string_view rest = std::string_view(text).substr(19);
  if (!rest.empty() && rest.front() == '.') {
    const std::size_t digits = std::min(rest.find_first_not_of("0123456789", 1), rest.size());
    if (digits < 2) return false;
    rest.remove_prefix(digits);
  }
  if (rest == "Z") return true;
  int off_hour = 0, off_minute = 0, off_end = 0;
  return rest.size() == 6 && (rest.front() == '+' || rest.front() == '-') &&
         std::sscanf(std::string(rest.substr(1)).c_str(), "%2d:%2d%n", &off_hour, &off_minute, &off_end) ==
             2 &&
         off_end == 5 && off_hour <= 23 && off_minute <= 59;
}

class ReadingsReader {
 public:
  ReadingsReader(std::string_view text, const std::string& shown_name, const RunSheet& run,
                 const KitSheet* kit)
      : text_(text), run_(run), kit_(kit) {
    sink_.file = shown_name;
  }

  ReadingsOrComplaints read() {
    std::vector<ReadingEntry> entries;
    if (is_fit_text(text_, sink_)) {
      CsvText csv(text_, sink_);
      const Record header = csv.next().value_or(Record{{""}, 1});  // a text may be a byte order mark alone
      if (is_header(header)) {
        std::optional<Record> blank;
        while (const auto record = csv.next()) {
          if (is_remark(*record)) {
            read_remark(*record);
            continue;
          }
          ++row_;
          if (is_blank(*record)) {
            if (!blank) blank = *record;
            continue;
          }
          if (blank) sink_.add(blank->line, "", "an empty line between readings", "one reading a line");
          blank.reset();
          if (entries.size() == kMostRows) {
            sink_.add(record->line, "", "more than " + std::to_string(kMostRows) + " readings",
                      "at most as many");
            break;
          }
          entries.push_back(read_row(*record));
        }
        if (entries.empty() && sink_.complaints.empty())
          sink_.add(0, "", "empty readings", "at least one line after the header");
      }
    }
    if (sink_.complaints.empty()) return {std::move(entries), {}, std::move(remarks_), starts_at_};
    return {std::nullopt, std::move(sink_.complaints), {}, {}};
  }

 private:
  static bool is_remark(const Record& record) { return trimmed(record.fields[0]).starts_with('#'); }

  // "# lift one bears", "# lift one hangs free", "# start at wall bracket".
  void read_remark(const Record& record) {
    std::string text;
    for (const std::string& field : record.fields) text += (text.empty() ? "" : ",") + field;
    text = trimmed(trimmed(text).substr(1));
    for (const SupportEntry& support : run_.supports) {
      for (const bool bears : {true, false})
        if (text == support.name + (bears ? " bears" : " hangs free")) {
          remarks_.push_back({support.name, bears});
          return;
        }
      if (text == "start at " + support.name) {
        starts_at_ = support.name;
        return;
      }
    }
    sink_.add(record.line, "remark", in_quotes("# " + text),
              "\"# SUPPORT bears\" or \"# SUPPORT hangs free\": what was found by hand; or \"# start at "
              "SUPPORT\": where the places begin; of a support of the run sheet");
  }

  bool is_header(const Record& record) {
    std::string expected;
    for (std::size_t i = 0; i < kColumnsNeeded; ++i)
      expected += (expected.empty() ? "" : ",") + std::string(kColumns[i]);
    expected += "; one more may follow: " + std::string(kColumns[temperature]);
    Fields found;
    for (const std::string& field : record.fields) found.push_back(trimmed(field));
    columns_ = found.size() == columns ? std::size_t(columns) : kColumnsNeeded;
    if (std::equal(found.begin(), found.end(), kColumns.begin(),
                   kColumns.begin() + static_cast<std::ptrdiff_t>(columns_)))
      return true;
    for (std::size_t i = 0; i < found.size(); ++i) {
      if (std::find(kColumns.begin(), kColumns.end(), found[i]) == kColumns.end()) continue;
      if (std::find(found.begin(), found.begin() + static_cast<std::ptrdiff_t>(i), found[i]) !=
          found.begin() + static_cast<std::ptrdiff_t>(i)) {
        sink_.add(record.line, "readings header", "the column " + in_quotes(found[i]) + " twice", expected);
        return false;
      }
    }
    if (found.size() > kColumnsNeeded &&
        std::equal(kColumns.begin(), kColumns.begin() + kColumnsNeeded, found.begin())) {
      const std::size_t wrong =
          found[temperature] == kColumns[temperature] ? std::size_t(columns) : temperature;
      sink_.add(record.line, "readings header",
                in_quotes(found[wrong]) + " as column " + std::to_string(wrong + 1), expected);
      return false;
    }
    std::string written = found.size() < 3 || found[0].empty() ? "a first line that is no header: " : "";
    for (const std::string& field : found) written += (written.empty() ? "" : ",") + field;
    sink_.add(record.line, "readings header", in_quotes(written), expected);
    return false;
  }

  void complain(const Record& record, Column column, std::string found, std::string expected) {
    sink_.add(record.line, "row " + std::to_string(row_) + " column " + std::string(kColumns[column]),
              std::move(found), std::move(expected));
  }

  ReadingEntry read_row(const Record& record) {
    ReadingEntry entry;
    if (record.fields.size() != columns_) {
      sink_.add(record.line, "row " + std::to_string(row_), std::to_string(record.fields.size()) + " fields",
                std::to_string(columns_) + ", as in the header");
      return entry;
    }
    Fields field;
    for (const std::string& each : record.fields) field.push_back(trimmed(each));
    for (std::size_t i = 0; i < columns_; ++i) {
      const auto is_control = [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; };
      if (std::any_of(field[i].begin(), field[i].end(), is_control))
        complain(record, static_cast<Column>(i), in_quotes(field[i]), "text without control characters");
    }
    entry.time = field[time];
    if (!entry.time.empty() && !is_time(entry.time))
      complain(record, time, in_quotes(entry.time),
               "nothing, or a time as in RFC 3339: 2026-09-14T08:30:00Z");
    entry.set_up = field[set_up];
    entry.instrument = field[instrument];
    if (entry.instrument.empty()) complain(record, instrument, "nothing", "the instrument's name");

    const auto gives = readable(field[channel]);
    if (gives)
      entry.channel = *gives;
    else
      complain(record, channel, in_quotes(field[channel]), names(kReadable));
    read_place(record, field, entry);
    if (field[face] == "-1")
      entry.face = -1;
    else if (!field[face].empty() && field[face] != "1" && field[face] != "+1")
      complain(record, face, in_quotes(field[face]), "1, -1 or nothing");
    if (const auto index = index_of(kEdges, field[edge]))
      entry.edge = static_cast<survey::Edge>(*index - 1);
    else if (!field[edge].empty())
      complain(record, edge, in_quotes(field[edge]), "\"left\", \"middle\", \"right\" or nothing");
    if (gives) {
      const KitChannel* const kit_channel = find_in_kit(record, field, entry);
      read_value(record, field, entry);
      read_sigma(record, field, entry, kit_channel);
      if (entry.channel == Channel::distance && entry.set_up.empty())
        complain(record, set_up, "nothing",
                 "the name of the datum's set-up, such as \"A\": distances of one set-up share its height "
                 "and tilt");
    }
    if (columns_ > temperature && !field[temperature].empty()) read_temperature(record, field, entry);
    return entry;
  }

  void read_temperature(const Record& record, const Fields& field, ReadingEntry& entry) {
    const auto read = parse_quantity(field[temperature], Kind::temperature);
    if (!read)
      complain(record, temperature, in_quotes(field[temperature]) + " (" + read.fault().what + ")",
               "nothing, or the temperature of the air beside the run with its unit, " +
                   std::string(example(Kind::temperature)));
    else if (!(read.value() >= kColdest_C && read.value() <= kHottest_C))
      complain(record, temperature, in_quotes(field[temperature]),
               "a temperature in which somebody works: -50 C to 80 C");
    else
      entry.temperature_C = read.value();
  }

  void read_place(const Record& record, const Fields& field, ReadingEntry& entry) {
    const std::string& text = field[at];
    if (const int mark = run_.mark(text); mark >= 0) {
      entry.mark = text;
      entry.at_m = run_.marks[static_cast<std::size_t>(mark)].at_m;
      // A word that is no channel at all was complained of in its own column.
      if (const auto gives = readable(field[channel]); gives && *gives != Channel::distance)
        complain(record, channel, in_quotes(field[channel]) + " at the mark " + in_quotes(text),
                 "\"distance\": nothing else can be read at a mark, which is off the run");
      for (const Column column : {face, edge})
        if (!field[column].empty())
          complain(record, column, in_quotes(field[column]) + " at the mark " + in_quotes(text),
                   "nothing: a mark is off the run, and has no such thing");
      return;
    }
    const auto place = parse_quantity(text, Kind::length);
    if (!place) {
      std::vector<std::string> marks;
      for (const Mark& each : run_.marks) marks.push_back(each.name);
      complain(record, at, in_quotes(text) + " (" + place.fault().what + ")",
               "a place along the run with its unit, " + std::string(example(Kind::length)) +
                   (marks.empty() ? std::string() : "; or a mark of the run sheet: " + any_of(marks)));
      return;
    }
    if (!(place.value() >= -kSamePlace_m && place.value() <= run_.length_m + kSamePlace_m)) {
      complain(record, at, in_quotes(text),
               "a place on the run, from 0 to " + show_length(run_.length_m, run_.show));
      return;
    }
    entry.at_m = std::clamp(place.value(), 0.0, run_.length_m);
  }

  const KitChannel* find_in_kit(const Record& record, const Fields& field, ReadingEntry& entry) {
    if (kit_ == nullptr || entry.instrument.empty()) return nullptr;
    std::vector<std::string> instruments;
    for (const KitInstrument& each : kit_->instruments) instruments.push_back(each.name);
    if (!index_of(instruments, entry.instrument)) {
      complain(record, instrument, in_quotes(entry.instrument),
               "an instrument of the kit sheet: " + any_of(instruments));
      return nullptr;
    }
    const KitChannel* const found = kit_->find(entry.instrument, entry.channel);
    if (found == nullptr)
      complain(record, channel, in_quotes(field[channel]),
               "a channel that the kit sheet has for " + in_quotes(entry.instrument));
    else
      entry.base_m = found->base_m;
    return found;
  }

  void read_value(const Record& record, const Fields& field, ReadingEntry& entry) {
    const Kind kind = kind_of(entry.channel);
    const auto number = parse_number(field[value]);
    if (!number) {
      complain(record, value, in_quotes(field[value]) + " (" + number.fault().what + ")",
               "a plain number; its unit stands in the column unit");
      return;
    }
    const auto converted = convert(number.value(), field[unit], kind);
    if (!converted)
      complain(record, unit, in_quotes(field[unit]) + " (" + converted.fault().what + ")",
               kind == Kind::length ? "mm, cm, m, in or ft" : "mm/m, in/ft, deg or rad");
    else if (!(std::abs(converted.value()) <= greatest(entry.channel)))
      complain(record, value, in_quotes(field[value]) + ' ' + field[unit],
               kind == Kind::length ? "a distance of at most 1 km" : "a slope or roll of at most 1 in 1");
    else
      entry.value = converted.value();
  }

  void read_sigma(const Record& record, const Fields& field, ReadingEntry& entry,
                  const KitChannel* kit_channel) {
    if (field[sigma].empty()) {
      if (kit_channel != nullptr)
        entry.sigma = kit_channel->sigma;
      else if (kit_ == nullptr)
        complain(record, sigma, "nothing, and no kit sheet to take it from",
                 "one standard deviation, in the unit of the column unit or with its own");
      return;
    }
    const Kind kind = kind_of(entry.channel);
    const auto plain = parse_number(field[sigma]);
    const auto converted =
        plain ? convert(plain.value(), field[unit], kind) : parse_quantity(field[sigma], kind);
    if (!converted) {
      // A unit that does not fit was complained of in its own column.
      if (!plain)
        complain(record, sigma, in_quotes(field[sigma]) + " (" + converted.fault().what + ")",
                 "one standard deviation, a plain number or " + std::string(name(kind)) + " with its unit");
    } else if (!(converted.value() >= kLeastSigma && converted.value() <= greatest(entry.channel))) {
      complain(record, sigma, in_quotes(field[sigma]),
               converted.value() > 0 ? "a sigma that an instrument can have: at least a nanometre or a "
                                       "nanoradian, and less than its range"
                                     : "more than 0");
    } else {
      entry.sigma = converted.value();
    }
  }

  std::string_view text_;
  const RunSheet& run_;
  const KitSheet* kit_;
  Sink sink_;
  std::vector<BearingRemark> remarks_;
  std::string starts_at_;
  int row_ = 0;
  std::size_t columns_ = kColumnsNeeded;  // that the header has
};

// As RFC 4180 wants it: in quotes where a comma, a quote or a line end is inside.
std::string csv_field(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
  return quoted + "\"";
}

std::string number(double value) {
  std::array<char, 40> text{};
  const auto [end, error] = std::to_chars(text.data(), text.data() + text.size(), value);
  return {text.data(), end};
}

}  // namespace

ReadingsOrComplaints parse_readings(std::string_view text, const std::string& shown_name, const RunSheet& run,
                                    const KitSheet* kit) {
  return ReadingsReader(text, shown_name, run, kit).read();
}

ReadingsOrComplaints read_readings(const std::string& path, const RunSheet& run, const KitSheet* kit) {
  Sink sink;
  sink.file = path;
  const auto text = read_text_file(path, sink);
  if (!text) return {std::nullopt, std::move(sink.complaints), {}};
  return parse_readings(*text, path, run, kit);
}

Survey make_survey(std::vector<ReadingEntry> entries, const KitSheet* kit, std::span<const Mark> marks) {
  Survey survey;
  const auto index_in = [](std::vector<std::string>& list, const std::string& name) {
    const auto found = std::find(list.begin(), list.end(), name);
    const auto index = static_cast<std::int16_t>(found - list.begin());
    if (found == list.end()) list.push_back(name);
    return index;
  };
  for (const ReadingEntry& entry : entries) {
    survey::Reading<double> reading;
    reading.channel = entry.channel;
    reading.edge = entry.edge;
    reading.face = static_cast<std::int8_t>(entry.face);
    reading.at_m = entry.at_m;
    reading.base_m = entry.base_m;
    reading.value = entry.value;
    reading.sigma = entry.sigma;
    if (!entry.mark.empty()) {
      const auto mark =
          std::find_if(marks.begin(), marks.end(), [&](const Mark& each) { return each.name == entry.mark; });
      // A mark that the sheet does not have gets an index that every fit refuses.
      reading.mark = static_cast<std::int16_t>(mark == marks.end() ? kMaxMarks : mark - marks.begin());
    }
    if (entry.channel == Channel::distance) reading.set_up = index_in(survey.set_ups, entry.set_up);
    const KitChannel* const channel = kit != nullptr ? kit->find(entry.instrument, entry.channel) : nullptr;
    const double zero_sigma = channel != nullptr                   ? channel->zero_sigma
                              : entry.channel == Channel::distance ? 0.0
                                                                   : kUnknownZeroSigma_rad;
    if (zero_sigma > 0) {
      reading.zero = index_in(survey.zeros, entry.instrument + " " + std::string(word(entry.channel)));
      if (survey.zero_sigmas.size() < survey.zeros.size()) survey.zero_sigmas.push_back(zero_sigma);
    }
    survey.readings.push_back(reading);
  }
  survey.entries = std::move(entries);
  return survey;
}

void write_readings(std::ostream& out, const std::vector<ReadingEntry>& entries) {
  const bool warm = std::any_of(entries.begin(), entries.end(),
                                [](const ReadingEntry& each) { return each.temperature_C.has_value(); });
  for (std::size_t i = 0; i < (warm ? columns : kColumnsNeeded); ++i)
    out << (i > 0 ? "," : "") << kColumns[i];
  out << "\r\n";
  for (const ReadingEntry& entry : entries) {
    const bool is_length = entry.channel == Channel::distance;
    out << csv_field(entry.time) << ',' << csv_field(entry.set_up) << ',' << csv_field(entry.instrument)
        << ',' << word(entry.channel) << ',';
    if (entry.mark.empty())
      out << number(entry.at_m) << " m," << (entry.face < 0 ? "-1" : "1") << ','
          << kEdges[static_cast<std::size_t>(static_cast<int>(entry.edge) + 1)];
    else
      out << csv_field(entry.mark) << ",,";
    out << ',' << number(entry.value) << ',' << (is_length ? "m" : "rad") << ',' << number(entry.sigma);
    if (warm) out << ',' << (entry.temperature_C ? number(*entry.temperature_C) + " C" : std::string());
    out << "\r\n";
  }
}

}  // namespace hangtrue::sheet
