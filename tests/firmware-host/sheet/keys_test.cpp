// The table of keys and the readers say the same: each key in it is asked for, none is asked for that is not in it, each example is
// read, and each default that is a value changes nothing where it is written down.
#include "firmware-host/sheet/keys.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <toml++/toml.h>

#include <set>
#include <sstream>

#include "firmware-host/job/sheet_changes.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::sheet {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

// Every section once, with the names that the table's examples have.
constexpr const char* kRunText = R"(length = "4200 mm"
width = "380 mm"
[tolerance]
level = "2 mm"
[material.steel]
E = "210 GPa"
G = "81 GPa"
density = "7850 kg/m3"
expansion = "12e-6 /K"
[[member]]
name = "spine"
from = "0 mm"
to = "4200 mm"
material = "steel"
section = "RHS 180x80x6"
[[load]]
name = "carcasses"
from = "0 mm"
to = "4200 mm"
mass = "62 kg"
[[support]]
name = "wall bracket"
at = "0 mm"
rise = "25 kN/mm"
pitch = "60 kN m/rad"
roll = "40 kN m/rad"
[[support]]
name = "east rod"
at = "3900 mm"
rise = "9 kN/mm"
pitch = "free"
roll = "free"
[[stage]]
name = "in use"
supports = ["wall bracket", "east rod"]
loads = ["spine", "carcasses"]
[stock.van]
pieces = [ { thickness = "2 mm", count = 3 } ]
[[mark]]
name = "lintel"
at = "-400 mm"
)";

std::string kit_text(Speaks speaks) {
  const std::string own = speaks == Speaks::modbus ? "address = 3\n" : "";
  const std::string channel = speaks == Speaks::xdr      ? "transducer = \"PITCH\"\n"
                              : speaks == Speaks::modbus ? "transducer = \"input 2\"\nunit = \"mm/m\"\n"
                                                         : "transducer = \"{number}\"\nunit = \"mm/m\"\n";
  return "[[instrument]]\nname = \"one\"\nport = \"/dev/one\"\nspeaks = \"" + std::string(word(speaks)) +
         "\"\n" + own + "[[instrument.channel]]\n" + channel + "gives = \"slope\"\nsigma = \"0.02 mm/m\"\n";
}

// How the instrument of an example speaks.
Speaks speaks_of(const Key& key) {
  const bool asks = key.example.find("ask") == 0;
  if (!asks && key.only.find("modbus") != std::string_view::npos) return Speaks::modbus;
  return asks || key.only.find("\"line\"") != std::string_view::npos ? Speaks::line : Speaks::xdr;
}

std::string base_of(const Key& key) {
  return key.sheet == SheetSort::run ? kRunText : kit_text(speaks_of(key));
}

toml::table& section_in(toml::table& root, std::string_view section) {
  if (section.empty()) return root;
  if (section == "material.NAME") return *root["material"]["steel"].as_table();
  if (section == "stock.NAME") return *root["stock"]["van"].as_table();
  if (section == "instrument.channel") return *root["instrument"][0]["channel"][0].as_table();
  if (!root.contains(section)) root.insert(section, toml::table());
  toml::node* const node = root.get(section);
  return node->is_array() ? *node->as_array()->get(0)->as_table() : *node->as_table();
}

// The base with these lines in the key's section, in the place of what may not stand beside them.
toml::table with(const Key& key, std::string_view lines) {
  toml::table root = toml::parse(base_of(key));
  toml::table& section = section_in(root, key.section);
  toml::table written = toml::parse(lines);
  for (auto& [name, value] : written)
    for (const Key& each : keys())
      if (each.sheet == key.sheet && each.section == key.section && each.name == name.str())
        for (const std::string& other : parts(each.instead)) section.erase(other);
  for (auto& [name, value] : written) section.insert_or_assign(name, value);
  return root;
}

std::string text_of(const toml::table& root) {
  std::ostringstream out;
  out << root;
  return out.str();
}

const RunSheet& base_run() {
  static const RunSheet run = parse_run_sheet(kRunText, "run.toml").sheet.value();
  return run;
}

std::vector<Complaint> complaints_of(const Key& key, const std::string& sheet) {
  return key.sheet == SheetSort::run ? parse_run_sheet(sheet, "run.toml").complaints
                                     : parse_kit_sheet(sheet, "kit.toml", base_run()).complaints;
}

