#include "tools/rehearsal/walk.hpp"

#include <algorithm>
#include <charconv>
#include <set>

namespace hangtrue::rehearsal {

namespace {

bool walks_with(const sheet::KitSheet& kit, std::initializer_list<Channel> wanted) {
  for (const sheet::KitInstrument& instrument : kit.instruments) {
    for (const sheet::KitChannel& channel : instrument.channels) {
      if (!channel.station_m && std::find(wanted.begin(), wanted.end(), channel.gives) != wanted.end())
        return true;
    }
  }
  return false;
}

bool has_some_that_stay(const sheet::KitSheet& kit) {
  for (const sheet::KitInstrument& instrument : kit.instruments) {
    for (const sheet::KitChannel& channel : instrument.channels)
      if (channel.station_m) return true;
  }
  return false;
}

survey::Edge edge_of(const sheet::KitSheet& kit) {
  for (const sheet::KitInstrument& instrument : kit.instruments) {
    for (const sheet::KitChannel& channel : instrument.channels) {
      if (!channel.station_m) return channel.edge;
    }
  }
  return survey::Edge::middle;
}

std::string word(survey::Edge edge) {
  switch (edge) {
    case survey::Edge::left:
      return "left";
    case survey::Edge::right:
      return "right";
    case survey::Edge::middle:
      break;
  }
  return "middle";
}

/// Shortest text that reads back as the very same number.
std::string exact(double value) {
  char text[32];
  return std::string(text, std::to_chars(text, text + sizeof text, value).ptr);
}

}  // namespace

std::vector<Step> walk(const sheet::RunSheet& run, const sheet::KitSheet& kit, const WalkOptions& options) {
  std::vector<survey::Edge> edges = options.edges;
  if (edges.empty()) edges.push_back(edge_of(kit));
  std::vector<int> faces = {1};
  if (options.both_faces && walks_with(kit, {Channel::slope, Channel::roll})) faces.push_back(-1);
  const int set_ups = walks_with(kit, {Channel::distance}) ? std::max(1, options.set_ups) : 1;

  std::vector<Step> steps;
  const bool some_stay = has_some_that_stay(kit);
  if (some_stay)
    steps.push_back({{.at_m = run.stations_m.front(), .edge = edges.front()}, {"set-up 1", "take fixed"}});
  std::optional<Stand> former, faced;  // the last, and the last on the run, where edge and face count
  const auto add = [&](const Stand& stand) {
    Step step{stand, {}};
    if (former ? former->set_up != stand.set_up : !some_stay)
      step.commands.push_back("set-up " + std::to_string(stand.set_up + 1));
    if (stand.mark >= 0) {
      step.commands.push_back("station " + run.marks[static_cast<std::size_t>(stand.mark)].name);
    } else {
      if (!faced || faced->edge != stand.edge) step.commands.push_back("edge " + word(stand.edge));
      if (!faced || faced->face != stand.face) step.commands.push_back(stand.face == 1 ? "face 1" : "face 2");
      if (!former || former->mark >= 0 || former->at_m != stand.at_m)
        step.commands.push_back("station " + exact(stand.at_m) + " m");
      faced = stand;
    }
    step.commands.emplace_back("take");
    former = stand;
    steps.push_back(std::move(step));
  };
  const int last = static_cast<int>(run.stations_m.size()) - 1;
  const bool marks = walks_with(kit, {Channel::distance});
  const auto add_marks = [&](int set_up) {
    for (std::size_t i = 0; marks && i < run.marks.size(); ++i)
      add({run.marks[i].at_m, faces.front(), edges.front(), set_up, static_cast<int>(i)});
  };
  for (int set_up = 0; set_up < set_ups; ++set_up) {
    add_marks(set_up);
    for (int i = set_up * last / set_ups; i <= (set_up + 1) * last / set_ups; ++i) {
      for (const survey::Edge edge : edges) {
        for (const int face : faces) add({run.stations_m[static_cast<std::size_t>(i)], face, edge, set_up});
      }
    }
    if (options.closes && set_up + 1 == set_ups)
      for (const int i : std::set<int>{0, last / 2, last})
        for (const int face : faces)
          add({run.stations_m[static_cast<std::size_t>(i)], face, edges.front(), set_up});
    add_marks(set_up);
  }
  if (some_stay) steps.push_back({*former, {"take fixed"}});
  return steps;
}

std::vector<ScaleWalk> scale_checks(const sheet::KitSheet& kit) {
  constexpr double kFeetAcross_m = 0.12, kApart_m = 0.5;
  std::vector<ScaleWalk> checks;
  for (std::size_t i = 0; i < kit.instruments.size(); ++i) {
    const sheet::KitInstrument& instrument = kit.instruments[i];
    const auto unchecked = [&](std::initializer_list<Channel> wanted) {
      return std::any_of(instrument.channels.begin(), instrument.channels.end(),
                         [&](const sheet::KitChannel& channel) {
                           return !channel.scale_checked &&
                                  std::find(wanted.begin(), wanted.end(), channel.gives) != wanted.end();
                         });
    };
    if (unchecked({Channel::slope, Channel::roll}))
      for (const double piece_m : {0.003, 0.005, 0.008, 0.002, 0.012}) {
        const job::ScaleSetting setting{.length_m = piece_m, .feet_across_m = kFeetAcross_m};
        if (job::ScaleCheckGuide::objection(instrument, setting)) continue;
        checks.push_back({"check scale " + exact(piece_m) + " m across " + exact(kFeetAcross_m) + " m with " +
                              instrument.name,
                          i, setting});
        break;
      }
    const job::ScaleSetting places{.by_places = true, .length_m = kApart_m};
    if (unchecked({Channel::distance}) && !job::ScaleCheckGuide::objection(instrument, places))
      checks.push_back(
          {"check scale places " + exact(kApart_m) + " m apart with " + instrument.name, i, places});
  }
  return checks;
}

Stand stand_for(const job::ScaleStep& step, const job::ScaleSetting& setting) {
  using Action = job::ScaleStep::Action;
  Stand stand;
  stand.put.feet_across_m = setting.feet_across_m.value_or(1);
  if (step.action == Action::piece_under_end) stand.put.end_m = step.length_m;
  if (step.action == Action::piece_under_left) stand.put.left_m = step.length_m;
  if (step.action == Action::higher_place) stand.put.higher_m = step.length_m;
  return stand;
}

}  // namespace hangtrue::rehearsal
