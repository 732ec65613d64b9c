#include "firmware-host/sheet/walk.hpp"

#include <fcntl.h>
#include <poll.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <charconv>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <sstream>
#include <thread>
#include <utility>

namespace hangtrue::sheet {
namespace {

constexpr std::size_t kLargestFile = 1 << 20;
// The TOML parser calls itself once a level. A sheet nested deeper than this is refused: it could exhaust the stack.
constexpr int kMostDotsInAKey = 32;

enum class ReadEnd { all, cannot, nobody_writes };

/// A pipe may wait so long for somebody who writes, and for his next word. No source: a program at the other end has started by
/// then; and works no longer between two lines.
constexpr std::chrono::milliseconds kWaitForWriter{2000}, kWaitForWord{10'000};

/// As much as a file may have, and a byte more.
ReadEnd read_file(const std::string& path, std::string& text) {
  // Not to wait in open() until somebody opens the other end of a pipe.
  const int file = ::open(path.c_str(), O_RDONLY | O_NONBLOCK | O_CLOEXEC);
  if (file < 0) return ReadEnd::cannot;
  struct stat is {};
  const bool pipe = ::fstat(file, &is) == 0 && S_ISFIFO(is.st_mode);
  constexpr std::chrono::milliseconds kLookAgain{20};
  std::chrono::milliseconds waited{0};
  text.resize(kLargestFile + 1);
  std::size_t size = 0;
  ReadEnd end = ReadEnd::all;
  while (size < text.size()) {
    const ssize_t read = ::read(file, text.data() + size, text.size() - size);
    if (read > 0) {
      size += static_cast<std::size_t>(read);
    } else if (read == 0) {
      if (!pipe || size > 0) break;
      if (waited >= kWaitForWriter) {
        end = ReadEnd::nobody_writes;
        break;
      }
      std::this_thread::sleep_for(kLookAgain);
      waited += kLookAgain;
    } else if (errno == EAGAIN) {
      pollfd more{file, POLLIN, 0};
      if (::poll(&more, 1, static_cast<int>(kWaitForWord.count())) == 0) {
        end = ReadEnd::nobody_writes;
        break;
      }
    } else if (errno != EINTR) {
      end = ReadEnd::cannot;
      break;
    }
  }
  ::close(file);  // it was only read
  text.resize(size);
  return end;
}

int line_of(const toml::node& node) { return static_cast<int>(node.source().begin.line); }

// Line of the first run of more than kMostDotsInAKey parts joined by dots (a.b.c.…), or 0.
int line_of_endless_key(std::string_view text) {
  int line = 1, dots = 0;
  bool part = false;
  for (const char c : text) {
    if (c == '\n') ++line;
    if (c == '.') {
      if (part && ++dots > kMostDotsInAKey) return line;
      part = false;
    } else if (std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_' || c == '-' || c == '"' ||
               c == '\'' || (static_cast<unsigned char>(c) & 0x80) != 0) {
      part = true;
    } else if (c != ' ' && c != '\t') {
      dots = 0;
      part = false;
    }
  }
  return 0;
}

std::size_t edits_between(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t corner = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t replaced = corner + (a[i - 1] == b[j - 1] ? 0 : 1);
      corner = row[j];
      row[j] = std::min({replaced, row[j] + 1, row[j - 1] + 1});
    }
  }
  return row[b.size()];
}

}  // namespace

void Sink::add(int line, std::string key, std::string found, std::string expected) {
  complaints.push_back({file, line, std::move(key), std::move(found), std::move(expected)});
}

std::string Sink::as_typed(const toml::node& node) const {
  const auto begin = node.source().begin, end = node.source().end;
  if (!node.is_number() || begin.line == 0 || begin.line != end.line) return shown(node);
  std::string_view rest = text;
  for (std::size_t line = 1; line < begin.line; ++line)
    rest.remove_prefix(std::min(rest.find('\n') + 1, rest.size()));
  rest = rest.substr(0, rest.find('\n'));
  // Columns count characters, of which each may take several bytes.
  const auto byte_of = [&rest](std::size_t column) {
    std::size_t at = 0;
    for (std::size_t seen = 1; at < rest.size(); ++at) {
      const bool begins = (static_cast<unsigned char>(rest[at]) & 0xC0) != 0x80;
      if (begins && seen++ == column) break;
    }
    return at;
  };
  const std::size_t from = byte_of(begin.column), to = byte_of(end.column);
  return from < to ? std::string(rest.substr(from, to - from)) : shown(node);
}

