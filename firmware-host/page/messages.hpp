// messages.hpp: what daemon and page say to each other. Written once, here: json/described.hpp makes JSON of these, page_types the
// page's TypeScript types (source/messages.ts) of the same descriptions, and a test sees that the two agree.
//
// From the daemon   frames: {"work": {...}, "live": {...}}, the topics of Topics that are new to this phone, each whole; and
//                   {"answer": {...}} to what it asked. A new or returning phone gets every topic at once.
// From a phone      one Asked a frame.
// Words             everything that ends in words is for people, in site units, and is shown as it is; the page reads no number
//                   and no direction out of it. Numbers are SI: metres, radians; signs as in core/beam/run.hpp. "not a number"
//                   is null. An enumerated value is its name, with spaces: "near left".
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include <boost/describe/class.hpp>
#include <boost/describe/enum.hpp>

#include "core/adjust/problem.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue {

namespace beam {
BOOST_DESCRIBE_ENUM(Holds, both, push, pull)
}
namespace sheet {
BOOST_DESCRIBE_ENUM(AdjustBy, nothing, shims, rod, lift)
}
namespace adjust {
BOOST_DESCRIBE_ENUM(Where, whole, near, far, left, right, near_left, near_right, far_left, far_right)
}

}  // namespace hangtrue

