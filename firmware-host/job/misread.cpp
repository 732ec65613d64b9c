#include "firmware-host/job/misread.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>

#include "core/quantity/units.hpp"
#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

namespace {

using Readings = std::vector<sheet::ReadingEntry>;

/// A scale is off by this factor at most, either way: beyond inches for millimetres. No source.
constexpr double kLargestScale = 30;
/// Steps about a factor at which its evidence is looked at, one after the other. No source: the first as large as what other
/// channels leave open, the last small beside a mistake of units.
constexpr std::array kScaleSteps{0.3, 0.15, 0.06, 0.02};

class Mistakes {
 public:
  Mistakes(const sheet::RunSheet& run, SurveyFit& session, const Readings& entries, const FitAnew& anew)
      : run_(run),
        stage_(session.stage()),
        entries_(entries),
        anew_(anew),
        judged_(session.report().judgements),
        as_it_is_(session.fitted().log_evidence(judged_)) {}

  std::vector<Misread> likely() {
    try_stages();
    std::vector<ChannelId> channels;
    for (const sheet::ReadingEntry& each : entries_)
      if (std::find(channels.begin(), channels.end(), channel_of(each)) == channels.end())
        channels.push_back(channel_of(each));
    for (const ChannelId& channel : channels) {
      if (channel.channel != Channel::distance) try_faces(channel);
      try_scale(channel);
      try_rough(channel);
    }
    if (channels.size() > 1) try_rough({});
    return weighed();
  }

 private:
  static ChannelId channel_of(const sheet::ReadingEntry& entry) { return {entry.instrument, entry.channel}; }
  // A channel without an instrument stands for all.
  static bool is_of(const sheet::ReadingEntry& entry, const ChannelId& channel) {
    return channel.instrument.empty() || channel_of(entry) == channel;
  }
  template <class Change>
  [[nodiscard]] Readings changed(const ChannelId& channel, const Change& change) const {
    Readings result = entries_;
    for (sheet::ReadingEntry& each : result)
      if (is_of(each, channel)) change(each);
    return result;
  }

  // ln of how much likelier than as it is; none where it cannot be fitted.
  [[nodiscard]] std::optional<double> ln_weight(const Readings& entries, int stage) const {
    const auto session = anew_(entries, stage);
    if (!session->fit().ok()) return std::nullopt;
    return session->fitted().log_evidence(session->report().judgements) - as_it_is_;
  }
  void attempt(Misread misread, const Readings& entries, int stage, double ln_cost) {
    const auto weight = ln_weight(entries, stage);
    if (!weight) return;
    tried_.push_back(std::move(misread));
    ln_weights_.push_back(*weight - ln_cost);
  }

  void try_stages() {
    for (int stage = 0; stage < int(run_.stages.size()); ++stage)
      if (stage != stage_ &&
          run_.beam_stages[std::size_t(stage)].supports == run_.beam_stages[std::size_t(stage_)].supports)
        attempt({MisreadKind::other_stage, run_.stages[std::size_t(stage)], {}}, entries_, stage, 0);
  }

  void try_faces(const ChannelId& channel) {
    attempt({MisreadKind::never_turned, "", channel},
            changed(channel, [](sheet::ReadingEntry& each) { each.face = 1; }), stage_, 0);
    attempt({MisreadKind::faces_exchanged, "", channel},
            changed(channel, [](sheet::ReadingEntry& each) { each.face *= -1; }), stage_, 0);
  }

  void try_rough(const ChannelId& channel) {
    double squares = 0;
    int count = 0;
    for (std::size_t i = 0; i < entries_.size(); ++i) {
      if (!is_of(entries_[i], channel)) continue;
      squares += std::pow(judged_[i].residual / entries_[i].sigma, 2);
      ++count;
    }
    const double factor = std::sqrt(squares / count);
    if (!(factor > 1)) return;
    const MisreadKind kind = channel.instrument.empty() ? MisreadKind::all_rough : MisreadKind::rough;
    attempt({kind, "", channel, factor},
            changed(channel, [&](sheet::ReadingEntry& each) { each.sigma *= factor; }), stage_,
            count * std::log(factor));
  }

  // Readings and their sigma by one over the factor: what is likely of them does not change by the units that they are told in.
  [[nodiscard]] Readings scaled(const ChannelId& channel, double factor) const {
    return changed(channel, [&](sheet::ReadingEntry& each) {
      each.value /= factor;
      each.sigma /= std::abs(factor);
    });
  }