std::vector<Complaint> Sink::taken_in_order() {
  std::stable_sort(complaints.begin(), complaints.end(),
                   [](const Complaint& a, const Complaint& b) { return a.line < b.line; });
  return std::exchange(complaints, {});
}

namespace {

// Where the first byte stands that does not belong to well-formed UTF-8; text.size() if none.
// Source: RFC 3629, section 4 (syntax of UTF-8 byte sequences; from memory).
std::size_t first_not_utf8(std::string_view text) {
  const auto byte = [&](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0u; };
  for (std::size_t i = 0; i < text.size();) {
    const unsigned lead = byte(i);
    const std::size_t length = lead < 0x80                   ? 1
                               : lead >= 0xC2 && lead < 0xE0 ? 2
                               : lead >= 0xE0 && lead < 0xF0 ? 3
                               : lead >= 0xF0 && lead < 0xF5 ? 4
                                                             : 0;
    if (length == 0) return i;
    for (std::size_t k = 1; k < length; ++k) {
      const unsigned lowest = k != 1 ? 0x80u : lead == 0xE0 ? 0xA0u : lead == 0xF0 ? 0x90u : 0x80u;
      const unsigned highest = k != 1 ? 0xBFu : lead == 0xED ? 0x9Fu : lead == 0xF4 ? 0x8Fu : 0xBFu;
      if (byte(i + k) < lowest || byte(i + k) > highest) return i;
    }
    i += length;
  }
  return text.size();
}

}  // namespace

bool is_fit_text(std::string_view text, Sink& sink) {
  if (text.empty()) {
    sink.add(0, "", "an empty file", "a text file with something in it");
    return false;
  }
  if (text.size() > kLargestFile) {
    sink.add(0, "", "more than 1 MiB", "a text file of at most 1 MiB");
    return false;
  }
  if (text.find('\0') != std::string_view::npos) {
    sink.add(0, "", "bytes that are no text", "a text file in UTF-8");
    return false;
  }
  if (const std::size_t bad = first_not_utf8(text); bad != text.size()) {
    const std::string_view before = text.substr(0, bad);
    const auto line = 1 + std::count(before.begin(), before.end(), '\n');
    const std::size_t line_begin = before.rfind('\n') + 1;  // npos + 1: 0
    char byte[8];
    std::snprintf(byte, sizeof byte, "0x%02X", static_cast<unsigned>(static_cast<unsigned char>(text[bad])));
    sink.add(static_cast<int>(line), "",
             "the byte " + std::string(byte) + " at place " + std::to_string(bad - line_begin + 1) +
                 ", which is no UTF-8",
             "a text file in UTF-8");
    return false;
  }
  return true;
}

std::optional<std::string> read_text_file(const std::string& path, Sink& sink) {
  std::error_code error;
  const auto status = std::filesystem::status(path, error);
  if (status.type() == std::filesystem::file_type::not_found) {
    sink.add(0, "", "no such file", "the path of a file that is there");
    return std::nullopt;
  }
  if (std::filesystem::is_directory(status)) {
    sink.add(0, "", "a directory", "the path of a file");
    return std::nullopt;
  }
  std::string text;
  const ReadEnd end = read_file(path, text);
  if (end == ReadEnd::cannot) {
    sink.add(0, "", "a file that cannot be read", "a file that this user may read");
    return std::nullopt;
  }
  if (end == ReadEnd::nobody_writes) {
    sink.add(0, "", "a pipe into which nobody writes", "a file, or a pipe with a program at its other end");
    return std::nullopt;
  }
  if (!is_fit_text(text, sink)) return std::nullopt;
  return text;
}

