#include "tools/hangtrue/first_sheets.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "firmware-host/sheet/keys.hpp"
#include "firmware-host/sheet/nearest.hpp"
#include "firmware-host/sheet/units.hpp"

namespace hangtrue::tools {
namespace {

using sheet::SheetSort;

/// What an entry says: key, value as TOML, and whether nobody was asked for it.
struct Said {
  std::string key, value;
  bool invented = true;
};
Said as_typed(std::string key, const std::string& text) { return {std::move(key), text, false}; }

std::string quoted(const std::string& text) {
  std::string all = "\"";
  for (const char c : text) all += c == '"' || c == '\\' ? std::string("\\") + c : std::string(1, c);
  return all + '"';
}

class SheetWriter {
 public:
  explicit SheetWriter(SheetSort sort) : sort_(sort) {}

  void remark(const std::string& words) { text_ += "# " + words + '\n'; }
  /// An entry below its heading, with NAME as given. The first of a section has what every key means, and those keys as comments that it
  /// does not have.
  void entry(const std::string& section, const std::vector<Said>& says, const std::string& name = "") {
    const bool first = std::find(met_.begin(), met_.end(), section) == met_.end();
    met_.push_back(section);
    for (const sheet::Section& each : sheet::sections())
      if (each.sheet == sort_ && each.name == section) begin(each, name, first);
    for (const sheet::Key& key : sheet::keys()) {
      if (key.sheet != sort_ || key.section != section || key.name.find('.') != std::string_view::npos)
        continue;
      const auto said =
          std::find_if(says.begin(), says.end(), [&](const Said& each) { return each.key == key.name; });
      const std::string words = first ? std::string(key.says) : "";
      if (said != says.end())
        line(said->key + " = " + said->value,
             (said->invented ? words.empty() ? "INVENTED" : "INVENTED. " : "") + words);
      else if (first)
        line(left_out(key), words);
    }
  }
  [[nodiscard]] const std::string& text() const { return text_; }

 private:
  void begin(const sheet::Section& section, const std::string& name, bool first) {
    if (!text_.empty()) text_ += '\n';
    if (first) text_ += "# " + std::string(section.says) + '\n';
    std::string heading(section.heading);
    if (const std::size_t at = heading.find("NAME"); at != std::string::npos) heading.replace(at, 4, name);
    if (!heading.empty()) text_ += heading + '\n';
  }
  // The line of its example that has the key itself.
  static std::string left_out(const sheet::Key& key) {
    std::string_view rest = key.example;
    while (!rest.starts_with(key.name) && rest.find('\n') != std::string_view::npos)
      rest.remove_prefix(rest.find('\n') + 1);
    return "# " + std::string(rest.substr(0, rest.find('\n')));
  }
  void line(const std::string& code, const std::string& words) {
    constexpr std::size_t kColumn = 44, kWidth = 130;
    if (words.empty()) {
      text_ += code + '\n';
    } else if (code.size() < kColumn && kColumn + 2 + words.size() <= kWidth) {
      text_ += code + std::string(kColumn - code.size(), ' ') + "# " + words + '\n';
    } else {
      text_ += "# " + words + '\n' + code + '\n';
    }
  }