  // The factor by what the other channels say, then three fits about it, again and again, whose evidence is a parabola near its top.
  void try_scale(const ChannelId& channel) {
    const auto begin = factor_by_the_others(channel);
    if (!begin) return;
    constexpr double kFar = 2;  // steps; a parabola holds near its top alone
    double factor = *begin, sigma = 0;
    for (const double step : kScaleSteps) {
      const auto low = ln_weight(scaled(channel, factor * (1 - step)), stage_),
                 middle = ln_weight(scaled(channel, factor), stage_),
                 high = ln_weight(scaled(channel, factor * (1 + step)), stage_);
      if (!low || !middle || !high) return;
      const double bend = 2 * *middle - *low - *high;
      const double top = bend > 0 ? (*high - *low) / (2 * bend) : *high > *low ? kFar : -kFar;
      factor *= 1 + std::clamp(top, -kFar, kFar) * step;
      if (!(bend > 0)) continue;
      sigma = step / std::sqrt(bend);
    }
    if (!(sigma > 0)) return;
    if (factor < 0 && channel.channel != Channel::distance) return;  // as faces exchanged
    const double choice = std::sqrt(2 * kPi) * sigma / (2 * std::log(kLargestScale));
    attempt({MisreadKind::scale, "", channel, factor}, scaled(channel, factor), stage_,
            -std::log(std::min(choice, 1.0)));
  }

  // A straight line of its readings against what all else says of them, by set-up, since each has a height of its own.
  [[nodiscard]] std::optional<double> factor_by_the_others(const ChannelId& channel) const {
    constexpr double kAside = 1e3;  // times sigma: it has no say
    const Readings without = changed(channel, [&](sheet::ReadingEntry& each) { each.sigma *= kAside; });
    const auto session = anew_(without, stage_);
    if (!session->fit().ok()) return std::nullopt;
    const auto& judged = session->report().judgements;
    struct Sums {
      double count = 0, said = 0, read = 0;
    };
    std::map<std::string, Sums> means;
    const auto each_reading = [&](const auto& use) {
      for (std::size_t i = 0; i < entries_.size(); ++i)
        if (is_of(entries_[i], channel))
          use(entries_[i].set_up, entries_[i].value - judged[i].residual, entries_[i].value);
    };
    each_reading([&](const std::string& set_up, double said, double read) {
      Sums& sums = means[set_up];
      sums.count += 1;
      sums.said += said;
      sums.read += read;
    });
    double squares = 0, products = 0;
    each_reading([&](const std::string& set_up, double said, double read) {
      const Sums& sums = means[set_up];
      const double of_said = said - sums.said / sums.count;
      squares += of_said * of_said;
      products += of_said * (read - sums.read / sums.count);
    });
    const double factor = products / squares;
    if (!std::isfinite(factor) || std::abs(factor) > kLargestScale || std::abs(factor) < 1 / kLargestScale)
      return std::nullopt;
    return factor;
  }

  std::vector<Misread> weighed() {
    double most = 0;
    for (const double each : ln_weights_) most = std::max(most, each);
    double sum = std::exp(-most);
    for (const double each : ln_weights_) sum += std::exp(each - most);
    for (std::size_t k = 0; k < tried_.size(); ++k) tried_[k].weight = std::exp(ln_weights_[k] - most) / sum;
    std::erase_if(tried_, [](const Misread& each) { return each.weight < kAsLikely; });
    std::stable_sort(tried_.begin(), tried_.end(),
                     [](const Misread& a, const Misread& b) { return a.weight > b.weight; });
    return std::move(tried_);
  }

  const sheet::RunSheet& run_;
  int stage_;
  const Readings& entries_;
  const FitAnew& anew_;
  std::vector<fit::Judgement<double>> judged_;
  double as_it_is_;
  std::vector<Misread> tried_;
  std::vector<double> ln_weights_;
};

}  // namespace

std::vector<Misread> likely_misreadings(const sheet::RunSheet& run, SurveyFit& session,
                                        const std::vector<sheet::ReadingEntry>& entries,
                                        const FitAnew& anew) {
  return Mistakes(run, session, entries, anew).likely();
}

}  // namespace hangtrue::job