std::optional<toml::table> parse_toml(std::string_view text, Sink& sink) {
  if (!is_fit_text(text, sink)) return std::nullopt;
  if (const int line = line_of_endless_key(text); line > 0) {
    sink.add(line, "", "a key of more than 32 parts", "keys of a few parts");
    return std::nullopt;
  }
  sink.text = text;
  try {
    return toml::parse(text);
  } catch (const toml::parse_error& error) {
    sink.add(static_cast<int>(error.source().begin.line), "",
             "text that is not TOML (" + std::string(error.description()) + ")",
             "TOML 1.0: key = value, texts in quotes, each key once");
  } catch (const std::exception& failure) {
    sink.add(0, "", "text that cannot be read as TOML (" + std::string(failure.what()) + ")",
             "TOML 1.0 of ordinary size and depth");
  }
  return std::nullopt;
}

std::string in_quotes(std::string_view text) {
  constexpr std::size_t kLongest = 60;
  std::string shown = "\"";
  std::size_t kept = 0;
  for (; kept < text.size() && kept < kLongest; ++kept) {
    const auto c = static_cast<unsigned char>(text[kept]);
    if (c < 0x20 || c == 0x7F) {
      constexpr char kHex[] = "0123456789abcdef";
      shown += std::string("\\x") + kHex[c >> 4] + kHex[c & 15];
    } else {
      shown += text[kept];
    }
  }
  if (kept < text.size()) {  // never half of a UTF-8 character
    while (kept > 0 && (static_cast<unsigned char>(text[kept]) & 0xC0) == 0x80 && shown.size() > 1) {
      shown.pop_back();
      --kept;
    }
    shown += "...";
  }
  return shown + "\"";
}

std::string shown(const toml::node& node) {
  if (const auto* text = node.as_string()) return in_quotes(text->get());
  if (node.is_table()) return "a table";
  if (node.is_array()) return "a list";
  if (const auto* flag = node.as_boolean()) return flag->get() ? "true" : "false";
  std::ostringstream out;
  out.imbue(std::locale::classic());
  node.visit([&out](const auto& value) {
    if constexpr (toml::is_value<decltype(value)>) out << value;
  });
  return out.str();
}

std::string any_of(const std::vector<std::string>& names) {
  std::string all;
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (i > 0) all += i + 1 < names.size() ? ", " : " or ";
    all += in_quotes(names[i]);
  }
  return all;
}

std::string nearest(std::string_view written, const std::vector<std::string>& names) {
  std::string best;
  constexpr std::size_t kLongest = 60;  // comparing costs the product of the lengths
  if (written.size() > kLongest) return best;
  std::size_t fewest = std::max<std::size_t>(1, written.size() / 3) + 1;
  for (const std::string& name : names) {
    if (name.size() > kLongest) continue;
    const std::size_t edits = edits_between(written, name);
    if (edits < fewest) {
      fewest = edits;
      best = name;
    }
  }
  return best;
}

bool Walk::has(std::string_view key) {
  if (std::find(asked_.begin(), asked_.end(), key) == asked_.end()) asked_.emplace_back(key);
  return table_->contains(key);
}

int Walk::line() const { return line_of(*table_) > 0 ? line_of(*table_) : line_; }

int Walk::line(std::string_view key) const {
  const toml::node* const found = table_->get(key);
  return found != nullptr && line_of(*found) > 0 ? line_of(*found) : line();
}

std::string Walk::path(std::string_view key) const {
  return path_.empty() ? std::string(key) : path_ + "." + std::string(key);
}

void Walk::complain(std::string_view key, std::string found, std::string expected) {
  sink_->add(line(key), path(key), std::move(found), std::move(expected));
}

void Walk::complain(std::string_view key, std::string expected) {
  const toml::node* const found = table_->get(key);
  complain(key, found != nullptr ? sink_->as_typed(*found) : "nothing", std::move(expected));
}

const toml::node* Walk::node(std::string_view key, Need need, std::string_view expected) {
  if (has(key)) return table_->get(key);
  if (need == Need::required) complain(key, "no such key", std::string(expected));
  return nullptr;
}

