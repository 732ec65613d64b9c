#include "firmware-host/job/repeats.hpp"

#include <algorithm>
#include <cmath>

#include "firmware-host/job/checks.hpp"
#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

namespace {

using Group = std::vector<const sheet::ReadingEntry*>;

bool alike(const sheet::ReadingEntry& a, const sheet::ReadingEntry& b) {
  return a.channel == b.channel && a.instrument == b.instrument && a.edge == b.edge && a.face == b.face &&
         a.set_up == b.set_up && std::abs(a.at_m - b.at_m) < kSamePlace_m;
}

// Of one channel.
struct Pool {
  ChannelId channel;
  fit::PooledScatter scatter;  // in stated sigmas
  double variances = 0;
  int readings = 0;

  void add(const Group& group) {
    double weights = 0, mean = 0, squares = 0;
    for (const sheet::ReadingEntry* each : group) {
      const double weight = 1 / (each->sigma * each->sigma);
      weights += weight;
      mean += weight * each->value;
      variances += each->sigma * each->sigma;
      ++readings;
    }
    mean /= weights;
    for (const sheet::ReadingEntry* each : group)
      squares += (each->value - mean) * (each->value - mean) / (each->sigma * each->sigma);
    scatter.add(squares, int(group.size()) - 1);
  }

  [[nodiscard]] Repeats repeats() const {
    const fit::Scatter found = scatter.scatter();
    const fit::ScatterTest test = fit::test_scatter(found, 1, kAlarmConfidence);
    const double stated = std::sqrt(variances / readings);
    return {channel,      found.groups, found.degrees_of_freedom, found.sigma * stated, stated,
            test.p_value, test.verdict};
  }
};

}  // namespace

std::vector<Repeats> pooled_repeats(std::span<const sheet::ReadingEntry> readings,
                                    std::span<const fit::Judgement<double>> judgements) {
  std::vector<Pool> pools;
  std::vector<bool> grouped(readings.size());
  for (std::size_t first = 0; first < readings.size(); ++first) {
    Group group;
    for (std::size_t i = first; i < readings.size(); ++i) {
      if (grouped[i] || judgements[i].verdict != fit::Verdict::kept || !alike(readings[first], readings[i]))
        continue;
      grouped[i] = true;
      group.push_back(&readings[i]);
    }
    if (group.size() < 2) continue;
    const ChannelId channel{group.front()->instrument, group.front()->channel};
    auto pool =
        std::find_if(pools.begin(), pools.end(), [&](const Pool& each) { return each.channel == channel; });
    if (pool == pools.end()) pool = pools.insert(pools.end(), Pool{channel, {}});
    pool->add(group);
  }
  std::vector<Repeats> repeats;
  for (const Pool& pool : pools) repeats.push_back(pool.repeats());
  return repeats;
}

}  // namespace hangtrue::job
