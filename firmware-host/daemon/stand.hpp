// stand.hpp: where the walking instruments stand, which way round, and which set-up of the laser counts.
//
// Said      by a person, or told by an instrument; the last word counts. Where the two differ it is told as a warning, and
//           kept as a notice for the page until a station is said.
// Answers   each command is answered with where everything stands now ("here"), or refused with what would be right.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/quantity/result.hpp"
#include "core/survey/reading.hpp"
#include "firmware-host/daemon/answer.hpp"
#include "firmware-host/daemon/commands.hpp"
#include "firmware-host/daemon/instruments.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/daemon/survey_log.hpp"
#include "firmware-host/job/plan.hpp"

namespace hangtrue::daemon {

/// Where the walking instruments stand.
struct Place {
  std::optional<double> at_m;  // none until it was said: no reading without a place
  std::string mark;            // a stable mark, which is there; only distances are read at it
  bool told = false;           // by an instrument, not by a person
  int face = 1;
  std::optional<survey::Edge> edge;  // none: as each channel's kit sheet has it
  std::string set_up = "1";
  std::optional<double> laser_at_m;  // of that set-up; none: not said
  bool set_up_noted = false;         // in the book, for this survey
};

/// A place on the run, or a mark and where that is.
struct Spot {
  double at_m = 0;
  std::string mark;
};
/// That of a listed station or a mark, or why it is none.
[[nodiscard]] Result<Spot, Told> spot_of(const Sheets& sheets, const GoToStation& where);

class Stand {
 public:
  /// The log has begun; both must outlive it.
  Stand(const Sheets& sheets, SurveyLog& log) : sheets_(sheets), log_(log) {}

  [[nodiscard]] Answer go_to(const GoToStation& where, const Instruments& instruments);
  /// To a stop of a plan: its place, and its edge.
  [[nodiscard]] Answer go_to(const job::PlanStop& stop, const Instruments& instruments);
  [[nodiscard]] Answer turn(const TurnFace& face);
  [[nodiscard]] Answer choose(const ChooseEdge& edge);
  /// Notes the set-up in the book where it is another, or stands elsewhere.
  [[nodiscard]] Answer place(const PlaceSetUp& set_up);
  [[nodiscard]] Answer here() const;

  /// An instrument tells its station, counted from 0. A sentence where a person had said another place.
  [[nodiscard]] std::optional<std::string> told(const std::string& instrument, std::size_t station);
  /// At the beginning of a survey, or where one is gone on with: the set-up that the book has, and face and edge of the last
  /// reading. A person has to say where the instruments stand.
  void from_book(const std::vector<book::BookedReading>& readings, const book::SetUp& set_up);
  void set_up_is_noted() { place_.set_up_noted = true; }

  [[nodiscard]] const Place& now() const { return place_; }
  [[nodiscard]] bool is_at(const job::PlanStop& stop) const;
  /// What a person must look at or say, or nothing.
  [[nodiscard]] const Told& notice() const { return notice_; }
  /// "left", or "as in the kit sheet" where its channels stand at different ones.
  [[nodiscard]] std::string edge_word() const;
  /// "1200 mm, face 1, edge left, set-up 1".
  [[nodiscard]] Told words() const;

 private:
  [[nodiscard]] std::string edge_words(sheet::Show show) const;
  /// The notice that an instrument tells another place, which it is from now on.
  const std::string& differ(const std::string& instrument, double tells_m, const Told& how);

  const Sheets& sheets_;
  SurveyLog& log_;
  Place place_;
  Told notice_;
};

}  // namespace hangtrue::daemon