std::optional<double> Walk::quantity_of(const toml::node& node, const std::string& path, Kind kind,
                                        Sign sign) {
  const std::string expected = std::string(name(kind)) + " with its unit, " + std::string(example(kind));
  const int at = line_of(node) > 0 ? line_of(node) : line();
  const auto* const text = node.as_string();
  if (text == nullptr && node.is_number() && node.value<double>() == 0.0 && kind != Kind::temperature &&
      sign != Sign::positive && sign != Sign::not_zero)
    return 0.0;
  if (text == nullptr) {
    const bool plain = node.is_number();
    sink_->add(at, path, sink_->as_typed(node) + (plain ? " (a number without a unit)" : ""), expected);
    return std::nullopt;
  }
  const auto value = parse_quantity(text->get(), kind);
  if (!value) {
    sink_->add(at, path, in_quotes(text->get()) + " (" + value.fault().what + ")", expected);
    return std::nullopt;
  }
  if (sign == Sign::positive && !(value.value() > 0)) {
    sink_->add(at, path, in_quotes(text->get()), expected + ", more than 0");
    return std::nullopt;
  }
  if (sign == Sign::not_zero && value.value() == 0) {
    sink_->add(at, path, in_quotes(text->get()), expected + ", other than 0");
    return std::nullopt;
  }
  if (sign == Sign::not_negative && !(value.value() >= 0)) {
    sink_->add(at, path, in_quotes(text->get()), expected + ", not negative");
    return std::nullopt;
  }
  return value.value();
}

std::optional<double> Walk::quantity(std::string_view key, Kind kind, Need need, Sign sign) {
  const toml::node* const found =
      node(key, need, std::string(name(kind)) + " with its unit, " + std::string(example(kind)));
  if (found == nullptr) return std::nullopt;
  return quantity_of(*found, path(key), kind, sign);
}

std::optional<double> Walk::number(std::string_view key, Need need, double above, double below,
                                   const char* expected) {
  const toml::node* const found = node(key, need, expected);
  if (found == nullptr) return std::nullopt;
  const auto value = found->value<double>();
  if (!found->is_number() || !value || !std::isfinite(*value) || !(*value > above) || !(*value < below)) {
    complain(key, expected);
    return std::nullopt;
  }
  return value;
}

std::optional<double> Walk::share(std::string_view key, Need need, double above, double below,
                                  const char* expected) {
  const toml::node* const found = node(key, need, expected);
  if (found == nullptr) return std::nullopt;
  const auto* const text = found->as_string();
  if (text == nullptr) return number(key, need, above, below, expected);
  const auto value = parse_share(text->get());
  if (!value.ok() || !(value.value() > above) || !(value.value() < below)) {
    complain(key, in_quotes(text->get()) + (value.ok() ? "" : " (" + value.fault().what + ")"),
             std::string(expected) + ", or in percent, such as \"5 %\"");
    return std::nullopt;
  }
  return value.value();
}

std::optional<int> Walk::whole(std::string_view key, Need need, int least, int most) {
  const std::string expected = "a whole number from " + std::to_string(least) + " to " + std::to_string(most);
  const toml::node* const found = node(key, need, expected);
  if (found == nullptr) return std::nullopt;
  const auto* const value = found->as_integer();
  if (value == nullptr || value->get() < least || value->get() > most) {
    complain(key, expected);
    return std::nullopt;
  }
  return static_cast<int>(value->get());
}

std::optional<bool> Walk::flag(std::string_view key) {
  const toml::node* const found = node(key, Need::optional, "");
  if (found == nullptr) return std::nullopt;
  const auto* const value = found->as_boolean();
  if (value == nullptr) {
    complain(key, "true or false, without quotes");
    return std::nullopt;
  }
  return value->get();
}

std::optional<std::string> Walk::text(std::string_view key, Need need) {
  const toml::node* const found = node(key, need, "a text in quotes");
  if (found == nullptr) return std::nullopt;
  const auto* const value = found->as_string();
  const auto is_control = [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; };
  if (value == nullptr || value->get().find_first_not_of(" \t") == std::string::npos ||
      std::any_of(value->get().begin(), value->get().end(), is_control)) {
    complain(key, "a text in quotes, not empty, on one line");
    return std::nullopt;
  }
  return value->get();
}

std::optional<int> Walk::word(std::string_view key, Need need, std::initializer_list<const char*> words) {
  const std::string expected = any_of({words.begin(), words.end()});
  const toml::node* const found = node(key, need, expected);
  if (found == nullptr) return std::nullopt;
  if (const auto* const value = found->as_string()) {
    int index = 0;
    for (const char* const each : words) {
      if (value->get() == each) return index;
      ++index;
    }
  }
  complain(key, expected);
  return std::nullopt;
}

