// Set-ups of the laser datum, readings by channel, and notes made on the job.
#include <algorithm>
#include <cmath>

#include "tools/report/as_built/writer.hpp"

namespace hangtrue::report {

namespace {

struct SetUpCount {
  std::string name;
  int distances = 0;
};
struct ChannelCount {
  std::string name;
  int taken = 0, used = 0, by_hand = 0, beyond = 0;
  double worst = 0;  // normalised residual of those used
};

/// The entry of that name, added at the end if there is none.
template <class Count>
Count& count_of(std::vector<Count>& counts, const std::string& name) {
  const auto found =
      std::find_if(counts.begin(), counts.end(), [&](const Count& each) { return each.name == name; });
  return found != counts.end() ? *found : counts.emplace_back(Count{name});
}

std::optional<double> stands_at(const AsBuiltWriter& of, const std::string& set_up) {
  std::optional<double> at_m;
  for (const book::SetUp& each : of.last.booked.set_ups)
    if (each.name == set_up && each.stands_at_m) at_m = each.stands_at_m;
  return at_m;
}

void add_set_ups(AsBuiltWriter& of) {
  std::vector<SetUpCount> counts;
  for (const JudgedReading& each : of.readings)
    if (each.reading().channel == Channel::distance) ++count_of(counts, each.reading().set_up).distances;
  if (counts.empty()) {
    of.document.add(Paragraph{of.said("No distance was read."), of.said("Set-ups.")});
    return;
  }
  Table table{of.said("Set-ups of the laser datum"),
              columns(of.said("set-up|>stands at|>distances read|>datum height|>sigma|>datum tilt|>sigma")),
              {}};
  for (const SetUpCount& count : counts) {
    const std::optional<double> stands = stands_at(of, count.name);
    const auto* const height = of.estimate({job::UnknownOf::datum_height, count.name});
    const auto* const tilt = of.estimate({job::UnknownOf::datum_tilt, count.name});
    table.rows.push_back(
        {{count.name, stands ? of.place(*stands) : of.said("not said"), std::to_string(count.distances),
          height ? of.fine(height->value - of.mean_m) : "-", height ? of.sigma(height->sigma) : "-",
          tilt ? of.slope(tilt->value) : "-", tilt ? of.slope(tilt->sigma) : "-"}});
  }
  table.note = of.said(
      "Heights are above the run's mean height, tilts positive where the plane climbs along the run; both "
      "are unknowns of "
      "the fit, so that where a laser stood does not matter. The sigma of a datum height includes the common "
      "height.");
  of.document.add(std::move(table));
}

Table channel_table(const AsBuiltWriter& of) {
  std::vector<ChannelCount> counts;
  for (const JudgedReading& each : of.readings) {
    ChannelCount& count = count_of(counts, of.channel_name(each.reading()));
    ++count.taken;
    if (each.judgement == nullptr) {
      ++count.by_hand;
    } else if (each.used()) {
      ++count.used;
      count.worst = std::max(count.worst, std::abs(each.judgement->normalised));
    } else {
      ++count.beyond;
    }
  }
  Table table{
      of.said("Readings by channel"),
      columns(of.said(
          "channel|>taken|>used|>set aside by hand|>beyond the gate|>largest normalised residual, used")),
      {}};
  for (const ChannelCount& count : counts)
    table.rows.push_back(
        {{count.name, std::to_string(count.taken), std::to_string(count.used), std::to_string(count.by_hand),
          std::to_string(count.beyond), of.plain(count.worst, 2)}});
  table.note = of.said("Every reading with its residual is listed in the last section.");
  return table;
}

}  // namespace

void AsBuiltWriter::set_ups() {
  document.add(Heading{said("Set-ups and readings")});
  add_set_ups(*this);
  document.add(channel_table(*this));
  if (!last.booked.notes.empty()) {
    document.add(Paragraph{"", said("Notes made on the job")});
    document.add(Items{last.booked.notes});
  }
}

}  // namespace hangtrue::report
