#include "firmware-host/say/keys.hpp"

#include "firmware-host/sheet/unit_names.hpp"

namespace hangtrue::say {
namespace {

constexpr std::size_t kWidth = 100;

// Words behind a label, broken into lines that go on below their beginning.
std::string labelled(const std::string& label, std::string_view words) {
  constexpr std::size_t kIndent = 13;
  std::string all;
  std::string line = "  " + label + std::string(kIndent - 2 - label.size(), ' ');
  while (!words.empty()) {
    const std::size_t end = words.find_first_of(" \n");
    const std::string_view next = words.substr(0, end);
    if (line.size() + next.size() > kWidth && line.size() > kIndent) {
      all += line.substr(0, line.find_last_not_of(' ') + 1) + '\n';
      line = std::string(kIndent, ' ');
    }
    line += std::string(next) + ' ';
    if (end == std::string_view::npos) break;
    if (words[end] == '\n') {
      all += line.substr(0, line.find_last_not_of(' ') + 1) + '\n';
      line = std::string(kIndent, ' ');
    }
    words.remove_prefix(end + 1);
  }
  return all + line.substr(0, line.find_last_not_of(' ') + 1) + '\n';
}

const sheet::Section& section_of(const sheet::Key& key) {
  for (const sheet::Section& each : sheet::sections())
    if (each.sheet == key.sheet && each.name == key.section) return each;
  return sheet::sections().front();
}

}  // namespace

std::string sheet_name(sheet::SheetSort sort) {
  return sort == sheet::SheetSort::run ? "run sheet" : "kit sheet";
}

std::string needed_words(const sheet::Key& key) {
  const std::string only(key.only);
  if (key.must == sheet::Must::always) return only.empty() ? "needed" : "needed: " + only;
  std::string words = key.must == sheet::Must::depends ? "needed: " + only : "may be left out";
  if (key.must == sheet::Must::may && !only.empty()) words += "; only for: " + only;
  if (!key.otherwise.empty()) words += "; without it: " + std::string(key.otherwise);
  return words;
}

std::string key_view(const sheet::Key& key) {
  const std::string heading(section_of(key).heading);
  std::string view = key.path() + "  (" + sheet_name(key.sheet) +
                     (heading.empty() ? ", at its top" : ", " + heading) + ")\n";
  view += labelled("", key.says);
  view += labelled("value", sheet::value_words(key));
  if (!key.limits.empty()) view += labelled("limits", key.limits);
  view += labelled("needed", needed_words(key));
  if (!key.instead.empty()) {
    std::string others;
    for (const std::string& each : sheet::parts(key.instead)) others += (others.empty() ? "" : ", ") + each;
    view += labelled("not beside", others);
  }
  return view + labelled("example", key.example);
}

std::string units_overview() {
  std::string view;
  for (const sheet::Kind kind : sheet::kinds()) {
    std::string listed;
    for (const std::string_view unit : sheet::units(kind))
      listed += (listed.empty() ? "" : ", ") + std::string(unit);
    view += "  " + std::string(sheet::name(kind)) + ": " + listed + '\n';
  }
  return view;
}

std::string keys_overview() {
  std::string view;
  for (const sheet::Section& section : sheet::sections()) {
    view += (section.heading.empty() ? "Run sheet, at its top" : std::string(section.heading)) + "  " +
            std::string(section.says) + '\n';
    std::string names;
    for (const sheet::Key& key : sheet::keys())
      if (key.sheet == section.sheet && key.section == section.name)
        names += (names.empty() ? "" : ", ") + std::string(key.name);
    view += labelled("", names);
  }
  return view;
}

}  // namespace hangtrue::say