  SheetSort sort_;
  std::string text_;
  std::vector<std::string> met_;
};

bool imperial(const FirstRun& first) { return first.show == "imperial"; }
double metres(const std::string& text) {
  const auto length = sheet::parse_quantity(text, sheet::Kind::length);
  return length.ok() ? length.value() : 0;
}
std::string place(double at_m, const FirstRun& first) {
  return quoted(sheet::show_place(at_m, imperial(first) ? sheet::Show::imperial : sheet::Show::metric));
}

// A beam that is neither slender nor stocky over that length: about a twenty-fourth of it deep. Common practice, no source.
std::string section_for(double length_m, const FirstRun& first) {
  constexpr std::array kDepths_mm = {40, 60, 80, 100, 120, 150, 180, 200, 250, 300, 400};
  constexpr std::array kDepths_in = {2, 3, 4, 5, 6, 8, 10, 12, 16};
  const bool inches = imperial(first), steel = first.carries == "steel";
  const double wanted = length_m / (steel ? 24 : 18) / (inches ? 0.0254 : 0.001);
  const auto nearest_of = [&](const auto& depths) {
    int best = depths.front();
    for (const int each : depths)
      if (std::abs(each - wanted) < std::abs(best - wanted)) best = each;
    return best;
  };
  const int depth = inches ? nearest_of(kDepths_in) : nearest_of(kDepths_mm);
  const std::string unit = inches ? " in\"" : " mm\"";
  const auto size = [&](const std::string& key, const std::string& value) {
    return ", " + key + " = \"" + value + unit;
  };
  if (!steel)
    return "{ shape = \"solid rectangle\"" + size("depth", std::to_string(depth)) +
           size("width", inches ? "3 1/2" : std::to_string(std::max(60, depth / 3))) + " }";
  if (!inches) {
    const int wall = depth < 100 ? 4 : depth < 180 ? 5 : 6;
    return quoted("RHS " + std::to_string(depth) + 'x' + std::to_string(depth / 2) + 'x' +
                  std::to_string(wall));
  }
  return "{ shape = \"hollow rectangle\"" + size("depth", std::to_string(depth)) +
         size("width", std::to_string(std::max(1, depth / 2))) +
         size("wall", depth < 4   ? "1/8"
                      : depth < 8 ? "3/16"
                                  : "1/4") +
         size("corner", depth < 4   ? "1/4"
                        : depth < 8 ? "3/8"
                                    : "1/2") +
         " }";
}

std::vector<Said> support(const std::string& name, const std::string& sort, double at_m,
                          const FirstRun& first) {
  const bool inches = imperial(first);
  const auto of = [&](const char* metric, const char* in_inches) {
    return std::string(inches ? in_inches : metric);
  };
  std::vector<Said> says = {as_typed("name", quoted(name)), {"at", place(at_m, first)}};
  const std::string by_shims =
      of(R"({ by = "shims", stock = "van", rise = ["0 mm", "8 mm"], roll = true })",
         R"({ by = "shims", stock = "van", rise = ["0 in", "5/16 in"], roll = true })");
  const std::string by_thread =
      of(R"({ by = "rod", thread = "M12", step = "1/4 turn", rise = ["-12 mm", "12 mm"] })",
         R"({ by = "rod", thread = "1/2-13", step = "1/4 turn", rise = ["-1/2 in", "1/2 in"] })");
  const auto add = [&](const std::string& rise, const std::string& pitch, const std::string& roll,
                       const char* holds, const std::string& adjust) {
    says.push_back({"rise", rise});
    says.push_back({"pitch", pitch});
    says.push_back({"roll", roll});
    says.push_back(as_typed("holds", holds));
    says.push_back({"adjust", adjust});
  };
  const std::string free = "\"free\"";
  if (sort == "bracket" || sort == "seat") {
    const bool bracket = sort == "bracket";
    add(of("\"25 kN/mm\"", "\"140000 lbf/in\""),
        bracket ? of("\"60 kN m/rad\"", "\"530000 lbf in/rad\"") : free,
        of("\"40 kN m/rad\"", "\"350000 lbf in/rad\""), bracket ? "\"both\"" : "\"push\"", by_shims);
    says.push_back({"bolt_rows", of(R"({ along = "120 mm", across = "150 mm" })",
                                    R"({ along = "5 in", across = "6 in" })")});
  } else if (sort == "post" || sort == "rod") {
    const bool post = sort == "post";
    add(post ? of("\"20 kN/mm\"", "\"110000 lbf/in\"") : of("\"9 kN/mm\"", "\"50000 lbf/in\""), free, free,
        post ? "\"both\"" : "\"pull\"", by_thread);
  } else {  // a lift
    add(of("\"4 kN/mm\"", "\"22000 lbf/in\""), free, of("\"60 kN m/rad\"", "\"530000 lbf in/rad\""),
        "\"push\"",
        of(R"({ by = "lift", step = "1 mm", rise = ["-30 mm", "30 mm"] })",
           R"({ by = "lift", step = "1/32 in", rise = ["-1 in", "1 in"] })"));
  }
  return says;
}

bool holds_roll(const std::string& sort) { return sort == "bracket" || sort == "seat"; }

std::string mass_for(double length_m, double kg_per_m, const FirstRun& first) {
  const double kg = kg_per_m * length_m;
  return imperial(first) ? std::to_string(std::lround(kg / 0.45359237)) + " lb"
                         : std::to_string(std::lround(kg)) + " kg";
}

std::string list_of(const std::vector<std::string>& names) {
  std::string all = "[";
  for (const std::string& each : names) all += (all.size() > 1 ? ", " : "") + quoted(each);
  return all + ']';
}

void check_word(std::vector<sheet::Complaint>& complaints, const char* option, const std::string& written,
                const char* words) {
  const std::vector<std::string> known = sheet::parts(words);
  if (std::find(known.begin(), known.end(), written) != known.end()) return;
  std::string expected;
  for (std::size_t i = 0; i < known.size(); ++i)
    expected += (i == 0 ? "" : i + 1 < known.size() ? ", " : " or ") + ('"' + known[i] + '"');
  const std::string near = sheet::nearest(written, known);
  complaints.push_back({"command line", 0, option, '"' + written + '"',
                        expected + (near.empty() ? "" : "; did you mean \"" + near + "\"?")});
}

void check_above_zero(std::vector<sheet::Complaint>& complaints, const char* option,
                      const std::string& written, sheet::Kind kind) {
  const auto value = sheet::parse_quantity(written, kind);
  if (value.ok() && value.value() > 0) return;
  complaints.push_back(
      {"command line", 0, option, '"' + written + '"' + (value.ok() ? "" : " (" + value.fault().what + ')'),
       std::string(name(kind)) + " above zero with its unit, " + std::string(example(kind))});
}

void check_text(std::vector<sheet::Complaint>& complaints, const char* option, const std::string& written) {
  const auto is_control = [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; };
  if (written.find_first_not_of(' ') == std::string::npos ||
      std::any_of(written.begin(), written.end(), is_control))
    complaints.push_back({"command line", 0, option, '"' + written + '"', "a text, not empty, on one line"});
}

}  // namespace

FirstRun filled_in(FirstRun first) {
  const auto fill = [](std::string& text, const std::string& by) {
    if (text.empty()) text = by;
  };
  fill(first.length, imperial(first) ? "12 ft" : "3600 mm");
  fill(first.width, imperial(first) ? "15 in" : "380 mm");
  const double length_m = metres(first.length);
  fill(first.mass, mass_for(length_m, 15, first));
  fill(first.mass_later, mass_for(length_m, 20, first));
  return first;
}

std::vector<sheet::Complaint> complaints_of(const FirstRun& first) {
  std::vector<sheet::Complaint> all;
  check_text(all, "--title", first.title);
  check_word(all, "--show", first.show, "metric|imperial");
  check_above_zero(all, "--length", first.length, sheet::Kind::length);
  check_above_zero(all, "--width", first.width, sheet::Kind::length);
  check_word(all, "--carries", first.carries, kCarries);
  check_word(all, "--left", first.left, kHolders);
  check_word(all, "--right", first.right, kHolders);
  check_above_zero(all, "--mass", first.mass, sheet::Kind::mass);
  check_above_zero(all, "--mass-later", first.mass_later, sheet::Kind::mass);
  if (const double length_m = metres(first.length); length_m > 0 && (length_m < 0.5 || length_m > 60))
    all.push_back({"command line", 0, "--length", '"' + first.length + '"', "a length from 500 mm to 60 m"});
  if (all.empty() && !holds_roll(first.left) && !holds_roll(first.right))
    all.push_back({"command line", 0, "--right",
                   '"' + first.right + "\" beside a " + first.left + " on the left",
                   "a bracket or a seat on one side: posts and rods leave the run free to roll"});
  return all;
}

std::vector<sheet::Complaint> complaints_of(const FirstKit& first) {
  std::vector<sheet::Complaint> all;
  check_word(all, "--speaks", first.speaks, kSpeech);
  check_text(all, "--port", first.port);
  check_word(all, "--laser", first.laser, kLasers);
  check_text(all, "--laser-port", first.laser_port);
  if (all.empty() && first.laser != "none" && first.laser_port == first.port &&
      (first.speaks != first.laser || first.laser == "line"))
    all.push_back({"command line", 0, "--laser-port",
                   '"' + first.laser_port + "\", the port of the inclinometer",
                   "a port of its own; only xdr with xdr and modbus with modbus share one"});
  return all;
}

std::string first_run_sheet(const FirstRun& first) {
  const bool inches = imperial(first), steel = first.carries == "steel";
  const double length_m = metres(first.length);
  // Posts and rods stand a little inside; at least at a quarter from the end.
  const double inset_m = std::min(0.3, length_m / 8);
  const double left_m = holds_roll(first.left) ? 0 : inset_m,
               right_m = holds_roll(first.right) ? length_m : length_m - inset_m;
  const std::string left = "left " + first.left, right = "right " + first.right;
  const std::string zero = inches ? "\"0 in\"" : "\"0 mm\"";

  SheetWriter sheet(SheetSort::run);
  sheet.remark(
      "A run sheet to fill in, made by hangtrue new. What is marked INVENTED is not yours: put your own "
      "figures there before you");
  sheet.remark(
      "believe any result. hangtrue check says what is wrong or doubtful, hangtrue explain KEY what a key "
      "means.");
  sheet.remark(
      "The tool reads shape, not strength: anchors, welds, bolts and framing are designed and checked by "
      "those licensed for it.");
  sheet.entry("", {as_typed("title", quoted(first.title)),
                   as_typed("show", quoted(first.show)),
                   as_typed("length", quoted(first.length)),
                   as_typed("width", quoted(first.width)),
                   {"stations", "{ every = " + place(length_m / 12, first) + " }"}});
  sheet.entry("tolerance", {{"level", inches ? "\"1/16 in\"" : "\"2 mm\""}, as_typed("stage", "\"in use\"")});
  if (steel)
    sheet.entry("material.NAME",
                {{"E", inches ? "\"29000 ksi\"" : "\"210 GPa\"", false},
                 {"G", inches ? "\"11200 ksi\"" : "\"81 GPa\"", false},
                 {"density", inches ? "\"490 lb/ft3\"" : "\"7850 kg/m3\"", false}},
                "steel");
  else
    sheet.entry("material.NAME", {{"grade", "\"GL24h\""}, {"service_class", "1"}}, "timber");
  sheet.entry("member", {as_typed("name", "\"beam\""),
                         as_typed("from", zero),
                         as_typed("to", quoted(first.length)),
                         as_typed("material", steel ? "\"steel\"" : "\"timber\""),
                         {"section", section_for(length_m, first)}});
  const auto load = [&](const char* name, const std::string& mass, const char* sigma) {
    return std::vector<Said>{as_typed("name", quoted(name)),
                             as_typed("from", zero),
                             as_typed("to", quoted(first.length)),
                             as_typed("mass", quoted(mass)),
                             {"sigma", sigma}};
  };
  sheet.entry("load", load("built in", first.mass, "0.05"));
  std::vector<Said> later = load("contents", first.mass_later, "0.15");
  later.push_back({"permanent", "0.6"});
  sheet.entry("load", later);
  sheet.entry("support", support(left, first.left, left_m, first));
  sheet.entry("support", support(right, first.right, right_m, first));
  sheet.entry("support", support("left lift", "lift", length_m * 0.2, first));
  sheet.entry("support", support("right lift", "lift", length_m * 0.8, first));
  const auto stage = [&](const char* name, const std::vector<std::string>& supports, bool full) {
    std::vector<std::string> loads = {"beam", "built in"};
    if (full) loads.emplace_back("contents");
    sheet.entry("stage", {as_typed("name", quoted(name)), as_typed("supports", list_of(supports)),
                          as_typed("loads", list_of(loads))});
  };
  stage("on lifts", {"left lift", "right lift"}, false);
  stage("left fixed", {left, "right lift"}, false);
  stage("both fixed", {left, right}, false);
  stage("in use", {left, right}, true);
  const auto piece = [](const char* thickness, int count) {
    return std::string("{ thickness = \"") + thickness + "\", count = " + std::to_string(count) + " }";
  };
  const std::string pieces =
      inches ? piece("1/32 in", 12) + ", " + piece("1/16 in", 12) + ", " + piece("1/8 in", 8)
             : piece("0.5 mm", 12) + ", " + piece("1 mm", 12) + ", " + piece("2 mm", 8);
  sheet.entry("stock.NAME", {{"pieces", "[ " + pieces + " ]"}, {"most", "4"}}, "van");
  return sheet.text();
}

std::string first_kit_sheet(const FirstKit& first) {
  SheetWriter sheet(SheetSort::kit);
  sheet.remark(
      "A kit sheet to fill in, made by hangtrue new. What is marked INVENTED is not yours: put there what "
      "your instruments' papers say,");
  sheet.remark(
      "or what readings show. hangtrue check RUN.toml KIT.toml says what is wrong or doubtful, hangtrue "
      "explain KEY what a key means.");
  sheet.remark("Never look into a laser.");
  const auto instrument = [&](const char* name, const std::string& port, const std::string& speaks,
                              int address) {
    std::vector<Said> says = {as_typed("name", quoted(name)),
                              {"port", quoted(port), port.find("PUT-YOURS") != std::string::npos},
                              {"baud", "9600"},
                              as_typed("speaks", quoted(speaks))};
    if (speaks == "modbus") says.push_back({"address", std::to_string(address)});
    sheet.entry("instrument", says);
  };
  const auto channel = [&](const std::string& speaks, const char* quad, const char* number,
                           const char* pattern, const char* gives, const char* unit, std::vector<Said> more) {
    std::vector<Said> says = {{"transducer", quoted(speaks == "xdr"      ? quad
                                                    : speaks == "modbus" ? std::string("input ") + number
                                                                         : pattern)},
                              as_typed("gives", quoted(gives))};
    if (speaks == "modbus") says.push_back({"scale", "0.001"});
    if (speaks != "xdr") says.push_back({"unit", quoted(unit)});
    for (Said& each : more) says.push_back(std::move(each));
    sheet.entry("instrument.channel", says);
  };
  instrument("walking inclinometer", first.port, first.speaks, 1);
  const std::vector<Said> slope = {{"range", R"(["-50 mm/m", "50 mm/m"])"}, {"sigma", "\"0.02 mm/m\""}};
  std::vector<Said> with_feet = slope;
  with_feet.push_back({"base", "\"250 mm\""});
  channel(first.speaks, "PITCH", "0", "PITCH {number} deg", "slope", "deg", with_feet);
  channel(first.speaks, "ROLL", "1", "ROLL {number} deg", "roll", "deg", slope);
  if (first.laser != "none") {
    instrument("laser distance meter", first.laser_port, first.laser, 2);
    channel(first.laser, "LDM", "0", "DIST {number} m", "distance", "m",
            {{"range", R"(["0.1 m", "5 m"])"}, {"sigma", "\"0.3 mm\""}});
  }
  return sheet.text();
}

}  // namespace hangtrue::tools