std::optional<Walk> Walk::table(std::string_view key, Need need) {
  const toml::node* const found = node(key, need, "a table");
  if (found == nullptr) return std::nullopt;
  const toml::table* const value = found->as_table();
  if (value == nullptr) {
    complain(key, "a table");
    return std::nullopt;
  }
  return Walk(*value, path(key), *sink_);
}

Walk Walk::standing_for(std::string_view key, const toml::table& table) const {
  Walk walk(table, path(key), *sink_);
  walk.line_ = line(key);
  return walk;
}

std::vector<Walk> Walk::tables(std::string_view key, Need need) {
  std::vector<Walk> all;
  const std::string expected = "one or more [[" + path(key) + "]]";
  const toml::node* const found = node(key, need, expected);
  if (found == nullptr) return all;
  const toml::array* const list = found->as_array();
  if (list == nullptr || (need == Need::required && list->empty())) {
    complain(key, expected);
    return all;
  }
  int index = 0;
  for (const toml::node& element : *list) {
    const std::string element_path = path(key) + "[" + std::to_string(++index) + "]";
    if (const toml::table* const value = element.as_table()) {
      all.emplace_back(*value, element_path, *sink_);
    } else {
      sink_->add(line_of(element), element_path, shown(element), "a table");
    }
  }
  return all;
}

std::vector<std::pair<std::string, Walk>> Walk::named_tables(std::string_view key) {
  std::vector<std::pair<std::string, Walk>> all;
  const auto parent = table(key, Need::optional);
  if (!parent) return all;
  for (const auto& [name, child] : *parent->table_) {
    const std::string child_path = path(key) + "." + std::string(name.str());
    if (const toml::table* const value = child.as_table()) {
      all.emplace_back(std::string(name.str()), Walk(*value, child_path, *sink_));
    } else {
      sink_->add(line_of(child), child_path, shown(child), "a table, [" + child_path + "]");
    }
  }
  return all;
}

std::vector<TextAt> Walk::texts(std::string_view key, Need need) {
  std::vector<TextAt> all;
  const toml::node* const found = node(key, need, "a list of names in quotes");
  if (found == nullptr) return all;
  const toml::array* const list = found->as_array();
  if (list == nullptr) {
    complain(key, "a list of names in quotes");
    return all;
  }
  int index = 0;
  for (const toml::node& element : *list) {
    const std::string element_path = path(key) + "[" + std::to_string(++index) + "]";
    if (const auto* const value = element.as_string()) {
      all.push_back({value->get(), line_of(element), element_path});
    } else {
      sink_->add(line_of(element), element_path, shown(element), "a name in quotes");
    }
  }
  return all;
}

std::optional<std::pair<double, double>> Walk::pair(std::string_view key, Kind kind, Need need) {
  const std::string expected =
      "a list of two, each " + std::string(name(kind)) + " with its unit, " + std::string(example(kind));
  const toml::node* const found = node(key, need, expected);
  if (found == nullptr) return std::nullopt;
  const toml::array* const list = found->as_array();
  if (list == nullptr || list->size() != 2) {
    complain(key, expected);
    return std::nullopt;
  }
  const auto first = quantity_of(*list->get(0), path(key) + "[1]", kind, Sign::any);
  const auto second = quantity_of(*list->get(1), path(key) + "[2]", kind, Sign::any);
  if (!first || !second) return std::nullopt;
  return std::pair{*first, *second};
}

void Walk::know(std::initializer_list<const char*> keys) {
  for (const char* const key : keys) (void)has(key);
}

void Walk::close() {
  for (const auto& [key, value] : *table_) {
    const std::string written(key.str());
    if (std::find(asked_.begin(), asked_.end(), written) != asked_.end()) continue;
    const std::string near = nearest(written, asked_);
    std::string expected = "no such key";
    if (!near.empty()) {
      expected += "; did you mean " + in_quotes(near) + "?";
    } else {
      std::vector<std::string> sorted = asked_;
      std::sort(sorted.begin(), sorted.end());
      expected += ", but " + any_of(sorted);
    }
    const int at = static_cast<int>(key.source().begin.line);
    sink_->add(at > 0 ? at : line_of(value), path(written), "an unknown key", expected);
  }
}

}  // namespace hangtrue::sheet