TEST(Keys, EachExampleIsReadWithoutAComplaint) {
  for (const Key& key : keys()) {
    const std::string sheet = text_of(with(key, key.example));
    EXPECT_THAT(text(complaints_of(key, sheet)), IsEmpty()) << key.path() << "\n" << sheet;
  }
}

TEST(Keys, EachExampleShowsItsKey) {
  for (const Key& key : keys()) {
    const toml::table written = toml::parse(key.example);
    std::string_view rest = key.name;
    const toml::node* at = &written;
    while (at != nullptr && !rest.empty()) {
      if (at->is_array()) at = at->as_array()->get(0);
      const std::size_t dot = rest.find('.');
      at = at->is_table() ? at->as_table()->get(rest.substr(0, dot)) : nullptr;
      rest.remove_prefix(dot == std::string_view::npos ? rest.size() : dot + 1);
    }
    EXPECT_NE(at, nullptr) << key.path() << ": " << key.example;
  }
}

constexpr std::string_view kBogus = "qqqqqqqqqqqqqqqqqqqqqqqqqqqq";

// A key that no reader knows, in every table but those of named tables.
void put_bogus_keys(toml::node& node, bool named = false) {
  if (toml::array* const list = node.as_array()) {
    for (toml::node& each : *list) put_bogus_keys(each);
  } else if (toml::table* const table = node.as_table()) {
    for (auto& [name, value] : *table)
      put_bogus_keys(value, name.str() == "material" || name.str() == "stock");
    if (!named) table->insert(kBogus, 1);
  }
}

// "support[1].adjust." as "support.adjust.", "material.steel." as "material.NAME.".
std::string plain(std::string path) {
  for (std::size_t at = path.find('['); at != std::string::npos; at = path.find('['))
    path.erase(at, path.find(']') - at + 1);
  for (const auto& [one, any] :
       {std::pair<std::string, std::string>{"material.steel", "material.NAME"}, {"stock.van", "stock.NAME"}})
    if (path.starts_with(one)) path = any + path.substr(one.size());
  return path;
}

// What the readers ask for, as they say it themselves to who writes a key that there is not.
std::set<std::string> known_to_the_readers(SheetSort sort) {
  std::set<std::string> known;
  for (const Key& key : keys()) {
    if (key.sheet != sort) continue;
    toml::table root = with(key, key.example);
    put_bogus_keys(root);
    for (const Complaint& each : complaints_of(key, text_of(root))) {
      if (!each.key.ends_with(kBogus)) continue;
      const std::string table = plain(each.key.substr(0, each.key.size() - kBogus.size()));
      for (std::size_t from = each.expected.find('"'); from != std::string::npos;) {
        const std::size_t to = each.expected.find('"', from + 1);
        known.insert(table + each.expected.substr(from + 1, to - from - 1));
        from = each.expected.find('"', to + 1);
      }
    }
  }
  return known;
}

TEST(Keys, AreThoseThatTheReadersKnow) {
  for (const SheetSort sort : {SheetSort::run, SheetSort::kit}) {
    std::set<std::string> described;
    for (const Key& key : keys())
      if (key.sheet == sort) {
        EXPECT_TRUE(described.insert(key.path()).second) << key.path() << " stands twice";
      }
    for (const Section& section : sections())
      if (section.sheet == sort && !section.name.empty())
        described.insert(std::string(section.name.substr(0, section.name.find(".NAME"))));
    const std::set<std::string> known = known_to_the_readers(sort);
    EXPECT_GT(known.size(), sort == SheetSort::run ? 100u : 30u);
    for (const std::string& each : known) EXPECT_TRUE(described.contains(each)) << "not described: " << each;
    for (const std::string& each : described)
      EXPECT_TRUE(known.contains(each)) << "described, and no reader asks for it: " << each;
  }
}

std::string described(const KitSheet& kit) {
  std::ostringstream out;
  out.precision(12);
  for (const KitInstrument& one : kit.instruments) {
    out << one.baud << int(one.parity) << one.stop_bits << '/' << one.talker << '/' << one.timeout_s << '/'
        << one.retries << '/' << one.every_s << '/' << one.ask << '\n';
    for (const KitChannel& channel : one.channels) {
      out << channel.within << channel.sign << '/' << channel.base_m << '/' << channel.zero_sigma << '/'
          << channel.zero_keeps << '/' << channel.settle_window_s << '/' << channel.settle_spread << '/'
          << channel.station_m.value_or(-1) << int(channel.edge);
      if (channel.modbus)
        out << int(channel.modbus->type) << channel.modbus->high_word_first << channel.modbus->scale;
    }
  }
  return out.str();
}