namespace hangtrue::page {

using adjust::Where;
using beam::Holds;
using sheet::AdjustBy;

// ---- job: the sheets; changes only when the daemon is started anew -------------------------------------------------

struct Station {
  int number = 0;  // from 1
  double at_m = 0;
  std::string at;  // "1200 mm"
};
BOOST_DESCRIBE_STRUCT(Station, (), (number, at_m, at))

/// A stable mark off the run; only distances are read there.
struct StableMark {
  std::string name;
  double at_m = 0;
  std::string at;
};
BOOST_DESCRIBE_STRUCT(StableMark, (), (name, at_m, at))

struct Support {
  std::string name;
  double at_m = 0;
  double across = 0;  // share of half the width: 1 at the left edge, -1 at the right one
  std::string at;
  Holds holds = Holds::both;
  AdjustBy adjust = AdjustBy::nothing;
};
BOOST_DESCRIBE_STRUCT(Support, (), (name, at_m, across, at, holds, adjust))

/// For axes alone: a height of 0.001 m is 0.001 * heights_per_m `height`s.
struct Units {
  std::string height, place, slope;  // "mm", "mm", "mm/m"; "in", "in", "in/ft"
  double heights_per_m = 0, places_per_m = 0, slopes_per_rad = 0;
};
BOOST_DESCRIBE_STRUCT(Units, (), (height, place, slope, heights_per_m, places_per_m, slopes_per_rad))

struct Job {
  std::string build;  // of the page's own files: a page that came with another one loads itself anew
  std::string begun;  // when the daemon was started: another one knows nothing of what this one was asked
  std::string title;
  double length_m = 0;
  std::vector<Station> stations;
  std::vector<StableMark> marks;
  std::vector<Support> supports;
  std::vector<std::string> stages;
  std::string finished_stage;
  double tolerance_m = 0;
  std::string tolerance;   // "1.500 mm"
  std::string confidence;  // "95 %"
  Units units;
  std::vector<std::string> cautions;  // one sentence each
  std::string language;               // of the page's texts: "en", "de"
};
BOOST_DESCRIBE_STRUCT(Job, (),
                      (build, begun, title, length_m, stations, marks, supports, stages, finished_stage,
                       tolerance_m, tolerance, confidence, units, cautions, language))

// ---- work: where the work stands ------------------------------------------------------------------------------------

struct Advice {  // the reading that would teach most
  int station = 0;
  std::string at, instrument, channel, edge;  // channel: "slope", "roll", "distance"
  int face = 1;
  std::string words;
};
BOOST_DESCRIBE_STRUCT(Advice, (), (station, at, instrument, channel, edge, face, words))

/// The place of the plan that comes next, and how many of its places are read. "go on" goes there.
struct Walk {
  int read = 0, places = 0;
  std::string at;    // "1200 mm", "mark column"; empty: all are read
  std::string edge;  // "left", "middle", "right"; of a mark empty
  std::string mark;
  std::optional<int> station;
};
BOOST_DESCRIBE_STRUCT(Walk, (), (read, places, at, edge, mark, station))

struct Work {
  std::int64_t revision = 0;   // of everything that commands change; see Asked
  std::optional<int> station;  // where the walking instruments stand; null: not said yet
  std::string mark;            // the stable mark that the laser is held at instead, or empty
  std::string at;              // "1200 mm", "mark column", or empty
  int face = 1;                // 1, or -1 for face 2
  std::string edge;            // "left", "middle", "right", or "as in the kit sheet"
  std::string set_up;
  std::string laser_at;  // where the laser stands in that set-up, where that was said
  std::string stage;
  std::string survey;
  std::string called, read_by, checked_by;       // the survey and its persons; empty: not said
  std::vector<std::string> supports;             // that this stage lists
  bool has_slope = false, has_distance = false;  // what the walking instruments give; slope: slope or roll
  std::string doing;                             // "take", "take fixed", "next", or empty
  std::string waits_for;                         // of that: what has not settled
  std::optional<Advice> next;                    // none while nothing can be advised
  std::optional<Walk> walk;                      // none: there is no plan
  bool moving = false;  // moves of the card are being made: nothing is read until "read again" (or "give up")
  std::string notice;   // what the person must say again, after the daemon was started anew
  std::string trouble;  // the book cannot be written
  std::string trouble_fit;  // there is no fit, and why
};
BOOST_DESCRIBE_STRUCT(Work, (),
                      (revision, station, mark, at, face, edge, set_up, laser_at, stage, survey, called,
                       read_by, checked_by, supports, has_slope, has_distance, doing, waits_for, next, walk,
                       moving, notice, trouble, trouble_fit))

// ---- live: what the instruments give now ----------------------------------------------------------------------------

/// Slope and roll are of the run, whichever way round the instrument stands: corrected by what is known of its zero error.
struct LiveChannel {
  std::string gives;            // "slope", "roll", "distance", "temperature"
  std::optional<double> value;  // SI; null: nothing has come
  std::string number, unit;     // "+0.42", "mm/m"
  std::string sigma;            // of it, in words: "0.03 mm/m"; empty: not told
  bool corrected = true;        // false: the zero error may be in it
  std::string reads;            // what the instrument itself shows, in words, where that differs
  int leans = 0;  // 1, -1: which end or edge is high, beyond what is not known; 0: that cannot be told
  bool settled = false;
  std::string verdict;  // "settled", "still moving", "never seen" ...
  std::string says;     // the verdict as a sentence's end, with its numbers
  std::string edge;
  std::optional<double> stays_at_m;  // of an instrument that stays; null: it walks
};
BOOST_DESCRIBE_STRUCT(LiveChannel, (),
                      (gives, value, number, unit, sigma, corrected, reads, leans, settled, verdict, says,
                       edge, stays_at_m))

struct LiveInstrument {
  std::string name;
  std::string state, says;  // a word that names its state ("well", "silent" ...), and a sentence
  bool speaks = false;
  std::vector<LiveChannel> channels;
};
BOOST_DESCRIBE_STRUCT(LiveInstrument, (), (name, state, says, speaks, channels))

struct Live {
  std::vector<LiveInstrument> instruments;
};
BOOST_DESCRIBE_STRUCT(Live, (), (instruments))

// ---- readings: of this survey ---------------------------------------------------------------------------------------

struct BookedReading {
  std::int64_t entry = 0;
  int take = 0;  // readings of one take have the same, from 1
  std::string time, instrument, channel;
  std::optional<int> station;
  std::string mark;  // a stable mark that was read instead, or empty
  double at_m = 0;
  std::string at;  // "1200 mm", "mark column"
  int face = 1;
  std::string edge, set_up;
  std::string value, sigma;
  std::string residual;  // as fitted; empty: no fit
  bool kept = true;      // false: set aside by a person
  bool fits = true;      // false: the fit sets it aside
  std::string reason;    // of either, or of a correction
};
BOOST_DESCRIBE_STRUCT(BookedReading, (),
                      (entry, take, time, instrument, channel, station, mark, at_m, at, face, edge, set_up,
                       value, sigma, residual, kept, fits, reason))

struct Readings {
  std::vector<BookedReading> readings;  // in the order in which they were taken
  std::string last;                     // what the last take that counts brought, or empty
  std::string last_place;               // of it, "1200 mm, face 2"
};
BOOST_DESCRIBE_STRUCT(Readings, (), (readings, last, last_place))

// ---- run: the shape -------------------------------------------------------------------------------------------------

/// Heights are of the reference line, less their mean over the stations; finished ones of the edges, likewise.
struct ShapeAt {
  int number = 0;  // of the station, from 1
  double at_m = 0;
  std::string at;
  double predicted_m = 0, height_m = 0, sigma_m = 0;
  double predicted_roll = 0, roll = 0, roll_sigma = 0;
  double left_before_m = 0, right_before_m = 0, left_after_m = 0, right_after_m = 0;  // finished
  // The same in words.
  std::string predicted, height, sigma, roll_words, roll_sigma_words, left_before, right_before, left_after,
      right_after;
};
BOOST_DESCRIBE_STRUCT(ShapeAt, (),
                      (number, at_m, at, predicted_m, height_m, sigma_m, predicted_roll, roll, roll_sigma,
                       left_before_m, right_before_m, left_after_m, right_after_m, predicted, height, sigma,
                       roll_words, roll_sigma_words, left_before, right_before, left_after, right_after))

/// A reading as it lies beside the fitted shape.
struct Mark {
  std::int64_t entry = 0;
  double at_m = 0;
  std::string channel, edge;
  double height_m = 0;  // of the reference line there, as fitted; a distance: what this reading says instead
  double slope = 0;     // a slope: what this reading says
  double roll = 0;      // a roll: what this reading says
  double sigma = 0;     // of the reading, m or rad
  bool fits = true;
  std::string words;
};
BOOST_DESCRIBE_STRUCT(Mark, (), (entry, at_m, channel, edge, height_m, slope, roll, sigma, fits, words))

struct Cause {
  std::string chance, words;
};
BOOST_DESCRIBE_STRUCT(Cause, (), (chance, words))

struct Learned {
  std::string name, value, sigma,
      learned;  // learned: share of the prior variance that the readings took away, "85 %"
};
BOOST_DESCRIBE_STRUCT(Learned, (), (name, value, sigma, learned))

struct Run {
  bool measured = false;   // false: what is shown was assumed
  bool holds = false;      // the fit's test of itself
  std::string test;        // in words
  bool has_moves = false;  // the finished shape after the card differs from the one before
  std::vector<ShapeAt> stations;
  std::vector<Mark> marks;
  std::string tilt, sag, sag_to_come;  // in words: end to end, largest, largest of what later stages add
  std::vector<Cause> causes;           // only where the fit does not hold
  std::vector<Learned> learned;
  std::vector<std::string> warnings;
};
BOOST_DESCRIBE_STRUCT(Run, (),
                      (measured, holds, test, has_moves, stations, marks, tilt, sag, sag_to_come, causes,
                       learned, warnings))

// ---- card -----------------------------------------------------------------------------------------------------------

struct Piece {
  Where where = Where::whole;
  double thickness_m = 0;
  std::string name;  // from the stock: "1 mm", "1/16 in"
  int count = 0;
};
BOOST_DESCRIBE_STRUCT(Piece, (), (where, thickness_m, name, count))

struct Move {
  int order = 0;
  std::string support;
  AdjustBy by = AdjustBy::nothing;
  double rise_m = 0, pitch_rad = 0, roll_rad = 0;
  std::string does;               // the same in words: "rise 2.50 mm, pitch 1.20 mm/m"
  std::vector<Piece> pieces;      // of shims; none: take none
  double turns = 0;               // of a rod, up positive
  std::string turns_words;        // "1 1/4 turns up"
  std::string slacken;            // a sentence
  std::string keep;               // a sentence: what stays propped
  std::vector<std::string> then;  // what it does to other supports
  std::string when_stage;         // made only when that stage begins, or empty
  std::string level_after;        // finished level error if the work stopped there
  bool made = false;
};
BOOST_DESCRIBE_STRUCT(Move, (),
                      (order, support, by, rise_m, pitch_rad, roll_rad, does, pieces, turns, turns_words,
                       slacken, keep, then, when_stage, level_after, made))

/// After "read again": what the former survey's card promised, and what this one finds.
struct Compared {
  std::string survey;                                        // the former one
  std::string promised, promised_sigma, found, found_sigma;  // finished level error
  bool agrees = false;
  std::string words;  // one sentence
};
BOOST_DESCRIBE_STRUCT(Compared, (), (survey, promised, promised_sigma, found, found_sigma, agrees, words))

/// Level error, finished and loaded; in words "-" where there is none.
struct LevelError {
  std::optional<double> error_m, sigma_m;
  std::string error, sigma;
  std::string chance;  // to be within the tolerance
};
BOOST_DESCRIBE_STRUCT(LevelError, (), (error_m, sigma_m, error, sigma, chance))

/// What a person settles by hand and says.
struct HandAnswer {
  std::string says, command;
};
BOOST_DESCRIBE_STRUCT(HandAnswer, (), (says, command))
struct HandQuestion {
  std::string asks;  // one sentence
  std::vector<HandAnswer> answers;
};
BOOST_DESCRIBE_STRUCT(HandQuestion, (), (asks, answers))

/// Where an instrument sees most of the move that comes next.
struct Stand {
  int order = 0;    // of the move
  int station = 0;  // from 1
  std::string at, edge, instrument;
};
BOOST_DESCRIBE_STRUCT(Stand, (), (order, station, at, edge, instrument))

struct Card {
  // In the book, once it was asked for ("card"); 0: not yet, it changes with every reading.
  std::int64_t entry = 0;
  bool enough = false;     // enough is read for an answer; false: no verdict is shown, but what is missing
  std::string missing;     // where not: what would be too uncertain, and what to read next
  std::string hold_point;  // "shim first", "read again", "shims cannot", "ready to bolt"; empty: no card
  bool begun = false;      // its moves are being made: it does not change any more
  std::string says;        // what that means to do, one sentence
  std::string reason;      // with the numbers behind it; or why there is no card
  std::string moves_are;   // the heading over the moves: how far they can be trusted
  bool trusted = false;    // the moves may be made
  std::vector<Move> moves;
  LevelError before, after;
  std::vector<std::string> advice;
  std::vector<HandQuestion> questions;  // that stand in the way of the answer
  std::vector<std::string> troubles;    // supports that read unloaded or over their rating
  std::optional<Compared> compared;
  std::optional<Stand> stand;  // only while moves are being made
};
BOOST_DESCRIBE_STRUCT(Card, (),
                      (entry, enough, missing, hold_point, begun, says, reason, moves_are, trusted, moves,
                       before, after, advice, questions, troubles, compared, stand))

// ---- watch: a move or a load that is made under the eyes of the instruments -----------------------------------------

struct Watched {
  std::string name, at;
  std::string now, must_read, band;  // as of the run; must_read +- band when it is done
};
BOOST_DESCRIBE_STRUCT(Watched, (), (name, at, now, must_read, band))

struct Watch {
  std::string what;          // "move 2: east rod, rise 1.75 mm"; empty: nothing is watched
  std::optional<int> order;  // of a move
  std::string verdict;       // "on the way", "done", "too far", "wrong way", "stop"; empty: nothing seen yet
  std::string says;          // one sentence of what to do
  std::string silent;        // what nothing comes from any more
  bool stop_said = false;    // since it began
  double share = 0;          // of the way, 0 ... 1
  std::string turns_to_go;   // of a rod: "1/2 turn up"
  std::vector<Watched> channels;
};
BOOST_DESCRIBE_STRUCT(Watch, (),
                      (what, order, verdict, says, silent, stop_said, share, turns_to_go, channels))

// ---- kit ------------------------------------------------------------------------------------------------------------

struct KitInstrument {
  std::string name, port, speaks;   // speaks: "xdr", "modbus", "line"
  std::string gives;                // "slope, roll"
  std::string calibration;          // one sentence
  std::vector<std::string> checks;  // the last of each channel in the book, one sentence each
  bool can_zero = false, can_datum = false;
  bool can_scale_piece = false, can_scale_places = false;  // the guided check of scale, unit and sign
  bool has_roll = false;  // a piece then needs the distance between its feet across the run
};
BOOST_DESCRIBE_STRUCT(KitInstrument, (),
                      (name, port, speaks, gives, calibration, checks, can_zero, can_datum, can_scale_piece,
                       can_scale_places, has_roll))

/// A guided check under way.
struct Guide {
  std::string instrument, what;  // "zero", "datum", "scale"
  int step = 0, steps = 0;       // from 1
  std::string instruction;
  bool in_doubt = false;           // it is done and waits for "keep" or "give up"
  std::vector<std::string> found;  // what it found
};
BOOST_DESCRIBE_STRUCT(Guide, (), (instrument, what, step, steps, instruction, in_doubt, found))

struct Kit {
  std::vector<KitInstrument> instruments;
  std::optional<Guide> check;
  std::vector<std::string> last_check;  // what the last check that ended found
  std::vector<std::string> warnings;
};
BOOST_DESCRIBE_STRUCT(Kit, (), (instruments, check, last_check, warnings))

// ---- record ---------------------------------------------------------------------------------------------------------

struct Survey {
  std::string id, stage, begun;
  int kept = 0, set_aside = 0, moves = 0;
  bool open = false;
};
BOOST_DESCRIBE_STRUCT(Survey, (), (id, stage, begun, kept, set_aside, moves, open))

struct Seal {
  std::int64_t number = 0;
  std::string code, time;  // "ABCD-EFGH-IJKL-MNOP"
};
BOOST_DESCRIBE_STRUCT(Seal, (), (number, code, time))

struct Record {
  std::string book;
  std::vector<Survey> surveys;  // the last first
  std::vector<Seal> seals;      // the last first
};
BOOST_DESCRIBE_STRUCT(Record, (), (book, surveys, seals))

// ---- recheck: this survey against an earlier one; only where it was asked for ---------------------------------------

struct ChangedAt {  // heights less a common one where no stable mark ties the two surveys
  double at_m = 0;
  std::string at;
  double from_m = 0, to_m = 0, change_m = 0, sigma_m = 0;
  std::string from, to, change, sigma;  // the same in words
};
BOOST_DESCRIBE_STRUCT(ChangedAt, (), (at_m, at, from_m, to_m, change_m, sigma_m, from, to, change, sigma))

struct Moved {
  std::string words;    // one sentence
  std::string or_else;  // what would explain as well, or empty
};
BOOST_DESCRIBE_STRUCT(Moved, (), (words, or_else))

struct ChangeSeen {
  std::string name, value, sigma,
      smallest;  // that this pair of surveys could have shown; all but the name empty: it cannot be seen
  std::string chance;  // that such comes by chance alone, for looking at so many
};
BOOST_DESCRIBE_STRUCT(ChangeSeen, (), (name, value, sigma, smallest, chance))

struct Recheck {
  std::string from, to;  // surveys
  std::string from_time, to_time;
  std::string answer;   // "nothing moved", "moved", "moved somehow", "cannot tell"; empty: `trouble` says why
  std::string says;     // the answer in one or two sentences, with its numbers
  std::string trouble;  // why they cannot be compared
  bool heights_compared = false;   // else only shapes
  std::vector<std::string> marks;  // that tie the two
  std::vector<Moved> causes;
  std::string drift_verdict,
      drift;  // "as expected", "less", "more", "cannot tell", empty where none is; in words
  std::vector<std::string> drift_reasons;
  std::string level_from, level_to, level_sigma;  // level error, as it stands
  std::vector<ChangedAt> stations;
  std::vector<ChangeSeen> seen;
  std::vector<std::string> trends, cannot_be_told_apart, remarks;
};
BOOST_DESCRIBE_STRUCT(Recheck, (),
                      (from, to, from_time, to_time, answer, says, trouble, heights_compared, marks, causes,
                       drift_verdict, drift, drift_reasons, level_from, level_to, level_sigma, stations, seen,
                       trends, cannot_be_told_apart, remarks))

// ---- clock ------------------------------------------------------------------------------------------------------------

/// The daemon's own, several times a second: a page learns from it how far its own is from that one.
struct Clock {
  std::int64_t now_ms = 0;  // monotonic, from any beginning
};
BOOST_DESCRIBE_STRUCT(Clock, (), (now_ms))

// ---- frames ---------------------------------------------------------------------------------------------------------

/// To what a phone asked.
struct Answer {
  std::int64_t id = 0;
  bool done = false;  // false: refused
  std::string words;
};
BOOST_DESCRIBE_STRUCT(Answer, (), (id, done, words))

/// A frame from the daemon has any of these.
struct Topics {
  std::optional<Job> job;
  std::optional<Work> work;
  std::optional<Live> live;
  std::optional<Watch> watch;
  std::optional<Readings> readings;
  std::optional<Run> run;
  std::optional<Card> card;
  std::optional<Kit> kit;
  std::optional<Record> record;
  std::optional<Recheck> recheck;
  std::optional<Clock> clock;
  std::optional<Answer> answer;
};
BOOST_DESCRIBE_STRUCT(Topics, (),
                      (job, work, live, watch, readings, run, card, kit, record, recheck, clock, answer))

/// `command`: as on the daemon's standard input (commands.hpp). `seen`: Work::revision as the person saw it; a command that
/// changes anything is refused when that is not the latest, so that two people acting at once cannot contradict each other.
/// `pressed_ms`: when, on the daemon's clock (Clock); refused more than 2 s later. Without it, that of its arrival.
/// `page`: any name of the page's own, at most kLongestPageName bytes. What a named page asks with an id that it has used before
/// is that same question, asked again since its connection broke: it is not obeyed twice, and its answer comes here.
struct Asked {
  std::int64_t id = 0;
  std::string command;
  std::int64_t seen = 0;
  std::optional<std::int64_t> pressed_ms;
  std::optional<std::string> page;
};
BOOST_DESCRIBE_STRUCT(Asked, (), (id, command, seen, pressed_ms, page))
inline constexpr std::size_t kLongestPageName = 64;

}  // namespace hangtrue::page
