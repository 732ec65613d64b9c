#include "firmware-host/job/doubts.hpp"

#include <algorithm>
#include <cmath>
#include <memory>

namespace hangtrue::job {

namespace {

bool same_place(double a_m, double b_m) { return std::abs(a_m - b_m) <= kSamePlaceInWalk_m; }

// Where something was read before the last movement, and not since.
std::vector<double> to_read_again(const WalkSubject& subject) {
  const auto& entries = subject.survey.entries;
  const auto counts = [&](std::size_t i) {
    return subject.judgements[i].verdict != fit::Verdict::before_movement;
  };
  std::vector<double> places;
  for (std::size_t i = 0; i < entries.size(); ++i) {
    if (counts(i) || !entries[i].mark.empty()) continue;
    bool again =
        std::any_of(places.begin(), places.end(), [&](double at) { return same_place(at, entries[i].at_m); });
    for (std::size_t k = 0; k < entries.size() && !again; ++k)
      again = counts(k) && entries[k].channel == entries[i].channel &&
              same_place(entries[k].at_m, entries[i].at_m);
    if (!again) places.push_back(entries[i].at_m);
  }
  std::sort(places.begin(), places.end());
  return places;
}

std::optional<Doubt> bearing_doubt(const SurveyFit& survey) {
  const FitReport& report = survey.report();
  if (!report.bearing_open) return std::nullopt;
  BearingIsOpen open;
  // What differs between the sets: each of these can be tried by hand.
  for (const sheet::SupportEntry& support : survey.run().supports) {
    const auto lifted = [&](const BearingOption& option) {
      return std::find(option.lifted.begin(), option.lifted.end(), support.name) != option.lifted.end();
    };
    const auto count = std::count_if(report.bearing.begin(), report.bearing.end(), lifted);
    if (count > 0 && count < std::ptrdiff_t(report.bearing.size())) open.supports.push_back(support.name);
  }
  return open;
}

// The unknown that is farthest from its prior: beyond kPriorSigmas of it; or farther than chance would bring any of the unknowns
// that were learned, by the part of the prior that was.
std::optional<Doubt> prior_doubt(const SurveyFit& survey) {
  const auto& parameters = survey.report().parameters;
  const double many = fit::beyond(int(parameters.size()));
  std::optional<PriorLeftBehind> worst;
  for (const UnknownEstimate& each : parameters) {
    const fit::Estimate<double>& known = each.estimate;
    const double plain = std::abs(known.value - known.prior_value) / known.prior_sigma;
    const double normalised = known.learned > kLearnedAtAll ? plain / std::sqrt(known.learned) : 0;
    if (plain <= kPriorSigmas && normalised <= many) continue;
    if (!worst || normalised > worst->sigmas)
      worst = PriorLeftBehind{each.id, each.found(), each.assumed(), std::max(plain, normalised)};
  }
  if (!worst) return std::nullopt;
  return *worst;
}

// Whether the readings of some unchecked channel fit nearly as well with the other sign: not worse at 99 to 1, linearised where
// the fit stands.
Result<bool, Fault> sign_is_open(const WalkSubject& subject, const std::vector<UncheckedScale>& unchecked) {
  const auto read = evidence_of(subject, [](const auto&, auto&) {});
  if (!read) return read.fault();
  for (const UncheckedScale& each : unchecked) {
    const auto swapped =
        evidence_of(subject, [&](const sheet::ReadingEntry& entry, survey::Reading<double>& reading) {
          if (entry.instrument != each.channel.instrument || entry.channel != each.channel.channel) return;
          if (reading.channel == Channel::distance)
            reading.value = -reading.value;  // the height of its datum is known to metres at best
          else
            reading.face = std::int8_t(-reading.face);
        });
    if (!swapped) return swapped.fault();
    if (read.value() - swapped.value() < kSure) return true;
  }
  return false;
}

// What was said of the end where the places begin, beside what the readings say.
std::optional<Doubt> start_doubt(const SurveyFit& survey, Mirrored mirrored) {
  const sheet::RunSheet& run = survey.run();
  const auto at_m = [&](const std::string& support) {
    return run.beam_supports[std::size_t(run.support(support))].at_m;
  };
  const auto is_far = [&](const std::string& support) { return at_m(support) > run.length_m / 2; };
  const std::optional<std::string>& told = survey.start_told();
  const bool nobody_said = told && run.support(*told) < 0;
  if (mirrored == Mirrored::fits_better) return ReadFromOtherEnd{StartDoubt::readings, {}};
  if (told && !nobody_said && is_far(*told)) return ReadFromOtherEnd{StartDoubt::told, *told};
  if (!nobody_said || mirrored != Mirrored::open) return std::nullopt;
  const auto by_place = [&](const auto& a, const auto& b) { return at_m(a.name) < at_m(b.name); };
  const auto nearest = std::min_element(run.supports.begin(), run.supports.end(), by_place);
  if (nearest == run.supports.end() || is_far(nearest->name)) return std::nullopt;  // none to ask by
  return ReadFromOtherEnd{StartDoubt::nobody_said, nearest->name};
}

// A station that is as far as can be from all that this channel has read.
std::optional<double> unread_station(const WalkSubject& subject, const ChannelId& channel) {
  std::optional<double> best;
  double farthest = kSamePlaceInWalk_m;
  for (const double station : subject.run.stations_m) {
    double nearest = subject.run.length_m;
    for (const sheet::ReadingEntry& entry : subject.survey.entries)
      if (entry.mark.empty() && entry.instrument == channel.instrument && entry.channel == channel.channel)
        nearest = std::min(nearest, std::abs(entry.at_m - station));
    if (nearest <= farthest) continue;
    farthest = nearest;
    best = station;
  }
  return best;
}

std::optional<Doubt> little_doubt(const WalkSubject& subject, const CrossCheck& checked, double spoils_m) {
  if (!checked.least || !(checked.least->unnoticed_m > spoils_m)) return std::nullopt;
  return ReadingsUnchecked{checked.least->group, checked.least->unnoticed_m, spoils_m,
                           unread_station(subject, checked.least->group.channel)};
}

}  // namespace

bool against_moves(const Doubt& doubt) {
  struct {
    bool operator()(const MovedWhileRead&) const { return true; }
    bool operator()(const BearingIsOpen&) const { return true; }
    bool operator()(const StraysComeTogether&) const { return true; }
    bool operator()(const PlaceDisagrees&) const { return true; }
    bool operator()(const ReadFromOtherEnd& doubt) const { return doubt.why != StartDoubt::nobody_said; }
    bool operator()(const ReadingsUnchecked&) const { return true; }
    bool operator()(const WalkNotClosed&) const { return false; }
    bool operator()(const ScaleNotChecked& doubt) const { return doubt.sign_open; }
    bool operator()(const PriorLeftBehind&) const { return false; }
  } against;
  return std::visit(against, doubt);
}

Result<std::vector<Doubt>, Fault> find_doubts(SurveyFit& survey, double spoils_m) {
  std::vector<Doubt> doubts;
  const FitReport& report = survey.report();
  if (report.self_test.degrees_of_freedom == 0 || report.status != fit::Status::settled) return doubts;
  const WalkSubject subject = survey.walk();
  const auto note = [&](std::optional<Doubt> doubt) {
    if (doubt) doubts.push_back(std::move(*doubt));
  };
  if (!report.movements.empty())
    if (std::vector<double> again = to_read_again(subject); !again.empty())
      doubts.push_back(MovedWhileRead{report.movements, std::move(again)});
  note(bearing_doubt(survey));
  if (std::vector<std::size_t> rows = strays_together(subject); !rows.empty())
    doubts.push_back(StraysComeTogether{std::move(rows)});
  const auto checked = cross_check(subject);
  if (!checked) return checked.fault();
  if (checked.value().off)
    doubts.push_back(PlaceDisagrees{checked.value().off->group, checked.value().off->by});
  const auto mirrored = reads_mirrored(subject);
  if (!mirrored) return mirrored.fault();
  note(start_doubt(survey, mirrored.value()));
  note(little_doubt(subject, checked.value(), spoils_m));
  const auto closing = closing_places(subject);
  if (!closing) return closing.fault();
  if (!closing.value().empty()) doubts.push_back(WalkNotClosed{closing.value()});
  if (std::vector<UncheckedScale> unchecked = survey.unchecked(); !unchecked.empty()) {
    const auto open = sign_is_open(subject, unchecked);
    if (!open) return open.fault();
    doubts.push_back(ScaleNotChecked{std::move(unchecked), open.value()});
  }
  note(prior_doubt(survey));
  return doubts;
}

}  // namespace hangtrue::job