// Where a default is a value, in the example's place.
TEST(Keys, DefaultsThatAreValuesAreWhatCountsWithoutThem) {
  int checked = 0;
  for (const Key& key : keys()) {
    toml::table value;
    try {
      value = toml::parse("it = " + std::string(key.otherwise));
    } catch (const toml::parse_error&) {
      continue;  // in words
    }
    toml::table written = toml::parse(key.example);
    const std::size_t dot = key.name.find('.');
    toml::table& last =
        dot == std::string_view::npos ? written : *written[key.name.substr(0, dot)].as_table();
    const std::string_view name = dot == std::string_view::npos ? key.name : key.name.substr(dot + 1);
    last.insert_or_assign(name, *value.get("it"));
    const std::string with_it = text_of(with(key, text_of(written)));
    last.erase(name);
    if (dot != std::string_view::npos && last.empty()) written.erase(key.name.substr(0, dot));
    const std::string without = text_of(with(key, text_of(written)));
    SCOPED_TRACE(key.path() + "\n" + with_it);
    EXPECT_THAT(text(complaints_of(key, with_it)), IsEmpty());
    if (!complaints_of(key, without).empty()) {
      ADD_FAILURE() << "has a default, and must be there: " << text(complaints_of(key, without));
    } else if (key.sheet == SheetSort::run) {
      EXPECT_TRUE(job::sheet_changes(*parse_run_sheet(with_it, "").sheet, *parse_run_sheet(without, "").sheet)
                      .empty());
    } else {
      EXPECT_EQ(described(*parse_kit_sheet(with_it, "", base_run()).sheet),
                described(*parse_kit_sheet(without, "", base_run()).sheet));
    }
    ++checked;
  }
  EXPECT_GT(checked, 35);
}

std::vector<std::string> paths(std::string_view written) {
  std::vector<std::string> all;
  for (const Key* key : keys_meant(written)) all.push_back(key->path());
  return all;
}

TEST(Keys, AreFoundByTheirPathItsEndAndAComplaint) {
  EXPECT_THAT(paths("support.pitch"), ElementsAre("support.pitch"));
  EXPECT_THAT(paths("support[2].rise"), ElementsAre("support.rise"));
  EXPECT_THAT(paths("material.steel.E"), ElementsAre("material.NAME.E"));
  EXPECT_THAT(paths("stock.van.pieces[1].count"), ElementsAre("stock.NAME.pieces.count"));
  EXPECT_THAT(paths("target_height"), ElementsAre("tolerance.target_height"));
  EXPECT_THAT(paths("pitch"), ElementsAre("support.pitch", "support.adjust.pitch", "support.fit_up.pitch",
                                          "support.prior.pitch"));
  EXPECT_THAT(paths("kit.name"), ElementsAre("instrument.name"));
  EXPECT_THAT(paths("mark"), ElementsAre("mark.name", "mark.at"));
  EXPECT_THAT(paths("stock"), testing::SizeIs(6));
  EXPECT_THAT(paths("xylophone"), IsEmpty());
  EXPECT_THAT(paths(""), IsEmpty());
  EXPECT_EQ(nearest_key("tolerance.levl"), "tolerance.level");
  EXPECT_EQ(nearest_key("pulled_hme"), "pulled_home");
}

TEST(Keys, SayWhatAValueMayBe) {
  EXPECT_EQ(value_words(*keys_meant("support.rise").front()),
            "\"rigid\", \"free\" or a stiffness with its unit, such as \"12 kN/mm\" or \"68000 lbf/in\"");
  EXPECT_EQ(value_words(*keys_meant("confidence").front()),
            "a plain number or a share in percent, such as \"5 %\"");
  EXPECT_EQ(value_words(*keys_meant("pulled_home").front()),
            "a list of names, of \"rise\", \"pitch\", \"roll\"");
}

}  // namespace
}  // namespace hangtrue::sheet
