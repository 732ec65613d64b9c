#include "firmware-host/sheet/designation.hpp"

#include <algorithm>
#include <string>
#include <vector>

#include "firmware-host/sheet/units.hpp"

namespace hangtrue::sheet {
namespace {

// "180x80x6" into its numbers, in mm; empty where it is no such.
std::vector<double> sizes_of(std::string_view text) {
  std::vector<double> sizes;
  while (true) {
    const std::size_t times = text.find('x');
    const auto number = parse_number(text.substr(0, times));
    if (!number.ok() || !(number.value() > 0)) return {};
    sizes.push_back(number.value());
    if (times == std::string_view::npos) return sizes;
    text.remove_prefix(times + 1);
  }
}

// UPE of EN 10365, mm.
struct Channel {
  double depth, width, web, flange, root;
};
constexpr Channel kChannels[] = {{80, 50, 4, 7, 10},       {100, 55, 4.5, 7.5, 10}, {120, 60, 5, 8, 12},
                                 {140, 65, 5, 9, 12},      {160, 70, 5.5, 9.5, 12}, {180, 75, 5.5, 10.5, 12},
                                 {200, 80, 6, 11, 13},     {220, 85, 6.5, 12, 13},  {240, 90, 7, 12.5, 15},
                                 {270, 95, 7.5, 13.5, 15}, {300, 100, 9.5, 15, 15}, {330, 105, 11, 16, 18},
                                 {360, 110, 12, 17, 18},   {400, 115, 13.5, 18, 18}};

std::optional<Designation> channel_of(std::string_view depth) {
  const auto depth_mm = parse_number(depth);
  if (!depth_mm.ok()) return std::nullopt;
  for (const Channel& each : kChannels) {
    if (each.depth != depth_mm.value()) continue;
    Designation section;
    section.shape = Designation::Shape::channel;
    section.depth_m = each.depth / 1e3;
    section.width_m = each.width / 1e3;
    section.wall_m = each.web / 1e3;
    section.flange_m = each.flange / 1e3;
    section.root_m = each.root / 1e3;
    return section;
  }
  return std::nullopt;
}

enum class Made { cold, hot };

// Takes what stands behind the sizes off: the standard, or how it is made; cold formed where nothing does.
Made take_made(std::string& text) {
  for (const auto& [words, made] : {std::pair{"EN10219-2", Made::cold},
                                    {"EN10219", Made::cold},
                                    {"coldformed", Made::cold},
                                    {"EN10210-2", Made::hot},
                                    {"EN10210", Made::hot},
                                    {"hotfinished", Made::hot}})
    if (text.ends_with(words)) {
      text.resize(text.size() - std::string_view(words).size());
      return made;
    }
  return Made::cold;
}

}  // namespace

std::optional<Designation> parse_designation(std::string_view written) {
  std::string text;
  for (std::size_t i = 0; i < written.size(); ++i) {
    if (written.substr(i, 2) == "\xC3\x97") {  // the multiplication sign
      text += 'x';
      ++i;
    } else if (written[i] != ' ') {
      text += written[i] == 'X' ? 'x' : written[i];
    }
  }
  const std::string kind = text.substr(0, 3);
  if (kind == "UPE") {
    if (text.ends_with("EN10365")) text.resize(text.size() - std::string_view("EN10365").size());
    return channel_of(std::string_view(text).substr(3));
  }
  if (kind != "RHS" && kind != "SHS" && kind != "CHS") return std::nullopt;
  text.erase(0, 3);
  const Made made = take_made(text);
  std::vector<double> sizes = sizes_of(text);
  if (kind == "SHS" && sizes.size() == 2) sizes.insert(sizes.begin(), sizes.front());
  if (sizes.size() != (kind == "CHS" ? 2u : 3u)) return std::nullopt;
  if (kind == "SHS" && sizes[0] != sizes[1]) return std::nullopt;
  Designation section;
  const bool round = kind == "CHS";
  if (round) section.shape = Designation::Shape::tube;
  section.depth_m = sizes.front() / 1e3;
  section.width_m = round ? section.depth_m : sizes[1] / 1e3;
  const double wall_mm = sizes.back();
  section.wall_m = wall_mm / 1e3;
  if (!(section.wall_m < std::min(section.depth_m, section.width_m) / 2)) return std::nullopt;
  if (round) return section;
  const double outside = made == Made::hot ? 1.5 : wall_mm <= 6 ? 2 : wall_mm <= 10 ? 2.5 : 3;
  section.corner_m = outside * section.wall_m;
  section.inside_corner_m = (made == Made::hot ? 1.0 : outside - 1) * section.wall_m;
  if (section.corner_m > std::min(section.depth_m, section.width_m) / 2) return std::nullopt;
  return section;
}

}  // namespace hangtrue::sheet
