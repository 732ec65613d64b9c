// trend.hpp: how the level error and the supports that moved go on over three or more surveys, of one stage or of stages with the
// same supports.
//
// Model   Each survey is fitted by itself: nothing of where supports stand nor of zero errors carries over from one to the next,
//         so that their errors are as good as independent. What crept by then is in the heights. A straight line through the values: core/change/trend.hpp.
// Stages  A survey of another stage is carried over to the one that is asked for by what the loads of the two do to the run as it
//         was found; what is not known of those loads counts in its sigma.
// Units   m, days since the earlier of the two surveys that are compared; sigma is one standard deviation.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "firmware-host/job/history.hpp"

namespace hangtrue::job {

struct PointOfRun {
  double at_m = 0, across_m = 0;
};

/// What is followed: height of the run at one support less that at the engaged support farthest from it.
struct AgainstFarthestSupport {
  std::string support;
};
/// Height of the point that is highest now less that of the lowest.
struct LevelError {
  double high_at_m = 0, low_at_m = 0;
};
using TrendOf = std::variant<AgainstFarthestSupport, LevelError>;

struct Trend {
  TrendOf of;
  book::Time began{};  // of the earlier of the two surveys that are compared: where days count from
  std::vector<std::string> surveys;
  std::vector<double> days, value, sigma;
  double per_year = 0, per_year_sigma = 0;
  double p_value = 1;           // that there is no trend
  double misfit_p = 1;          // that a straight line is enough
  std::optional<double> limit;  // m
  std::string limit_stage;      // that the sheet allows it for
  bool past_limit = false;      // already
  // When the limit would be reached, in days; an absent end is "not in sight". Both absent: no crossing.
  std::optional<double> reached_from_days, reached_to_days;

  /// Whether it is told from none, and whether it goes evenly, at kRecheckConfidence.
  [[nodiscard]] bool goes() const;
  [[nodiscard]] bool goes_evenly() const;
};

/// The difference in height between two points of the run.
struct Followed {
  TrendOf of;
  PointOfRun high, low;
  std::optional<double> limit_m;
  std::string limit_stage;  // that the sheet allows it for
};
/// That of an engaged support; nothing where all stand at one place.
[[nodiscard]] std::optional<Followed> against_farthest_support(const sheet::RunSheet& run, int stage,
                                                               int support);

/// Surveys in order; `stage`: to which all are carried over.
struct TrendSurveys {
  std::vector<book::SurveyRecord> surveys;
  int stage = 0;
  book::Time began{};   // where days count from
  book::Time loaded{};  // of the history's first survey: creep counts from there
};
/// Those of `all` from one survey to another, of the later one's run sheet and of stages with its supports, with readings. Of more
/// than kMostSurveys so many, spread evenly; the first and the last are among them.
[[nodiscard]] std::vector<book::SurveyRecord> surveys_between(const sheet::RunSheet& run,
                                                              const std::vector<book::SurveyRecord>& all,
                                                              const book::SurveyRecord& from,
                                                              const book::SurveyRecord& to);
/// A trend for each that enough surveys tell of. `carried`: what the earlier survey taught; `state`: the run as it found it.
[[nodiscard]] std::vector<Trend> follow_trends(const book::Book& book, const sheet::RunSheet& run,
                                               const TrendSurveys& over, const CarriedState& carried,
                                               const beam::State<double>& state,
                                               const std::vector<Followed>& followed);

}  // namespace hangtrue::job
